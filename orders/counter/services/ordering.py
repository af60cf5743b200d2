"""An order from the counter to its confirmation, and out of the book again."""

from collections.abc import Container, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import ROUND_CEILING, Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.costing.cost_order import cost_order
from orders.costing.errors import CostingError
from orders.costing.results import OrderCosting
from orders.facts.order import order_facts
from orders.facts.wording import refusal
from orders.floor.kiln_room import free_room, hold_the_kilns, reserve_room
from orders.floor.open_days import due_problem, open_days
from orders.floor.promise import Promise, bench_minutes
from orders.making.services.findings import fit_findings, share_out_findings
from orders.making.services.holds import NotEnough, ShelfChanged, hold_stock, let_all_go
from orders.models import (
    BY_HAND,
    Customer,
    GlassNeed,
    KeptWorking,
    Order,
    OrderLine,
    Stage,
    WantedLine,
    WorkOrder,
    keep_accounts,
    sees_tax,
)
from orders.money.queries.accounts import asked_for, usual_deposit
from orders.reckoning.floors import FloorWord, floor_words
from orders.reckoning.reckon import Reckoning, with_its_loads
from orders.reckoning.working import frozen_working
from workshop import formats
from workshop.models import AuditEntry, Business, Person
from workshop.money import round_half_up
from workshop.search import found_anew
from workshop.services.acts import record_act
from workshop.services.numbers import take_number

NOT_YET = (Order.State.DRAFT, Order.State.QUOTED)
MG_PER_G = 1000


@dataclass(frozen=True)
class Taking:
    """An order as it stands after an act, with the costing it was confirmed on."""

    order: Order
    costing: OrderCosting


@transaction.atomic
def draft_order(
    customer: Customer,
    lines: Sequence[WantedLine],
    *,
    person: Person,
    due_on: date | None = None,
    note: str = "",
    costing: OrderCosting | None = None,
    taken_on: date | None = None,
) -> Order:
    """Write an order down without promising anything yet.

    costing   of these very lines, where it was worked out in this transaction already
    taken_on  the day it was asked for, where that is written down afterwards
    """
    today = timezone.localdate()
    _check(lines, due_on, today)
    order = Order.objects.create(
        number=take_number("order"),
        customer=customer,
        taken_on=taken_on or today,
        taken_by=person,
        due_on=due_on,
        note=note,
        stage_since=timezone.now(),
        prices_with_tax=sees_tax(customer, Business.in_force()),
    )
    written = _write_lines(order, lines, costing)
    _price_lines(order, costing or _priced(order), written)
    record_act(person, "take order", order, after=_told(lines))
    return order


@transaction.atomic
def change_draft(
    order: Order,
    lines: Sequence[WantedLine],
    *,
    person: Person,
    customer: Customer | None = None,
    due_on: date | None = None,
    note: str = "",
    costing: OrderCosting | None = None,
) -> Order:
    """Change an order that is not confirmed yet; refused once it is. `costing` as for a draft."""
    _check(lines, due_on, timezone.localdate())
    if customer is not None and customer != order.customer and order.payments.exists():
        raise ValidationError(
            _(
                "Money came in from %(name)s for order %(number)s, so it stays theirs. Cancel it "
                "and take a new one."
            )
            % {"name": order.customer, "number": order.number}
        )
    changed = Order.objects.filter(pk=order.pk, state__in=NOT_YET, version=order.version).update(
        customer=customer or order.customer,
        due_on=due_on,
        note=note,
        state=Order.State.DRAFT,
        prices_with_tax=sees_tax(customer or order.customer, Business.in_force()),
        version=F("version") + 1,
    )
    if not changed:
        raise ValidationError(changed_meanwhile(order))
    before = {line.design.name: line.strands for line in order.lines.select_related("design")}
    order.lines.all().delete()
    order.refresh_from_db()
    found_anew(order)
    written = _write_lines(order, lines)
    _price_lines(order, costing or _priced(order), written)
    record_act(person, "change order", order, before=before, after=_told(lines))
    return order


@transaction.atomic
def confirm_order(
    order: Order,
    *,
    person: Person,
    owner_word: str = "",
    business: Business | None = None,
    reckoned: Reckoning | None = None,
) -> Taking:
    """Promise an order: cost it, hold what is on the shelf, plan the beads to be made,
    and keep the kiln places and bench minutes that the promise stands on.

    One transaction: either all of it happens or none. Raises ValidationError (a whole
    sentence) for an order that was changed meanwhile, that cannot be costed, that sells below a
    floor without the owner's word, or whose stock somebody else took.

    owner_word  why the owner sells below a floor; kept with the order and in the log
    reckoned  costing and promise of its lines, where they were worked out in this transaction
              with the kilns held since before; else they are worked out here
    """
    if reckoned is None:
        hold_the_kilns()
    business = business or Business.current()
    now = timezone.now()
    claimed = Order.objects.filter(pk=order.pk, state__in=NOT_YET, version=order.version).update(
        state=Order.State.CONFIRMED, confirmed_at=now, version=F("version") + 1
    )
    if not claimed:
        raise ValidationError(changed_meanwhile(order))
    order.state = Order.State.DRAFT  # its own holds are not counted yet
    if reckoned and reckoned.costing and reckoned.promise:
        costing, promise = reckoned.costing, reckoned.promise
    else:
        costing, promise = cost_and_promise(order, business)
    below = refuse_below_floor(costing, person=person, owner_word=owner_word)
    lines = list(order.lines.select_related("design__item"))
    try:
        hold_stock(order, costing, {line.design_id: line for line in lines})
    except NotEnough as refused:
        raise ShelfChanged(refused, since=latest_taking(order)) from refused
    _plan_jobs(order, costing, now)
    _price_lines(order, costing, lines)
    reserve_room(order, promise, person=person)
    _settle(order, costing, promise, now, below=below)
    fit_findings(order)
    keep_accounts({order.customer_id})
    told = {"total": str(order.total), "p90_on": str(order.p90_on)} | below.told
    record_act(person, "confirm order", order, after=told)
    return Taking(order, costing)


def cost_and_promise(
    order: Order, business: Business | None = None
) -> tuple[OrderCosting, Promise]:
    """A written-down order as things stand: its costing with the loads it lights, and its day.

    A refusal of the costing comes as a ValidationError.
    """
    business, today = business or Business.current(), timezone.localdate()
    facts = order_facts(order, business=business, on=today)
    try:
        return with_its_loads(facts, today=today, business=business, order=order)
    except CostingError as error:
        raise ValidationError(refusal(error)) from error


def cost_without_loads(order: Order) -> OrderCosting:
    """Cost a written-down order, but for the loads that it lights; refuses as the one above."""
    try:
        return cost_order(order_facts(order))
    except CostingError as error:
        raise ValidationError(refusal(error)) from error


@transaction.atomic
def cancel_order(order: Order, *, person: Person, why: str = "") -> Order:
    """Take an order out of the book; whatever it held is everybody's again."""
    hold_the_kilns()
    if order.state == Order.State.COLLECTED:
        raise ValidationError(
            _("Order %(number)s was collected on %(day)s; write a credit note instead.")
            % {"number": order.number, "day": formats.date_short(order.collected_on)}
        )
    _refuse_part_gone(order)
    before = order.state
    changed = (
        Order.objects.filter(pk=order.pk, version=order.version)
        .exclude(state__in=[Order.State.CANCELLED, Order.State.COLLECTED])
        .update(state=Order.State.CANCELLED, version=F("version") + 1)
    )
    if not changed:
        raise ValidationError(changed_meanwhile(order))
    freed = let_all_go(order)
    share_out_findings()
    order.glass_needs.all().delete()
    free_room(order, person=person)
    order.jobs.exclude(step=WorkOrder.Step.DONE).filter(batch__isnull=True).delete()
    order.refresh_from_db()
    keep_accounts({order.customer_id})
    record_act(
        person,
        "cancel order",
        order,
        before={"state": before},
        after={"why": why, "holds freed": freed},
    )
    return order


# --- checks and their sentences ---------------------------------------------------------------


def _check(lines: Sequence[WantedLine], due_on: date | None, today: date) -> None:
    if not lines:
        raise ValidationError(
            _("The order has no lines. Add a strand design and how many of it are wanted.")
        )
    if due_on is not None and (problem := due_problem(due_on, today, open_days(today))):
        raise ValidationError({"due_on": problem})


def _refuse_part_gone(order: Order) -> None:
    gone = sum(order.lines.values_list("handed", flat=True))
    if gone:
        raise ValidationError(
            _(
                "%(gone)s strands of order %(number)s are handed over already, so it cannot be "
                "cancelled. Take what is left off it instead: change the order."
            )
            % {"gone": gone, "number": order.number}
        )


def changed_meanwhile(order: Order) -> str:
    """The sentence for one who comes second: what the order has become."""
    now = Order.objects.select_related("customer").get(pk=order.pk)
    acts = AuditEntry.objects.filter(
        subject_kind="order", subject_ref=str(now.number), refused=False
    )
    last = acts.select_related("person").first()
    return _(
        "Order %(number)s was changed by %(who)s meanwhile and is %(state)s now. "
        "Open it again and look."
    ) % {
        "number": now.number,
        "who": last.person if last and last.person else _("somebody else"),
        "state": now.get_state_display(),
    }


@dataclass(frozen=True)
class BelowFloor:
    """By whose word and why a price below a floor was passed; nobody's where none stands so."""

    words: tuple[FloorWord, ...] = ()
    by: Person | None = None
    why: str = ""

    @property
    def told(self) -> dict[str, str]:
        """For the log."""
        if not self.words:
            return {}
        return {"below": " ".join(word.sentence for word in self.words), "why": self.why}


def refuse_below_floor(
    costing: OrderCosting, *, person: Person, owner_word: str, same: Container[Any] = ()
) -> BelowFloor:
    """Refuse a price below a floor, unless the owner says why it is sold so.

    same  designs whose lines stand as they were promised: nobody is asked about them again
    """
    said = floor_words(costing)
    words = tuple(word for word in said if costing.lines[word.line].design not in same)
    if not words:
        return BelowFloor()
    if not (owner_word.strip() and person.is_owner):
        raise ValidationError(_below_floor_sentence(words[0], person))
    return BelowFloor(words, person, owner_word.strip())


def _below_floor_sentence(word: FloorWord, person: Person) -> str:
    if person.is_owner:
        todo = _("Raise the price, or write why it is sold so all the same.")
    else:
        todo = _("Raise the price, or let the owner confirm the order and say why.")
    return f"{word.sentence} {todo}"


def latest_taking(order: Order | None = None) -> str:
    """Who took an order last, as a sentence; for telling why figures have changed."""
    others = Order.objects.filter(confirmed_at__isnull=False).select_related("taken_by", "customer")
    if order is not None and order.pk:
        others = others.exclude(pk=order.pk)
    latest = others.order_by("-confirmed_at").first()
    if latest is None:
        return _("The shelf has changed since these figures were shown.")
    return _("%(who)s has just taken order %(number)s for %(customer)s.") % {
        "who": latest.taken_by or _("Somebody"),
        "number": latest.number,
        "customer": latest.customer,
    }


# --- writing ----------------------------------------------------------------------------------


def _told(lines: Sequence[WantedLine]) -> dict[str, int]:
    return {str(line.design): line.strands for line in lines}


def _write_lines(
    order: Order, lines: Sequence[WantedLine], costing: OrderCosting | None = None
) -> list[OrderLine]:
    """The lines as wanted, at the price in force where it is known already."""
    priced = costing.lines if costing is not None else ()
    known = {line.design: (line.price_each, line.price_from) for line in priced}
    return OrderLine.objects.bulk_create(
        OrderLine(
            order=order,
            position=position,
            design_id=line.design,
            strands=line.strands,
            price=price,
            price_from=source,
        )
        for position, line in enumerate(lines)
        for price, source in [known.get(line.design) or _by_hand(line)]
    )


def _by_hand(line: WantedLine) -> tuple[Decimal, str]:
    return (Decimal(0), "") if line.price is None else (line.price, BY_HAND)


def _price_lines(order: Order, costing: OrderCosting, lines: Sequence[OrderLine]) -> None:
    """Write the price in force into each line, and their sum into the order."""
    digits = Business.in_force().money_digits
    total = Decimal(0)
    by_design = {line.design: line for line in costing.lines}
    changed = []
    for line in lines:
        priced = by_design[line.design_id]
        if (line.price, line.price_from) != (priced.price_each, priced.price_from):
            changed.append(line)
        line.price, line.price_from = priced.price_each, priced.price_from
        total += round_half_up(line.price * line.strands, digits)
    if changed:
        OrderLine.objects.bulk_update(changed, ["price", "price_from"])
    if (order.total, order.cost, order.pocket) != (total, costing.cost, costing.pocket):
        order.total, order.cost, order.pocket = total, costing.cost, costing.pocket
        order.save(update_fields=["total", "cost", "pocket"])


def _priced(order: Order) -> OrderCosting:
    """An order's prices; only a suggested one asks which loads the order lights."""
    business, today = Business.current(), timezone.localdate()
    facts = order_facts(order, business=business, on=today)
    try:
        costing = cost_order(facts)
        if all(line.price_from != "suggested" for line in costing.lines):
            return costing
        return with_its_loads(facts, today=today, business=business, order=order)[0]
    except CostingError as error:
        raise ValidationError(refusal(error)) from error


def _plan_jobs(order: Order, costing: OrderCosting, now: datetime) -> None:
    """The beads to be made and the glass they will take."""
    lacking = {
        (colour.key, form.form)
        for colour in costing.glass
        for form in colour.forms
        if form.to_prepare_g > 0
    }
    needs: dict[tuple[int, str], Decimal] = {}
    jobs = []
    for bead in costing.beads:
        if not bead.to_make:
            continue
        ready = not any((colour, form) in lacking for colour, form, _g in bead.glass_g)
        jobs.append(
            WorkOrder(
                order=order,
                bead_id=int(bead.key),
                needed=bead.to_make,
                to_start=bead.start,
                moulds=bead.fills,
                step=WorkOrder.Step.MOULDING if ready else WorkOrder.Step.GLASS,
                step_since=now,
            )
        )
        for colour, form, glass_g in bead.glass_g:
            pair = (int(colour), form)
            needs[pair] = needs.get(pair, Decimal(0)) + glass_g
    WorkOrder.objects.bulk_create(jobs)
    GlassNeed.objects.bulk_create(
        GlassNeed(
            order=order,
            colour_id=colour,
            form=form,
            needed_mg=int((glass_g * MG_PER_G).to_integral_value(ROUND_CEILING)),
        )
        for (colour, form), glass_g in needs.items()
    )


def _settle(
    order: Order,
    costing: OrderCosting,
    promise: Promise,
    now: datetime,
    below: "BelowFloor",
) -> None:
    from orders.making.services.progress import stage_of

    order.refresh_from_db()
    order.likely_on = promise.likely_on
    order.p90_on = promise.p90_on
    # A trader who names no day is told the careful one, and that is the day to be kept.
    order.due_on = order.due_on or promise.p90_on
    KeptWorking.keep(order, frozen_working(costing, promise, order))
    order.bench_min = bench_minutes(costing)
    order.below_cost_by, order.below_cost_why = below.by, below.why
    business = Business.in_force()
    due = order.total if order.prices_with_tax else asked_for(order.total, business)
    order.deposit_asked = usual_deposit(due, business, order.customer)
    order.deposit_rule = business.deposit_kept
    order.stage = stage_of(order)
    order.stage_since = now
    order.save(
        update_fields=[
            "deposit_asked",
            "deposit_rule",
            "likely_on",
            "p90_on",
            "due_on",
            "bench_min",
            "below_cost_by",
            "below_cost_why",
            "stage",
            "stage_since",
        ]
    )


__all__ = [
    "NOT_YET",
    "Stage",
    "Taking",
    "WantedLine",
    "cancel_order",
    "change_draft",
    "changed_meanwhile",
    "confirm_order",
    "cost_without_loads",
    "draft_order",
    "latest_taking",
]
