"""The demo's weighed fuel: a fire with moods of its own, not the formula the program reckons by.

Invented: each kiln has a body and walls that nobody wrote down, every day its draught and every
basket its damp. What the records teach is therefore a test of the teaching.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from random import Random

from orders.learning.queries.fuel import heat_by_load
from stock.models import KilnLoad

HUNDREDTH = Decimal("0.01")


@dataclass(frozen=True)
class Fire:
    """What a kiln's fire really does: heat of its body [MJ], of its walls [MJ an hour], and the
    share of the fuel that stays in the chamber on a fair day."""

    body: float
    walls: float
    share: float


FIRES = {
    "Clay kiln": Fire(61.0, 26.1, 0.35),
    "Small kiln": Fire(6.5, 5.2, 0.47),
    "Tall kiln": Fire(38.0, 27.0, 0.34),
}
AVERAGE = Fire(20.0, 12.0, 0.40)


def weigh_fuel() -> None:
    """Weigh the fuel of every closed load that has cooled, and of every run of a kiln kept hot."""
    loads = []
    for run in _runs(heat_by_load(KilnLoad.objects.filter(state="cooled"))):
        first, held_mj = run[0][0], run[0][2]
        contents = sum(float(heat) for _load, heat, _held in run)
        amount = _burnt(first, contents, _hours(load for load, _h, _m in run)) / float(held_mj)
        first.fuel_used = max(HUNDREDTH, Decimal(str(round(amount, 2))))
        loads.append(first)
    KilnLoad.objects.bulk_update(loads, ["fuel_used"])


def _burnt(load: KilnLoad, contents: float, hours: float) -> float:
    """Heat of the fuel, by a day's own draught and a basket's own damp."""
    fire = FIRES.get(load.kiln.name, AVERAGE)
    dice = Random(load.number * 7919)
    draught = dice.lognormvariate(0, 0.05)
    walls = fire.walls * hours * dice.uniform(0.94, 1.07)
    needed = fire.body * dice.uniform(0.93, 1.08) + walls + contents
    return needed * draught / fire.share + dice.uniform(0, 6)


def _hours(loads: Iterable[KilnLoad]) -> float:
    """From lighting to the last mould out; of a closed load while the fire is on."""
    found = list(loads)
    first, last = found[0], found[-1]
    if first.kiln.is_kept_hot and first.started_at and last.started_at:
        return (last.started_at - first.started_at).total_seconds() / 3600 + (
            last.free_after_min or 0
        ) / 60
    return (first.kiln.preheat_min + first.hold_min) / 60


Heated = tuple[KilnLoad, Decimal, Decimal]


def _runs(heated: Iterable[Heated]) -> Iterable[list[Heated]]:
    """Closed loads one by one, rounds of a kiln kept hot by their runs."""
    runs: dict[int, list[Heated]] = {}
    rows = sorted(heated, key=lambda row: (row[0].kiln_id, row[0].starts_at, row[0].number))
    for load, heat, held in rows:
        if not load.kiln.is_kept_hot:
            yield [(load, heat, held)]
        elif load.lit or load.kiln_id not in runs:
            if load.kiln_id in runs:
                yield runs[load.kiln_id]
            runs[load.kiln_id] = [(load, heat, held)]
        else:
            runs[load.kiln_id].append((load, heat, held))
    yield from runs.values()
