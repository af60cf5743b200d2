"""Four eyes for what hurts when it is wrong: one person asks, another agrees, then it is done.

The owner chooses what needs it. Nobody answers what they asked for themselves; the database
refuses that too.
"""

from collections.abc import Callable
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Field, QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from workshop.models import Business, Person, SecondLook
from workshop.services.acts import record_act
from workshop.services.sessions import end_sessions

# Done when somebody agrees: what was asked for, who asked, who agreed.
Deed = Callable[[dict[str, Any], Person, Person], None]
DEEDS: dict[str, Deed] = {}

BANK = ("iban", "bic")
TWO = ("two_for_refunds", "two_for_bank", "two_for_people")


class NeedsAnother(ValidationError):
    """Two people have to look at this; the message says at what."""


def waiting_for(person: Person) -> QuerySet[SecondLook]:
    """What somebody else asked for and nobody has answered (1 query)."""
    asked = SecondLook.objects.filter(answered_by__isnull=True).exclude(asked_by=person)
    return asked.select_related("asked_by")


@transaction.atomic
def ask(kind: str, told: str, facts: dict[str, Any], *, person: Person) -> SecondLook:
    """Write down what waits for another person; the same thing asked twice waits once."""
    same = SecondLook.objects.filter(
        kind=kind, facts=facts, asked_by=person, answered_by__isnull=True
    ).first()
    if same is not None:
        return same
    look = SecondLook.objects.create(kind=kind, told=told[:250], facts=facts, asked_by=person)
    record_act(person, "ask for a second look", look, after={"what": look.told})
    return look


@transaction.atomic
def answer(pk: int, *, agreed: bool, person: Person) -> SecondLook:
    """Another person agrees, and it is done; or does not, and it is not."""
    look = (
        SecondLook.objects.select_for_update(of=("self",))
        .select_related("asked_by")
        .filter(pk=pk, answered_by__isnull=True)
        .first()
    )
    if look is None:
        raise ValidationError(_("Somebody has answered this already."))
    if look.asked_by == person:
        raise ValidationError(_("Somebody else has to look at what you asked for."))
    look.answered_by, look.answered_at, look.agreed = person, timezone.now(), agreed
    look.save()
    record_act(person, "agree" if agreed else "do not agree", look, after={"what": look.told})
    if agreed:
        DEEDS[look.kind](look.facts, look.asked_by, person)
    return look


def hold_back_business(changed: Business, *, person: Person) -> dict[str, Any]:
    """Put back what another person has to look at, and ask for it; gives what was put back.

    Another bank account, and any change of what two people look at once they do.
    """
    before = Business.objects.get(pk=changed.pk)
    guarded = BANK if before.two_for_bank else ()
    if any(getattr(before, name) not in {None, False} for name in TWO):
        guarded = (*guarded, *TWO)
    held = {
        name: getattr(before, name)
        for name in guarded
        if getattr(before, name) != getattr(changed, name)
    }
    if held:
        wanted = {name: _as_text(getattr(changed, name)) for name in held}
        named = [
            f"{_column(name).verbose_name}: {value or _('nothing')}"
            for name, value in wanted.items()
        ]
        ask("business", _("Change the business: %s") % "; ".join(named), wanted, person=person)
        for name, value in held.items():
            setattr(changed, name, value)
    return held


def _column(name: str) -> Field:
    found = Business._meta.get_field(name)
    assert isinstance(found, Field)
    return found


def _as_text(value: Any) -> Any:
    return value if value is None or isinstance(value, (bool, str)) else str(value)


def _change_business(facts: dict[str, Any], asked_by: Person, agreed_by: Person) -> None:
    business = Business.current()
    before = {name: _as_text(getattr(business, name)) for name in facts}
    for name, value in facts.items():
        setattr(business, name, _column(name).to_python(value))
    business.save()
    record_act(asked_by, "change business", business, before=before, after=facts)


def _shut_out(facts: dict[str, Any], asked_by: Person, agreed_by: Person) -> None:
    person = Person.objects.get(pk=facts["person"])
    person.is_active = False
    person.save(update_fields=["is_active"])
    end_sessions(person)
    record_act(asked_by, "change person", person, after={"may sign in": False})


DEEDS["business"] = _change_business
DEEDS["person"] = _shut_out
