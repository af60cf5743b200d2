"""A promised order changed while it is made: more, fewer, another day, a line off, a line new.

What is ready, held or under way serves the changed order first. What it needs no more of lies on
the shelf for anybody, and only what is still missing is begun.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F, Sum
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.costing.cost_order import cost_order
from orders.costing.errors import CostingError
from orders.costing.facts import BatchFacts, OrderFacts, ReadyStrandFacts
from orders.costing.new_loads import with_new_loads
from orders.costing.results import OrderCosting
from orders.counter.services.collecting import claim, collect_order
from orders.counter.services.ordering import refuse_below_floor
from orders.facts.order import facts_for
from orders.facts.wording import refusal
from orders.floor.kiln_room import fit_room, free_jobs, hold_the_kilns, reserve_room
from orders.floor.open_days import due_problem, open_days
from orders.floor.promise import Promise, Step, bench_minutes, promise_for
from orders.making.queries.holds import NOT_MOULDED
from orders.making.services.findings import fit_findings
from orders.making.services.holding_by_hand import lock_orders
from orders.making.services.holds import free_spare_glass, held_strands, hold_for, release
from orders.making.services.holds import ready_strands as take_ready
from orders.making.services.progress import bring_up, coming_of, glass_came_in
from orders.making.services.refit import fit_glass_needs
from orders.models import (
    BY_HAND,
    KeptWorking,
    Order,
    OrderLine,
    StrandDesign,
    WantedLine,
    WorkOrder,
)
from orders.money.queries.charging import charged_strands, strands_to_charge
from orders.money.services.invoices import give_back_the_rest
from orders.money.services.payment_allocations import hold_account
from orders.reckoning.working import frozen_working, kept_promise
from stock.models import Balance, Bead, ItemKind, Movement, PostingKind
from stock.services.standard_beads import StandardBeads
from workshop.models import Business, Person
from workshop.money import ZERO, round_half_up
from workshop.services.acts import record_act
from workshop.services.trial import tried

WRITTEN = ("strung", "strands", "price", "price_from")
OWN, COMING = "own", "coming"  # beads that the order holds, and those under way for it


@dataclass(frozen=True)
class StoodLine:
    """One line as it was, or will be."""

    strands: int
    price: Decimal
    sum: Decimal


@dataclass(frozen=True)
class Stood:
    """An order as it was, or will be: its lines by design, its sum, the day it was told."""

    lines: Mapping[int, StoodLine]
    total: Decimal
    told_on: date | None

    def told(self, names: Mapping[int, str]) -> dict[str, Any]:
        """For the log."""
        lines = {
            names[design]: f"{line.strands} × {line.price.normalize():f}"
            for design, line in self.lines.items()
        }
        day = self.told_on.isoformat() if self.told_on else ""
        return lines | {"total": f"{self.total.normalize():f}", "told for": day}


@dataclass(frozen=True)
class Change:
    """What a change does.

    spared  made already, or under way, and not for this order any more: what, how many, and
            whether it lies ready
    more    good beads to be begun that were not before, by bead
    """

    order: Order
    before: Stood
    after: Stood
    spared: tuple[tuple[str, int, bool], ...] = ()
    more: Mapping[str, int] = field(default_factory=dict)


@transaction.atomic
def change_order(
    order: Order,
    wanted: Sequence[WantedLine],
    *,
    person: Person,
    due_on: date | None = None,
    note: str | None = None,
    owner_word: str = "",
) -> Change:
    """Change a promised order at any stage; all that hangs on it follows, or nothing does.

    A line whose number stays keeps its price; one that changes gets the price in force for its
    new number, unless a price was typed, now or before, or part of it is charged already.

    Raises ValidationError: below what was handed over or charged, a day that cannot be kept open,
    a price below a floor without the owner's word, or an order that somebody changed meanwhile.
    """
    hold_the_kilns()
    hold_account(order.customer)
    lock_orders([order.pk])
    claim(order, _("so it cannot be changed"))
    order.refresh_from_db()
    return _Changing(order, wanted, person).done(due_on, note, owner_word)


def look_at_change(order: Order, wanted: Sequence[WantedLine], **given: Any) -> Change:
    """What a change would do: done, read, and let go of again."""
    return tried(lambda: change_order(order, wanted, **given))


class _Changing:
    """One change: what the order is, what it is to be, and what lies between."""

    def __init__(self, order: Order, wanted: Sequence[WantedLine], person: Person) -> None:
        self.order, self.person = order, person
        self.business = Business.current()
        self.today = timezone.localdate()
        rows = OrderLine.every.filter(order=order).select_related("design__item")
        self.lines = {line.design_id: line for line in rows}
        self.were = {line.pk: {name: getattr(line, name) for name in WRITTEN} for line in rows}
        self.charged = charged_strands(list(self.lines.values()))
        self.kept: dict[int, str] = {}  # where the price of a line that keeps it is from
        self.jobs = list(order.jobs.select_related("order", "bead__mould", "batch__item"))
        over = {*NOT_MOULDED, WorkOrder.Step.DONE}
        self.coming = {job.pk: coming_of(job) for job in self.jobs if job.step not in over}
        self.wanted = [self._priced(line) for line in self._checked(wanted)]
        self.spared: dict[tuple[str, bool], int] = {}

    def done(self, due_on: date | None, note: str | None, owner_word: str) -> Change:
        before = self._stands()
        self._set_day(due_on)
        designs = StrandDesign.objects.with_findings().in_bulk([w.design for w in self.wanted])
        facts = self._facts()
        try:
            costing = cost_order(facts)
        except CostingError as error:
            raise ValidationError(refusal(error)) from error
        costing, promise = self._promised(costing)
        self._floors(costing, owner_word)
        self._write_lines(costing, designs)
        self._hold_strands(costing)
        coming = self._hold_beads(costing)
        more = self._fit_jobs(costing, coming)
        if promise.room is not None:
            reserve_room(self.order, promise, person=self.person)
        self._settle(costing, promise, note)
        after = self._stands()
        names = {pk: line.design.name for pk, line in self.lines.items()}
        record_act(
            self.person, "change order", self.order,
            before=before.told(names), after=after.told(names),
        )  # fmt: skip
        self._close()
        spared = [(name, n, ready) for (name, ready), n in self.spared.items() if n]
        return Change(self.order, before, after, tuple(spared), more)

    # --- what may be asked -----------------------------------------------------------------------

    def _checked(self, wanted: Sequence[WantedLine]) -> list[WantedLine]:
        asked = {line.design: line for line in wanted if line.strands}
        if not asked:
            raise ValidationError(
                _("Nothing would be left of the order. Cancel it instead, or leave one line.")
            )
        for design, line in self.lines.items():
            strands = asked[design].strands if design in asked else 0
            self._refuse_below(line, strands)
            typed = asked[design].price if design in asked else None
            if self.charged.get(line.pk) and typed is not None and typed != line.price:
                raise ValidationError(
                    {
                        f"p_{design}": _(
                            "%(design)s: %(n)s are invoiced at this price already, so it stays."
                        )
                        % {"design": line.design, "n": self.charged[line.pk]}
                    }
                )
        return list(asked.values())

    def _refuse_below(self, line: OrderLine, strands: int) -> None:
        charged = self.charged.get(line.pk, 0) + line.came_back
        words = {
            "design": line.design, "asked": strands, "handed": line.handed, "charged": charged,
        }  # fmt: skip
        if strands < line.handed:
            sentence = _(
                "%(design)s: %(handed)s are handed over already and %(asked)s were written. Write "
                "%(handed)s or more."
            )
        elif strands < charged:
            sentence = _(
                "%(design)s: %(charged)s are invoiced already and %(asked)s were written. Write a "
                "credit note first, or %(charged)s or more."
            )
        else:
            return
        raise ValidationError({f"n_{line.design_id}": sentence % words})

    def _priced(self, wanted: WantedLine) -> WantedLine:
        """A wanted line with the price that it keeps, if it keeps one."""
        line = self.lines.get(wanted.design)
        if line is None or not line.strands:
            return wanted
        typed = wanted.price is not None and wanted.price != line.price
        stays = line.strands == wanted.strands or line.price_from == BY_HAND
        if typed or not (stays or self.charged.get(line.pk) or line.handed):
            return replace(wanted, price=wanted.price if typed else None)
        self.kept[wanted.design] = line.price_from
        return replace(wanted, price=line.price)

    def _set_day(self, due_on: date | None) -> None:
        if due_on is None or due_on == self.order.due_on:
            return
        if problem := due_problem(due_on, self.today, open_days(self.today)):
            raise ValidationError({"due_on": problem})
        self.order.due_on = due_on

    def _floors(self, costing: OrderCosting, owner_word: str) -> None:
        """Ask for the owner's word where a changed line stands below a floor."""
        same = {
            design
            for design, line in self.lines.items()
            if design in self.kept and line.strands == self._strands_of(design)
        }
        below = refuse_below_floor(costing, person=self.person, owner_word=owner_word, same=same)
        if below.words:
            self.order.below_cost_by, self.order.below_cost_why = below.by, below.why

    def _strands_of(self, design: int) -> int:
        return next((line.strands for line in self.wanted if line.design == design), 0)

    # --- what it takes ---------------------------------------------------------------------------

    def _facts(self) -> OrderFacts:
        """The changed order, with what it has and what is under way for it before the shelf."""
        facts = facts_for(
            self.wanted,
            customer=self.order.customer,
            reference=str(self.order.number),
            business=self.business,
            on=self.today,
            own_order=self.order,
            with_tax=self.order.prices_with_tax,
        )
        stock = facts.workshop.stock
        held = self._held()
        own = [
            replace(batch, key=f"{OWN} {batch.key}", free=held[batch.key])
            for batch in stock.batches
            if held.get(batch.key)
        ]
        free = [replace(batch, free=batch.free - held.get(batch.key, 0)) for batch in stock.batches]
        gone = self._handed()
        return replace(
            facts,
            stock=replace(
                stock,
                batches=(*own, *self._coming(), *free),
                strands=(*gone, *stock.strands),
            ),
        )

    def _held(self) -> dict[Any, int]:
        rows = self.order.allocations.filter(balance__item__kind=ItemKind.BEADS)
        sums = rows.order_by().values_list("balance").annotate(n=Sum("quantity"))
        return dict(sums)

    def _coming(self) -> list[BatchFacts]:
        """Beads moulded for the order and not on the shelf yet, at what a good one costs."""
        found = [job for job in self.jobs if self.coming.get(job.pk)]
        if not found:
            return []
        standard = StandardBeads()
        beads = Bead.objects.select_related(
            "mould", "programme", "second_programme"
        ).prefetch_related("colours__colour")
        rows = beads.in_bulk([job.bead_id for job in found])
        return [
            BatchFacts(
                f"{COMING} {job.pk}", str(job.batch or job.bead), job.bead_id,
                self.coming[job.pk], standard.cost(rows[job.bead_id]),
            )
            for job in found
        ]  # fmt: skip

    def _handed(self) -> list[ReadyStrandFacts]:
        gone = [line for line in self.lines.values() if line.handed]
        if not gone:
            return []
        worth = {
            item: value / pieces
            for item, value, pieces in Movement.objects.filter(
                posting__kind=PostingKind.COLLECTION,
                posting__belongs_kind="order",
                posting__belongs_ref=str(self.order.number),
                posting__reversed_by__isnull=True,
                item__in=[line.design.item_id for line in gone],
            )
            .order_by()
            .values_list("item")
            .annotate(Sum("value"), Sum("quantity"))
        }
        return [
            ReadyStrandFacts(line.design_id, line.handed, worth.get(line.design.item_id) or None)
            for line in gone
        ]

    def _promised(self, costing: OrderCosting) -> tuple[OrderCosting, Promise]:
        """The days: as they stand where nothing more is begun, else asked for anew."""
        begun = self._to_begin()
        if all(bead.to_make <= begun.get(int(bead.key), 0) for bead in costing.beads):
            return costing, self._standing_promise()
        free_jobs([job for job in self.jobs if job.step in NOT_MOULDED], person=self.person)
        promise = promise_for(costing, today=self.today, business=self.business, order=self.order)
        costing = with_new_loads(costing, promise.new_loads)
        if self.coming:
            stood = self._standing_promise()
            promise = replace(
                promise,
                likely_on=max(promise.likely_on, stood.likely_on),
                p90_on=max(promise.p90_on, stood.p90_on),
            )
        return costing, promise

    def _to_begin(self) -> dict[int, int]:
        found: dict[int, int] = {}
        for job in self.jobs:
            if job.step in NOT_MOULDED:
                found[job.bead_id] = found.get(job.bead_id, 0) + max(0, job.needed - job.good)
        return found

    def _standing_promise(self) -> Promise:
        kept, order = kept_promise(self.order.working), self.order
        return Promise(
            max(order.likely_on or self.today, self.today),
            max(order.p90_on or self.today, self.today),
            tuple(Step(step.name, step.until, step.how) for step in kept.steps) if kept else (),
            kept.careful_how if kept else "",
            kept.condition if kept else "",
        )

    # --- what is written -------------------------------------------------------------------------

    def _write_lines(self, costing: OrderCosting, designs: Mapping[int, StrandDesign]) -> None:
        priced = {line.design: line for line in costing.lines}
        asked = {line.design: line for line in self.wanted}
        for design, line in self.lines.items():
            if design not in asked:
                line.strands = 0
        place = max((line.position for line in self.lines.values()), default=-1)
        for design, want in asked.items():
            if design not in self.lines:
                place += 1
                self.lines[design] = OrderLine(
                    order=self.order, design=designs[design], position=place
                )
            line, cost = self.lines[design], priced[design]
            line.strands, line.price = want.strands, cost.price_each
            line.price_from = self.kept.get(design, cost.price_from)

    def _save_lines(self) -> None:
        """Each column by itself, of the lines that change in it: most of them change in one."""
        for name in WRITTEN:
            changed = [
                line
                for line in self.lines.values()
                if line.pk and getattr(line, name) != self.were[line.pk][name]
            ]
            if changed:
                OrderLine.every.bulk_update(changed, [name])

    def _hold_strands(self, costing: OrderCosting) -> None:
        """As many ready strands as the costing counts on: fewer let go, more taken."""
        ready = {line.design: line.ready_taken for line in costing.lines}
        for design, line in self.lines.items():
            spare = line.strung - ready.get(design, 0)
            for held in held_strands(line).order_by("-pk") if line.pk and spare > 0 else ():
                if piece := min(spare, held.quantity):
                    release(held, piece)
                    line.strung -= piece
                    spare -= piece
                    self._spare(line.design.name, piece, True)
            # Work that was done on more pieces than are wanted now.
            line.strung = min(line.strung, max(line.strands, line.handed))
        self._save_lines()
        OrderLine.every.bulk_create([line for line in self.lines.values() if not line.pk])
        for design, line in self.lines.items():
            if (more := ready.get(design, 0) - line.strung) > 0:
                for _line, balance, piece in take_ready(line, more):
                    hold_for(self.order, balance, piece, line=line)
                line.strung += more

    def _hold_beads(self, costing: OrderCosting) -> dict[int, int]:
        """The beads that the costing counts on are held; gives what it takes of each job."""
        kept: dict[int, int] = {}
        more: dict[int, int] = {}
        coming: dict[int, int] = {}
        for each in (each for bead in costing.beads for each in bead.taken):
            kind, _space, key = str(each.key).rpartition(" ")
            where = {OWN: kept, COMING: coming}.get(kind, more)
            where[int(key)] = where.get(int(key), 0) + each.count
        own = self.order.allocations.filter(balance__item__kind=ItemKind.BEADS)
        for hold in own.select_related("balance__item__batch__bead").order_by("pk"):
            stays = min(hold.quantity, kept.get(hold.balance_id, 0))
            kept[hold.balance_id] = kept.get(hold.balance_id, 0) - stays
            if stays < hold.quantity:
                assert hold.balance.item.batch is not None, "beads have their batch"
                self._spare(str(hold.balance.item.batch.bead), hold.quantity - stays, True)
                release(hold, hold.quantity - stays)
        rows = Balance.objects.in_bulk(list(more))
        for balance, count in more.items():
            if count:
                hold_for(self.order, rows[balance], count)
        return coming

    def _fit_jobs(self, costing: OrderCosting, coming: Mapping[int, int]) -> dict[str, int]:
        """Beads under way stay; those not moulded yet become more, fewer or none."""
        begun, more = self._to_begin(), {}
        by_bead = {int(bead.key): bead for bead in costing.beads if bead.to_make}
        for job in self.jobs:
            if job.pk in self.coming:
                taken = coming.get(job.pk, 0)
                self._spare(str(job.bead), max(0, job.needed - job.good - taken), False)
                self._need(job, job.good + taken)
            elif job.step in NOT_MOULDED:
                bead = by_bead.pop(job.bead_id, None)
                gap = (bead.to_make if bead else 0) - (job.needed - job.good)
                if gap > 0:
                    more[str(job.bead)] = gap
                self._begin(job, bead, gap)
        for key, bead in by_bead.items():
            job = WorkOrder(
                order=self.order, bead_id=key, step=WorkOrder.Step.GLASS,
                step_since=timezone.now(),
            )  # fmt: skip
            self._begin(job, bead, bead.to_make - begun.get(key, 0))
            more[bead.name] = bead.to_make
        return more

    @staticmethod
    def _need(job: WorkOrder, needed: int) -> None:
        if needed != job.needed:
            job.needed = needed
            job.save(update_fields=["needed"])

    def _begin(self, job: WorkOrder, bead: Any, gap: int) -> None:
        """So many of a job that is not moulded yet; one of which none is wanted goes."""
        if bead is not None:
            if gap or job.pk is None:
                job.needed, job.to_start, job.moulds = (
                    job.good + bead.to_make, bead.start, bead.fills,
                )  # fmt: skip
                job.save()
            if gap < 0:
                fit_room(job, person=self.person)
            return
        free_jobs([job], person=self.person)
        if job.good:
            job.needed, job.step = job.good, WorkOrder.Step.DONE
            job.save(update_fields=["needed", "step"])
        else:
            job.delete()

    def _spare(self, name: str, count: int, ready: bool) -> None:
        self.spared[name, ready] = self.spared.get((name, ready), 0) + count

    def _settle(self, costing: OrderCosting, promise: Promise, note: str | None) -> None:
        order, digits = self.order, self.business.money_digits
        order.total = sum(
            (round_half_up(line.price * line.strands, digits) for line in self.lines.values()), ZERO
        )
        order.cost, order.pocket = costing.cost, costing.pocket
        order.likely_on, order.p90_on = promise.likely_on, promise.p90_on
        order.due_on = order.due_on or promise.p90_on
        order.bench_min = bench_minutes(costing)
        if note is not None:
            order.note = note
        order.save()
        KeptWorking.keep(order, frozen_working(costing, promise, order))
        self._drop_lines()
        fit_glass_needs(order)
        free_spare_glass(order)
        fit_findings(order)
        glass_came_in(person=self.person)
        order.refresh_from_db(fields=["stage", "stage_since"])
        bring_up(order)

    def _drop_lines(self) -> None:
        """A line off goes; one that stands on a paper stays with none, for the paper's sake."""
        off = [line.pk for line in self.lines.values() if not line.strands]
        if off:
            OrderLine.every.filter(pk__in=off, paper_lines__isnull=True).delete()

    def _close(self) -> None:
        """When all that is still wanted was handed over, the order is at its end."""
        order = self.order
        if not order.lines.filter(handed__lt=F("strands")).exists():
            collect_order(order, person=self.person)
        if not strands_to_charge(order):
            give_back_the_rest(order, self.person, self.today)

    def _stands(self) -> Stood:
        digits = self.business.money_digits
        return Stood(
            {
                design: StoodLine(
                    line.strands, line.price, round_half_up(line.price * line.strands, digits)
                )
                for design, line in self.lines.items()
                if line.strands
            },
            self.order.total,
            self.order.told_on,
        )


__all__ = ["Change", "Stood", "StoodLine", "change_order", "look_at_change"]
