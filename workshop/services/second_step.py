"""The second step of signing in: a code of six digits from a telephone (RFC 6238)."""

import secrets
from datetime import datetime

from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.utils.translation import gettext as _
from django_otp.plugins.otp_static.models import StaticDevice, StaticToken
from django_otp.plugins.otp_totp.models import TOTPDevice

from workshop import formats
from workshop.drawing.codes import code_picture_of
from workshop.models import AuditEntry, Business, Person
from workshop.services.acts import record_act

SPARE_CODES = 8
NAME = "telephone"
BEGIN, FORGET = "begin second step", "forget second step"
SENTENCES = {
    BEGIN: lambda: _(
        "On %(day)s at %(time)s a telephone became your second step. If that was not you, tell "
        "the owner at once."
    ),
    FORGET: lambda: _(
        "%(who)s took your second step away on %(day)s at %(time)s: the password alone opens the "
        "book now. If you did not ask for it, tell the owner at once."
    ),
}


def second_step_of(person: Person) -> TOTPDevice | None:
    """The telephone that gives somebody's codes (1 query)."""
    return TOTPDevice.objects.filter(user=person, confirmed=True).first()


def has_second_step(person: Person) -> bool:
    """Whether somebody has a telephone that gives codes (1 query)."""
    return second_step_of(person) is not None


def must_have_second_step(business: Business, person: Person) -> bool:
    """Whether the owner asks a second step of people with this role."""
    wanted = business.second_step_for
    return (
        wanted == Business.SecondStep.EVERYBODY
        or (wanted == Business.SecondStep.OWNERS and person.is_owner)
        or (wanted == Business.SecondStep.MONEY and person.sees_money)
    )


def begin_second_step(person: Person, *, begun: int | None, verified: bool) -> TOTPDevice:
    """A telephone that is not trusted until its first code was typed.

    begun     the one this very session began with, kept until then; a secret that another
              session has seen is never taken over
    verified  a code was typed in this session: without it, no telephone takes another's place
    """
    _refuse_unverified(person, verified)
    device = TOTPDevice.objects.filter(pk=begun, user=person, confirmed=False).first()
    return device or TOTPDevice.objects.create(user=person, name=NAME, confirmed=False)


@transaction.atomic
def confirm_second_step(
    person: Person, code: str, *, begun: int | None, verified: bool
) -> tuple[TOTPDevice, list[str]] | None:
    """Trust the telephone if the code is right; gives spare codes, shown only now."""
    # Two sessions that both found no telephone come one after the other.
    Person.objects.select_for_update(no_key=True).get(pk=person.pk)
    _refuse_unverified(person, verified)
    device = TOTPDevice.objects.filter(pk=begun, user=person, confirmed=False).first()
    if device is None or not device.verify_token(code):
        return None
    TOTPDevice.objects.filter(user=person).exclude(pk=device.pk).delete()
    device.confirmed = True
    device.save()
    record_act(person, BEGIN, person)
    return device, _new_spare_codes(person)


def _refuse_unverified(person: Person, verified: bool) -> None:
    if not verified and has_second_step(person):
        raise PermissionDenied


@transaction.atomic
def forget_second_step(whom: Person, *, person: Person | None) -> None:
    """Take the second step away, for instance when the telephone is lost."""
    TOTPDevice.objects.filter(user=whom).delete()
    StaticDevice.objects.filter(user=whom).delete()
    record_act(person, FORGET, whom)


def second_step_news(person: Person, since: datetime | None) -> list[str]:
    """What happened to somebody's second step since they last signed in, to be told (1 query)."""
    if since is None:
        return []
    acts = AuditEntry.objects.filter(
        act__in=SENTENCES, subject_kind="person", subject_ref=str(person.pk), at__gt=since
    ).select_related("person")
    return [
        SENTENCES[act.act]()
        % {
            "day": formats.date_short(act.at),
            "time": formats.time_short(act.at),
            "who": act.person or _("Somebody at the workshop’s computer"),
        }
        for act in reversed(acts)
    ]


def code_picture(device: TOTPDevice) -> str:
    """The QR code that a telephone reads, as SVG."""
    return code_picture_of(device.config_url)


def code_letters(device: TOTPDevice) -> str:
    """The same secret for typing, in fours."""
    import base64

    letters = base64.b32encode(device.bin_key).decode().rstrip("=")
    return " ".join(letters[at : at + 4] for at in range(0, len(letters), 4))


def refusal() -> str:
    """What is said of a code that does not fit."""
    return _(
        "That code does not fit. Type the six digits the telephone shows now; a code is good once "
        "and for half a minute, and after several wrong ones you have to wait a little."
    )


def _new_spare_codes(person: Person) -> list[str]:
    StaticDevice.objects.filter(user=person).delete()
    spare = StaticDevice.objects.create(user=person, name="spare codes", confirmed=True)
    codes = [secrets.token_hex(5) for _code in range(SPARE_CODES)]
    StaticToken.objects.bulk_create(StaticToken(device=spare, token=code) for code in codes)
    return codes
