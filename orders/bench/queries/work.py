"""Today's work at the bench: to mould, to pierce, to paint, to finish, to string, to pack."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import ROUND_CEILING, Decimal

from django.db.models import F, Sum

from orders.bench.queries.packing import ToPack, orders_to_pack
from orders.drawn.strands import Draughtsman
from orders.firing.queries.piercing import RoundToPierce, rounds_to_pierce
from orders.firing.queries.waiting import Waiting, WaitingJob, waiting_on_firing
from orders.floor.glass_shelf import shares_by_bead, wanted_mg
from orders.floor.labour import ZERO, Amount, Labour
from orders.making.queries.findings import Lacking, findings_lacking
from orders.models import Order, OrderLine, Stage, WorkMinutes, WorkOrder
from stock.agreement import clashes
from stock.masses import fill_mg
from stock.models import (
    Balance,
    Bead,
    BeadBatch,
    BeadColour,
    GlassColour,
    GlassForm,
    KilnLoad,
    LoadTray,
    LocationKind,
)
from stock.services.beads import marked_heaps
from stock.services.places import COOLED, TO_PAINT
from workshop.days import soonest
from workshop.models import Skill
from workshop.physics.advice import Advice
from workshop.physics.shapes import ShapeError

Step = WorkOrder.Step


@dataclass(frozen=True)
class Weigh:
    """Glass of one colour to weigh out, in grams."""

    colour: GlassColour
    form: str
    grams: Decimal

    @property
    def form_label(self) -> str:
        return str(GlassForm(self.form).label)


@dataclass(frozen=True)
class BenchJob:
    """One piece of work on a job.

    beads    to mould; or lying there to be painted or finished
    good, rejected  as counted at the kiln, to start from when finishing
    minutes  by the workshop's rates
    load     the planned load that waits for it
    heaps    of a lot's or maker's glass that may be taken, by colour key
    clash    two of its glasses that must not be mixed
    """

    job: WorkOrder
    beads: int
    minutes: int
    weigh: tuple[Weigh, ...] = ()
    load: KilnLoad | None = None
    good: int = 0
    rejected: int = 0
    heaps: Mapping[int, Sequence[Balance]] = field(default_factory=dict)
    clash: Advice | None = None

    @property
    def order(self) -> Order:
        return self.job.order

    @property
    def moulds(self) -> int:
        return -(-self.beads // self.job.bead.mould.cavities)


@dataclass(frozen=True)
class BenchLine:
    """Strands of a line to be strung.

    missing  clasps, spacers and cord that its order lacks: of those, fewer can be strung
    """

    line: OrderLine
    strands: int
    minutes: int
    missing: tuple[Lacking, ...] = ()


@dataclass(frozen=True)
class ShelfBeads:
    """Beads of a batch for no open order that stand to be painted."""

    batch: BeadBatch
    beads: int
    minutes: int


@dataclass(frozen=True)
class BenchWork:
    to_mould: list[BenchJob]
    to_paint: list[BenchJob]
    to_finish: list[BenchJob]
    to_string: list[BenchLine]
    held_up: list[WaitingJob]
    to_pierce: list[RoundToPierce]
    no_round_yet: list[WaitingJob]
    to_pack: list[ToPack]
    shelf_to_paint: list[ShelfBeads]

    @property
    def minutes(self) -> int:
        everything: list[BenchJob | BenchLine | ToPack | ShelfBeads] = [
            *self.to_mould, *self.to_paint, *self.to_finish, *self.to_string, *self.to_pack,
            *self.shelf_to_paint,
        ]  # fmt: skip
        return sum(each.minutes for each in everything)

    def __bool__(self) -> bool:
        ready = self.to_mould or self.to_paint or self.to_finish or self.to_string
        return bool(ready or self.to_pierce or self.to_pack or self.shelf_to_paint)


def bench_work(orders: Iterable[Waiting] | None = None) -> BenchWork:
    """Everything the bench could do now, what a load waits for first (21 queries at most).

    orders  those that wait on firing, where they were read already
    """
    labour = Labour.in_force()
    orders = waiting_on_firing() if orders is None else orders
    waiting = [each for order in orders for each in order.jobs]
    to_mould = [each for each in waiting if each.glass_is_there and not each.busy]
    to_paint = [each for each in waiting if each.job.step == Step.PAINTING]
    held_up = [
        each
        for each in waiting
        if each.job.step in {Step.GLASS, Step.MOULDING} and (each.missing or each.busy)
    ]
    shares = shares_by_bead(each.job.bead_id for each in to_mould)
    choice = Choice.of(shares)
    finishing = list(_finishing())
    there = _beads_at([*(each.job for each in to_paint), *finishing])
    counted = _counted(finishing)
    return BenchWork(
        _soonest(
            _mould(each, shares.get(each.job.bead_id, []), labour, choice) for each in to_mould
        ),
        _soonest(_paint(each, there, labour) for each in to_paint),
        [_finish(job, there, counted, labour) for job in finishing],
        _lines(labour),
        held_up,
        rounds_to_pierce(),
        _no_round_yet(waiting),
        orders_to_pack(labour),
        _shelf_to_paint(labour),
    )


def _no_round_yet(waiting: Iterable[WaitingJob]) -> list[WaitingJob]:
    """Moulded beads that are pierced at the kiln and stand in no round yet."""
    return [
        each
        for each in waiting
        if each.job.step == Step.FIRING and each.job.bead.pierced_hot and each.load is None
    ]


def _soonest(jobs: Iterable[BenchJob]) -> list[BenchJob]:
    """What stands in the earliest load first; then by the order's day."""
    return sorted(
        jobs,
        key=lambda each: (
            each.load is None,
            each.load.starts_at if each.load else each.job.step_since,
            each.job.pk,
        ),
    )


def weigh_out(job: WorkOrder, shares: list) -> tuple[Weigh, ...]:
    """Glass of each colour for the beads a job starts."""
    wanted = wanted_mg(job, shares)
    return tuple(
        Weigh(
            share.colour,
            job.bead.moulded_from,
            (Decimal(wanted[share.colour_id]) / 1000).quantize(Decimal("0.1"), ROUND_CEILING),
        )
        for share in shares
    )


@dataclass(frozen=True)
class Choice:
    """What the hands who mould may choose between, and what they should know."""

    marked: Mapping[tuple[int, str], Sequence[Balance]]
    clashing: Mapping[int, Advice]

    @classmethod
    def of(cls, shares: Mapping[int, Sequence[BeadColour]]) -> "Choice":
        """For beads by their colour shares (2 queries; 1 where none is of several colours)."""
        colours = {bead: [row.colour for row in rows] for bead, rows in shares.items()}
        marked = marked_heaps({colour.pk for each in colours.values() for colour in each})
        return cls(marked, clashes(colours))

    def heaps(self, bead: Bead, shares: Iterable[BeadColour]) -> dict[int, Sequence[Balance]]:
        """Marked heaps of the glass that a bead's moulds take, by colour key."""
        keys = [(share.colour_id, bead.moulded_from) for share in shares]
        return {key[0]: self.marked[key] for key in keys if key in self.marked}


def _mould(each: WaitingJob, shares: list, labour: Labour, choice: Choice) -> BenchJob:
    job = each.job
    try:
        glass_g = fill_mg(job.bead, shares) * job.to_start / 1000 if shares else Decimal(0)
        weigh = weigh_out(job, shares)
    except ShapeError:
        glass_g, weigh = Decimal(0), ()
    amount = Amount(beads=job.to_start, moulds=job.moulds, glass_g=glass_g)
    minutes = labour.minutes(Skill.MOULDING, amount, job.bead)
    return BenchJob(
        job, job.to_start, round(minutes), weigh, each.load,
        heaps=choice.heaps(job.bead, shares), clash=choice.clashing.get(job.bead_id),
    )  # fmt: skip


def _paint(each: WaitingJob, there: dict, labour: Labour) -> BenchJob:
    beads = there.get((each.job.batch_id, TO_PAINT), 0)
    minutes = labour.minutes(Skill.PAINTING, Amount(beads=beads), each.job.bead)
    return BenchJob(each.job, beads, round(minutes), load=each.load)


def _shelf_to_paint(labour: Labour) -> list[ShelfBeads]:
    """Batches for no open order whose first firing is over, the oldest first (1 query)."""
    rows = (
        Balance.objects.at(LocationKind.BENCH)
        .free()
        .filter(place__code=TO_PAINT, item__batch__isnull=False)
        .exclude(item__batch__jobs__order__state=Order.State.CONFIRMED)
        .select_related("item__batch__bead")
        .order_by("item__batch__number")
    )
    found = []
    for row in rows:
        batch, beads = row.item.batch, row.free_quantity
        assert batch is not None
        minutes = labour.minutes(Skill.PAINTING, Amount(beads=beads), batch.bead)
        found.append(ShelfBeads(batch, beads, round(minutes)))
    return found


def _finishing() -> Iterable[WorkOrder]:
    return (
        WorkOrder.objects.filter(
            order__state=Order.State.CONFIRMED, step=Step.FINISHING, batch__isnull=False
        )
        .select_related("order__customer", "bead__mould", "batch")
        .order_by(soonest("order__due_on"), "order__number", "pk")
    )


def _finish(job: WorkOrder, there: dict, counted: dict, labour: Labour) -> BenchJob:
    beads = there.get((job.batch_id, COOLED), 0)
    rejected = min(beads, counted.get(job.batch_id, 0))
    amount = Amount(beads=beads)
    minutes = labour.minutes(Skill.POLISHING, amount, job.bead)
    return BenchJob(job, beads, round(minutes), good=beads - rejected, rejected=rejected)


def _beads_at(jobs: Iterable[WorkOrder]) -> dict[tuple[int | None, str], int]:
    """Beads on the bench by batch and spot (1 query)."""
    rows = Balance.objects.at(LocationKind.BENCH).filter(
        item__batch__in={job.batch_id for job in jobs}, quantity__gt=0
    )
    return {
        (row.item.batch_id, row.place.spot): row.quantity
        for row in rows.select_related("item", "place")
    }


def _counted(jobs: Iterable[WorkOrder]) -> dict[int, int]:
    """Rejects that were counted when the last firing's trays were opened, by batch (1 query)."""
    firings = {job.batch_id: job.bead.firings for job in jobs}
    rows = (
        LoadTray.objects.filter(batch__in=firings, rejected__isnull=False)
        .order_by()
        .values("batch", "firing")
        .annotate(rejected=Sum("rejected"))
    )
    return {row["batch"]: row["rejected"] for row in rows if row["firing"] == firings[row["batch"]]}


def _lines(labour: Labour) -> list[BenchLine]:
    """Lines whose beads all lie finished on the shelf (3 queries; 2 more where
    findings lack, 1 more where there is work on a piece)."""
    rows = (
        OrderLine.objects.filter(
            order__state=Order.State.CONFIRMED,
            order__stage=Stage.FINISHED,
            strung__lt=F("strands"),
        )
        .with_designs()
        .select_related("order__customer")
        .order_by(soonest("order__due_on"), "order__number", "position")
    )
    lines, lacking = list(rows), findings_lacking()
    takes = Draughtsman([line.design for line in lines]) if lacking else None
    own = _work_minutes(lines)
    found = []
    for line in lines:
        left = line.strands - line.strung
        minutes = own.get(line.design_id, ZERO) * left
        if not (line.design.is_loose or line.design.is_work):
            minutes = labour.minutes(Skill.STRINGING, Amount(strands=left))
        missing = tuple(
            each
            for each in lacking
            if takes is not None
            and each.order.pk == line.order_id
            and each.finding.pk in takes.findings(line.design_id)
        )
        found.append(BenchLine(line, left, round(minutes), missing))
    return found


def _work_minutes(lines: Iterable[OrderLine]) -> dict[int, Decimal]:
    """Minutes of one piece of work, by its design; loose beads are counted out and take none."""
    designs = {line.design_id for line in lines if line.design.is_work}
    found: dict[int, Decimal] = {}
    for row in WorkMinutes.objects.filter(design__in=designs) if designs else ():
        found[row.design_id] = found.get(row.design_id, ZERO) + row.minutes
    return found
