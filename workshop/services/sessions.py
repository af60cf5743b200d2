"""Where somebody is signed in: each session with its device, and how long it may last."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from django.conf import settings
from django.contrib.auth import SESSION_KEY
from django.contrib.sessions.models import Session
from django.utils import timezone
from django.utils.translation import gettext as _

from workshop.models import Person
from workshop.session_store import kept_as
from workshop.sign_in_limits import client_address

BEGAN, SEEN, DEVICE, ADDRESS = "began_at", "seen_at", "device", "address"
# The paired phone on which a session began; elsewhere it is worth nothing.
ON_PHONE = "phone"
# Written down at most once a minute, or every look at a page would write to the database.
SEEN_EVERY_S = 60
# Clocks of honest machines are put right by less than this.
CLOCK_SLACK_S = 5 * 60

SYSTEMS = (
    *(("Android", "Android"), ("iPhone", "iPhone"), ("iPad", "iPad"), ("CrOS", "ChromeOS")),
    *(("Windows", "Windows"), ("Mac OS X", "macOS"), ("Linux", "Linux")),
)
BROWSERS = (
    *(("Edg/", "Edge"), ("OPR/", "Opera"), ("SamsungBrowser/", "Samsung Internet")),
    *(("Firefox/", "Firefox"), ("Chrome/", "Chrome"), ("Safari/", "Safari")),
)


@dataclass(frozen=True)
class SignedIn:
    """One place where a person is signed in."""

    mark: str
    """Names the session by what the database keeps of its key, which opens nothing."""
    device: str
    address: str
    began_at: datetime | None
    seen_at: datetime | None
    current: bool


def device_words(user_agent: str) -> str:
    """A browser's own name of itself in a few words, such as “Firefox, Android”."""
    found = [
        next((name for sign, name in kinds if sign in user_agent), "")
        for kinds in (BROWSERS, SYSTEMS)
    ]
    return ", ".join(word for word in found if word) or str(_("unknown device"))


def begin_session(request: Any) -> None:
    """Note in a new session when it began and on which device."""
    now = timezone.now().timestamp()
    request.session[BEGAN] = request.session[SEEN] = now
    request.session[DEVICE] = device_words(request.META.get("HTTP_USER_AGENT", ""))
    request.session[ADDRESS] = client_address(request)
    request.session[ON_PHONE] = phone_of_request(request)


def phone_of_request(request: Any) -> int | None:
    """The paired phone that a request came from; None at the desk itself and on a server."""
    phone = getattr(request, "phone", None)
    return phone.pk if phone else None


def end_sessions_on_phone(phone: int) -> None:
    """Sign everybody out on one phone."""
    for session, said in list(_sessions()):
        if said.get(ON_PHONE) == phone:
            session.delete()


def why_over(session: Any, now_s: float) -> str:
    """A sentence if a session has lasted too long or lain idle, else nothing."""
    began, seen = session.get(BEGAN), session.get(SEEN)
    if began is None or seen is None:
        return _("Sign in once more.")
    if began > now_s + CLOCK_SLACK_S or seen > now_s + CLOCK_SLACK_S:
        return _("This computer’s clock was set back, so please sign in again.")
    if now_s - began > settings.SESSION_HOURS * 3600:
        return _("It is a new day’s work: please sign in again.")
    if now_s - seen > settings.SESSION_IDLE_MINUTES * 60:
        return _("Nobody was at this screen for a while, so please sign in again.")
    return ""


def note_seen(session: Any, now_s: float) -> None:
    """Remember that somebody is there, at most once a minute."""
    if now_s - session[SEEN] >= SEEN_EVERY_S:
        session[SEEN] = now_s


def signed_in_places(person: Person, current_key: str | None) -> list[SignedIn]:
    """Everywhere a person is signed in, this place first, then the latest seen (1 query)."""
    current = kept_as(current_key or "")
    places = [
        SignedIn(
            mark=session.session_key,
            device=said.get(DEVICE, ""),
            address=said.get(ADDRESS, ""),
            began_at=_moment(said.get(BEGAN)),
            seen_at=_moment(said.get(SEEN)),
            current=session.session_key == current,
        )
        for session, said in _sessions_of(person)
        if not why_over(said, timezone.now().timestamp())
    ]
    return sorted(places, key=lambda place: (not place.current, -_when(place)))


def _when(place: SignedIn) -> float:
    latest = place.seen_at or place.began_at
    return latest.timestamp() if latest else 0.0


def end_sessions(person: Person, *, but: str | None = None, mark: str | None = None) -> int:
    """Sign somebody out everywhere, but in one session, or only in the one marked; how many."""
    ended, kept = 0, kept_as(but or "")
    for session, _said in list(_sessions_of(person)):
        if session.session_key != kept and mark in {None, session.session_key}:
            session.delete()
            ended += 1
    return ended


def _sessions_of(person: Person) -> Iterator[tuple[Session, dict]]:
    return (each for each in _sessions() if each[1].get(SESSION_KEY) == str(person.pk))


def _sessions() -> Iterator[tuple[Session, dict]]:
    """Every session that is not over, with what it remembers (1 query)."""
    for session in Session.objects.filter(expire_date__gt=timezone.now()).iterator():
        yield session, session.get_decoded()


def _moment(seconds: float | None) -> datetime | None:
    return None if seconds is None else datetime.fromtimestamp(seconds, UTC)
