"""Phones paired with the desk: a word that lets one in once, a PIN for coming back, an end.

What stands against whom is told in workshop/threats.md.
"""

import hashlib
import itertools
import secrets
from datetime import timedelta

from django.contrib.auth.hashers import check_password, make_password
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from workshop.models import PairedPhone, PairingWord, Person, PhonePin
from workshop.services.acts import record_act, record_refusal
from workshop.services.people import COPYABLE
from workshop.services.second_step import second_step_of
from workshop.services.sessions import device_words, end_sessions_on_phone

WORD_LASTS = timedelta(minutes=10)
WRONG_PINS = 5
SHORTEST_PIN = 4
# In a session: begun with the password. A PIN is chosen only in such a one.
IN_FULL = "signed_in_in_full"
# Written down at most this often, or every look at a page would write to the database.
SEEN_EVERY = timedelta(minutes=5)


def hash_of(secret: str) -> str:
    """What the book keeps of a long random secret; it needs no salt and no slow hash."""
    return hashlib.sha256(secret.encode()).hexdigest()


@transaction.atomic
def new_word(whom: Person, *, person: Person) -> str:
    """A word for pairing one phone with somebody: 59 bits, good once and for ten minutes."""
    word = "-".join("".join(secrets.choice(COPYABLE) for _sign in range(4)) for _part in range(3))
    PairingWord.objects.create(
        hash=hash_of(word), person=whom, made_by=person, good_until=timezone.now() + WORD_LASTS
    )
    record_act(person, "let a phone in", whom)
    return word


@transaction.atomic
def pair(word: str, *, user_agent: str) -> tuple[PairedPhone, str] | None:
    """Let the phone in that shows this word; gives its secret, or nothing if the word is no more.

    Of two phones that show one word at once, one is let in: the row goes with the first.
    """
    typed = "".join(sign for sign in word.lower() if sign.isalnum())
    parted = "-".join(typed[at : at + 4] for at in range(0, len(typed), 4))
    found = PairingWord.objects.filter(hash=hash_of(parted), person__is_active=True)
    row = found.select_for_update(of=("self",)).select_related("person").first()
    if row is None or row.good_until < timezone.now() or not row.delete()[0]:
        record_refusal(None, "pair phone", "phone", "")
        return None
    secret = secrets.token_urlsafe(32)
    phone = PairedPhone.objects.create(
        person=row.person, device=device_words(user_agent)[:80], hash=hash_of(secret)
    )
    record_act(row.person, "pair phone", phone, after={"device": phone.device})
    return phone, secret


def phone_of(secret: str) -> PairedPhone | None:
    """The phone that shows this secret, unless its pairing has ended (1 query)."""
    if not secret:
        return None
    return PairedPhone.objects.filter(
        hash=hash_of(secret), ended_at=None, person__is_active=True
    ).first()


def note_phone_seen(phone: PairedPhone) -> None:
    """Remember that a phone was used, at most every few minutes."""
    now = timezone.now()
    if phone.seen_at is None or now - phone.seen_at > SEEN_EVERY:
        PairedPhone.objects.filter(pk=phone.pk).update(seen_at=now)


def phones_of(person: Person) -> QuerySet[PairedPhone]:
    """Phones that are let in: the owner sees all of them, others their own."""
    phones = PairedPhone.objects.filter(ended_at=None).select_related("person")
    return phones if person.is_owner else phones.filter(person=person)


@transaction.atomic
def end_phone(phone: PairedPhone, *, person: Person | None) -> None:
    """A phone is let in no more; who is signed in there is out at once, and its PINs are gone."""
    ended = PairedPhone.objects.filter(pk=phone.pk, ended_at=None).update(ended_at=timezone.now())
    if not ended:
        return
    PhonePin.objects.filter(phone=phone).delete()
    end_sessions_on_phone(phone.pk)
    record_act(person, "end phone", phone, after={"device": phone.device})


@transaction.atomic
def set_pin(phone: PairedPhone, person: Person, pin: str) -> None:
    """Choose the PIN with which somebody comes back on this phone; raises ValidationError."""
    if why := why_no_pin(pin):
        raise ValidationError({"pin": why})
    PhonePin.objects.update_or_create(
        phone=phone,
        person=person,
        defaults={"pin": make_password(pin), "sign_in": _sign_in_mark(person)},
    )
    record_act(person, "choose PIN", phone)


def why_no_pin(pin: str) -> str:
    """A sentence if this is no PIN, else nothing."""
    if not pin.isascii() or not pin.isdigit() or not SHORTEST_PIN <= len(pin) <= 8:
        return _("Choose four to eight digits.")
    steps = {(ord(later) - ord(sign)) for sign, later in itertools.pairwise(pin)}
    if len(steps) == 1 and steps <= {0, 1, -1}:
        return _("One digit repeated, or digits in a row, are tried first. Take others.")
    return ""


def people_with_pin(phone: PairedPhone) -> list[Person]:
    """Who may come back on this phone by a PIN (1 query)."""
    pins = phone.pins.filter(person__is_active=True).select_related("person")
    return sorted((each.person for each in pins), key=str)


@transaction.atomic
def sign_in_by_pin(phone: PairedPhone, person: Person, pin: str) -> bool:
    """Whether this PIN lets this person in on this phone; the fifth wrong one ends the pairing.

    Every try is counted before it is judged, the phone's row being held: tries at once do not
    become more tries.
    """
    held = PairedPhone.objects.select_for_update(no_key=True).get(pk=phone.pk)
    if held.ended_at is not None:
        return False
    row = PhonePin.objects.filter(phone=phone, person=person, person__is_active=True).first()
    right = row is not None and check_password(pin, row.pin)
    if right and row is not None and row.sign_in != _sign_in_mark(person):
        # The password or the second step is another since: sign in in full first.
        row.delete()
        return False
    held.wrong_pins = 0 if right else held.wrong_pins + 1
    held.save(update_fields=["wrong_pins"])
    if right:
        record_act(person, "sign in", person, after={"phone": phone.pk})
        return True
    record_refusal(person, "sign in", "phone", str(phone.pk))
    if held.wrong_pins >= WRONG_PINS:
        end_phone(phone, person=None)
    return False


def tries_left(phone: PairedPhone) -> int:
    """How many wrong PINs are still borne before the pairing ends (1 query)."""
    held = PairedPhone.objects.get(pk=phone.pk)
    return 0 if held.ended_at else WRONG_PINS - held.wrong_pins


def _sign_in_mark(person: Person) -> str:
    device = second_step_of(person)
    return hash_of(f"{person.get_session_auth_hash()} {device.pk if device else ''}")
