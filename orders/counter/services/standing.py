"""Standing orders: agreed, changed, paused, ended, and made into orders when their day comes."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.costing.errors import CostingError
from orders.counter.services.ordering import confirm_order, draft_order
from orders.facts.order import facts_for
from orders.facts.wording import refusal
from orders.floor.open_days import OpenDays, open_days
from orders.models import (
    Customer,
    StandingLine,
    StandingOrder,
    StandingTaken,
    WantedLine,
)
from orders.reckoning.reckon import with_its_loads
from workshop import formats
from workshop.models import Business, Person
from workshop.services.acts import record_act

LOOKED_AHEAD = 4  # so many of its next days the kilns are looked at


@dataclass(frozen=True)
class Rhythm:
    """How often, from which day, and how long before it is taken."""

    every: int
    unit: str
    from_on: date
    ahead_days: int
    note: str = ""


@transaction.atomic
def agree_standing(
    customer: Customer, lines: Sequence[WantedLine], rhythm: Rhythm, *, person: Person
) -> StandingOrder:
    """A customer wants the same strands again and again."""
    lines = _checked(lines)
    standing = StandingOrder.objects.create(
        customer=customer, every=rhythm.every, unit=rhythm.unit, from_on=rhythm.from_on,
        next_on=rhythm.from_on, ahead_days=rhythm.ahead_days, note=rhythm.note, agreed_by=person,
    )  # fmt: skip
    _check_ahead(standing)
    _write(standing, lines)
    record_act(person, "agree standing order", standing, after=_told(standing))
    return standing


@transaction.atomic
def change_standing(
    standing: StandingOrder,
    lines: Sequence[WantedLine],
    rhythm: Rhythm,
    *,
    person: Person,
    seen: int | None,
) -> StandingOrder:
    """Other strands, another rhythm; the orders taken for it already stay as they are.

    seen  the version that whoever changes it looked at; another one by now is left as it is
    """
    lines, before = _checked(lines), _told(standing)
    if seen != standing.version:
        raise ValidationError(_changed_meanwhile())
    _claim(standing)
    standing.every, standing.unit = rhythm.every, rhythm.unit
    standing.ahead_days, standing.note = rhythm.ahead_days, rhythm.note
    last = standing.taken.order_by("-wanted_on").first()
    standing.from_on = rhythm.from_on
    since = last.wanted_on + timedelta(days=1) if last else rhythm.from_on
    standing.next_on = standing.first_from(max(since, timezone.localdate()))
    standing.save()
    _check_ahead(standing)
    standing.lines.all().delete()
    _write(standing, lines)
    record_act(person, "change standing order", standing, before=before, after=_told(standing))
    return standing


@transaction.atomic
def pause_standing(standing: StandingOrder, until: date | None, *, person: Person) -> StandingOrder:
    """Nothing is taken for days before `until`; None goes on at once."""
    if until is not None and until <= timezone.localdate():
        raise ValidationError({"until": _("Write a day still ahead, on which it goes on.")})
    _claim(standing)
    before, standing.paused_until = standing.paused_until, until
    standing.save(update_fields=["paused_until"])
    record_act(
        person, "pause standing order", standing,
        before={"until": str(before or "")}, after={"until": str(until or "")},
    )  # fmt: skip
    return standing


@transaction.atomic
def end_standing(standing: StandingOrder, *, person: Person) -> StandingOrder:
    """Nothing is taken for it any more; the orders taken already stay."""
    _claim(standing)
    standing.ended_on = timezone.localdate()
    standing.save(update_fields=["ended_on"])
    record_act(person, "end standing order", standing)
    return standing


@transaction.atomic
def take_next(standing: StandingOrder, *, person: Person) -> StandingTaken:
    """Take the next order of a standing one, for its day, and promise it.

    What cannot be promised by itself (a price below a floor, a design that cannot be laid) waits
    as an order not confirmed, with the reason. Each day is taken once, whoever asks, and when.
    """
    _claim(standing)
    wanted_on = standing.wanted_next
    lines = [WantedLine(line.design_id, line.strands, line.price) for line in standing.lines.all()]
    order = draft_order(
        standing.customer, lines, person=person, due_on=_open_day(wanted_on), note=standing.note
    )
    refused = ""
    try:
        with transaction.atomic():
            order = confirm_order(order, person=person).order
    except ValidationError as error:
        refused = " ".join(error.messages)[:500]
        order.refresh_from_db()
    taken = StandingTaken.objects.create(
        standing=standing, wanted_on=wanted_on, order=order, refused=refused
    )
    standing.next_on = standing.first_from(wanted_on + timedelta(days=1))
    standing.save(update_fields=["next_on"])
    record_act(
        person, "take standing order", standing,
        after={"order": order.number, "wanted on": wanted_on.isoformat(), "refused": refused},
    )  # fmt: skip
    return taken


def take_due(*, person: Person | None = None) -> list[StandingTaken]:
    """Every standing order whose day to be taken has come, each in its own transaction.

    person  who asks; at night nobody does, and it is taken in the name of who agreed it
    """
    today, taken = timezone.localdate(), []
    going_on = StandingOrder.objects.filter(ended_on=None).select_related("customer", "agreed_by")
    for standing in going_on.order_by("next_on", "pk"):
        while standing.take_on <= today:
            try:
                taken.append(take_next(standing, person=person or standing.agreed_by))
            except ValidationError:  # somebody else has just taken it
                break
            standing.refresh_from_db()
    return taken


# --- the kilns' room ahead ------------------------------------------------------------------------


@dataclass(frozen=True)
class Ahead:
    """One day to come: when it is taken, and when it could be collected then.

    ready_on  the careful day, by what is promised to the kilns so far; none where it is not known
    """

    wanted_on: date
    take_on: date
    ready_on: date | None
    refusal: str = ""

    @property
    def late(self) -> bool:
        return self.ready_on is not None and self.ready_on > self.wanted_on


def look_ahead(standing: StandingOrder) -> list[Ahead]:
    """Whether the kilns have room for the next days of a standing order, as they stand now."""
    business, today = Business.in_force(), timezone.localdate()
    lines = [WantedLine(line.design_id, line.strands, line.price) for line in standing.lines.all()]
    found = []
    for wanted_on in standing.days_from(standing.wanted_next, LOOKED_AHEAD):
        take_on = max(today, wanted_on - timedelta(days=standing.ahead_days))
        facts = facts_for(lines, customer=standing.customer, business=business, on=take_on)
        try:
            promise = with_its_loads(facts, today=take_on, business=business)[1]
        except CostingError as error:
            found.append(Ahead(wanted_on, take_on, None, refusal(error)))
        else:
            found.append(Ahead(wanted_on, take_on, promise.p90_on))
    return found


# --- steps ----------------------------------------------------------------------------------------


def _checked(lines: Sequence[WantedLine]) -> list[WantedLine]:
    found = [line for line in lines if line.strands]
    if not found:
        raise ValidationError(_("Write how many strands are wanted each time."))
    return found


def _check_ahead(standing: StandingOrder) -> None:
    today = timezone.localdate()
    if standing.next_on < today:
        raise ValidationError(
            {
                "from_on": _("%(day)s has passed; write today or a later day.")
                % {"day": formats.date_short(standing.next_on)}
            }
        )


def _claim(standing: StandingOrder) -> None:
    """Let nobody else change it meanwhile; whoever comes second is told."""
    changed = StandingOrder.objects.filter(
        pk=standing.pk, version=standing.version, ended_on=None
    ).update(version=F("version") + 1)
    if not changed:
        raise ValidationError(_changed_meanwhile())
    standing.refresh_from_db()


def _changed_meanwhile() -> str:
    return _("This standing order was changed or ended meanwhile. Open it again and look.")


def _write(standing: StandingOrder, lines: Sequence[WantedLine]) -> None:
    StandingLine.objects.bulk_create(
        StandingLine(
            standing=standing, position=place, design_id=line.design, strands=line.strands,
            price=line.price,
        )
        for place, line in enumerate(lines)
    )  # fmt: skip


def _open_day(day: date) -> date:
    """The day itself, or the last open one before it; an open one after where none is near."""
    today = timezone.localdate()
    days: OpenDays = open_days(today)
    if days.is_open(day):
        return max(day, today)
    before = days.last_open_before(day)
    return before if before is not None and before >= today else days.first_open(max(day, today))


def _told(standing: StandingOrder) -> dict[str, str]:
    lines = {
        line.design.name: str(line.strands) for line in standing.lines.select_related("design")
    }
    rhythm = f"{standing.every} {standing.unit}, {standing.from_on.isoformat()}"
    return lines | {"every": rhythm, "ahead": str(standing.ahead_days), "note": standing.note}
