"""Heat of a kiln's body and its loss while hot, from runs whose fuel was weighed."""

from collections import defaultdict
from datetime import date, datetime, timedelta
from decimal import Decimal

from orders.learning.queries.fuel import heat_by_load
from orders.learning.queries.row import Kind, LearnedRow
from orders.learning.sums import Learned
from stock.models import KilnLoad
from workshop.days import day_begins
from workshop.models import Kiln, WayOfWorking
from workshop.physics.heat import heating_value_mj
from workshop.physics.kiln_body import LEAST_RUNS, BodyAndLoss, body_and_loss
from workshop.physics.sentences import PhysicsError
from workshop.physics.spread import t_quantile

CONFIDENCE = 0.90
HUNDREDTH, THOUSANDTH = Decimal("0.01"), Decimal("0.001")


class _Run:
    """One lighting of a kiln: its hours, what lay in its rounds, and the fuel weighed for it."""

    def __init__(self) -> None:
        self.lit: datetime | None = None
        self.out: datetime | None = None
        self.contents_mj = 0.0
        self.fuel = 0.0

    def add(self, load: KilnLoad, contents_mj: Decimal) -> None:
        if load.started_at is None or load.free_after_min is None:
            return
        self.lit = self.lit or load.started_at
        self.out = load.started_at + timedelta(minutes=load.free_after_min)
        self.contents_mj += float(contents_mj)
        self.fuel += float(load.fuel_used or 0)

    @property
    def hours(self) -> float:
        if self.lit is None or self.out is None:
            return 0.0
        return (self.out - self.lit).total_seconds() / 3600


def bodies(since: date | None = None) -> list[LearnedRow]:
    """Body and loss of every kiln kept hot whose fire's efficiency is written down (4 queries).

    By least squares over its weighed runs; the efficiency of the fire is not fitted, since
    contents grow with the hours. An interval is told only where there is something to trust.
    """
    rows = []
    for kiln, runs in _weighed_runs(since).items():
        found = _fit(kiln, runs)
        if found is not None:
            rows += _rows(kiln, found)
    return sorted(rows, key=lambda row: (row.subject, row.kind))


def _weighed_runs(since: date | None) -> dict[Kiln, list[_Run]]:
    loads = KilnLoad.objects.filter(
        state=KilnLoad.State.COOLED,
        kiln__way=WayOfWorking.HOT,
        kiln__fire_efficiency__isnull=False,
    )
    if since is not None:
        loads = loads.filter(starts_at__gte=day_begins(since))
    runs: dict[Kiln, list[_Run]] = defaultdict(list)
    for load, heat_mj, _held in heat_by_load(loads.order_by("kiln_id", "starts_at", "number")):
        own = runs[load.kiln]
        if load.lit or not own:
            own.append(_Run())
        own[-1].add(load, heat_mj)
    return {
        kiln: [run for run in own if run.fuel > 0 and run.hours > 0] for kiln, own in runs.items()
    }


def _fit(kiln: Kiln, runs: list[_Run]) -> BodyAndLoss | None:
    if len(runs) < LEAST_RUNS or kiln.fire_efficiency is None:
        return None
    value = heating_value_mj(kiln.fuel, kiln.moisture)
    weighed = [(run.hours, run.contents_mj, run.fuel) for run in runs]
    try:
        return body_and_loss(weighed, float(value), float(kiln.fire_efficiency))
    except PhysicsError:
        return None


def _rows(kiln: Kiln, found: BodyAndLoss) -> list[LearnedRow]:
    t = t_quantile((1 + CONFIDENCE) / 2, found.freedom)
    trusted = found.enough(t)
    return [
        LearnedRow(
            kind, kiln.pk, kiln.name, None if standard is None else standard.normalize(),
            _learned(value, se * t if trusted else None, step, found.runs), found.runs, unit,
            known_from="" if standard is None else str(known_from),
        )
        for kind, standard, known_from, value, se, step, unit in (
            (Kind.BODY, kiln.body_mj, kiln.get_body_from_display(), found.body_mj, found.body_se,
             HUNDREDTH, "MJ"),
            (Kind.LOSS, kiln.loss_kw, kiln.get_loss_from_display(), found.loss_kw, found.loss_se,
             THOUSANDTH, "kW"),
        )
    ]  # fmt: skip


def _learned(value: float, half: float | None, step: Decimal, runs: int) -> Learned:
    def figure(number: float) -> Decimal:
        return Decimal(str(round(number, 6))).quantize(step).normalize()

    low = None if half is None else figure(value - half)
    high = None if half is None else figure(value + half)
    return Learned(figure(value), runs, low, high, CONFIDENCE, "line")
