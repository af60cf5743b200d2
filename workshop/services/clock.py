"""Whether this machine's clock can be believed: asked before a number is taken by its day.

The log is written in order of time. A long silence in it, with no copy of the book made meanwhile
either, is a workshop that was shut or a clock that jumped; somebody has to say which.
"""

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from django.conf import settings
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext as _

from workshop.formats import date_long
from workshop.models import AuditEntry, Business, Person
from workshop.services.acts import record_act
from workshop.services.sessions import CLOCK_SLACK_S

# Longer than a month's holidays; common practice, no source.
SILENCE = timedelta(days=40)
# What was written since the clock jumped; a question left open for longer answers itself.
LATELY = timedelta(days=2)
CONFIRM = "confirm the day"
COPY_STAMP = re.compile(r"strandwork-(\d{8}T\d{6})Z")


@dataclass(frozen=True)
class Doubt:
    """The last moment of which the book knows for certain, and what the clock says now."""

    last: datetime
    now: datetime

    def sentence(self) -> str:
        return _(
            "This computer’s clock says %(now)s, and the last thing in the book is of %(last)s. "
            "Sign out and in again and answer what day it is, before a number is given by that day."
        ) % {
            "now": date_long(timezone.localtime(self.now)),
            "last": date_long(timezone.localtime(self.last)),
        }


def clock_doubt() -> Doubt | None:
    """Whether the clock stands far ahead of the log and the copies, and nobody has said why yet."""
    now = timezone.now()
    moments = AuditEntry.objects.values_list("at", flat=True)
    since = moments.filter(at__gte=now - LATELY).order_by("at").first() or now
    before = moments.filter(at__lt=since).order_by("-at").first()
    if before is None or since - before <= SILENCE:
        return None
    last = max(before, *_copies_made(before, since))
    if since - last <= SILENCE or AuditEntry.objects.filter(act=CONFIRM, at__gte=since).exists():
        return None
    return Doubt(last, now)


def refuse_doubtful_day() -> None:
    """Call before a number is taken that carries the day: a paper, once numbered, stays so."""
    if doubt := clock_doubt():
        raise ValidationError(doubt.sentence())


def confirm_day(*, person: Person) -> None:
    """Somebody looked at a calendar: the clock is right."""
    record_act(person, CONFIRM, Business.current(), after={"now": timezone.now().isoformat()})


def written_ahead() -> datetime | None:
    """The latest moment in the log that is still to come; None where the clock agrees with it."""
    last = AuditEntry.objects.order_by("-at").values_list("at", flat=True).first()
    ahead = last and (last - timezone.now()).total_seconds() > CLOCK_SLACK_S
    return last if ahead else None


def runs_behind() -> bool:
    """Whether the very last line of the log is still to come: the clock was set back just now."""
    last = AuditEntry.objects.order_by("-id").values_list("at", flat=True).first()
    return bool(last and (last - timezone.now()).total_seconds() > CLOCK_SLACK_S)


def _copies_made(after: datetime, before: datetime) -> list[datetime]:
    """Moments at which the machine was running and made a copy by itself."""
    folder = settings.COPIES_DIR
    names = [path.name for path in folder.iterdir()] if folder.is_dir() else []
    made = [
        datetime.strptime(found[1], "%Y%m%dT%H%M%S").replace(tzinfo=UTC)
        for name in names
        if (found := COPY_STAMP.match(name))
    ]
    return [moment for moment in made if after < moment < before] or [after]
