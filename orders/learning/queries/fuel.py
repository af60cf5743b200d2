"""Fuel of the loads that were weighed, and what it says about a kiln's efficiency."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from decimal import Decimal

from django.db.models import QuerySet

from orders.floor.glass_shelf import shares_by_bead
from orders.learning.queries.row import Kind, LearnedRow, five_places
from orders.learning.sums import mean, ratio
from stock.masses import fill_mg
from stock.models import BeadColour, KilnLoad
from workshop.days import day_begins
from workshop.models import Kiln, WayOfWorking
from workshop.physics.heat import heat_mj, heating_value_mj
from workshop.physics.shapes import ShapeError


def _weighed(since: date | None) -> QuerySet[KilnLoad]:
    # The fuel of a kiln kept hot is that of a whole run, see `bodies`.
    loads = KilnLoad.objects.filter(
        fuel_used__gt=0, state=KilnLoad.State.COOLED, kiln__way=WayOfWorking.CLOSED
    )
    if since is not None:
        loads = loads.filter(starts_at__gte=day_begins(since))
    return loads.select_related("kiln").order_by("starts_at")


def fuel(since: date | None = None) -> list[LearnedRow]:
    """Fuel of a load by kiln, weighed (1 query)."""
    used: dict[Kiln, list[Decimal]] = defaultdict(list)
    for load in _weighed(since):
        used[load.kiln].append(load.fuel_used)
    rows = []
    for kiln, amounts in used.items():
        found = mean(amounts)
        rows.append(
            LearnedRow(
                Kind.FUEL,
                kiln.pk,
                kiln.name,
                None if kiln.fuel_per_load is None else kiln.fuel_per_load.normalize(),
                replace(found, value=found.value.quantize(Decimal("0.001")).normalize()),
                len(amounts),
                "kWh" if kiln.fuel == "electricity" else "kg",
            )
        )
    return sorted(rows, key=lambda row: row.subject)


def efficiency(since: date | None = None) -> list[LearnedRow]:
    """Efficiency of each kiln: heat its weighed loads took up, over the heat of their fuel.

    Heat as costing counts it: glass and moulds from 25 °C to the temperature the load was held
    at, so that fuel worked out with the efficiency comes out as it was weighed. All heat over all
    fuel, so that a large load counts for more (5 queries).
    """
    measured: dict[Kiln, list[tuple[Decimal, Decimal]]] = defaultdict(list)
    for load, heat, held in heat_by_load(_weighed(since)):
        measured[load.kiln].append((heat, load.fuel_used * held))
    rows = [_efficiency_row(kiln, pairs) for kiln, pairs in measured.items()]
    return sorted(rows, key=lambda row: row.subject)


def heat_by_load(loads: QuerySet[KilnLoad]) -> Iterable[tuple[KilnLoad, Decimal, Decimal]]:
    """Each load with the heat it took up [MJ] and that of a kg (or kWh) of its fuel (4 queries).

    Loads with nothing in them, or with a bead that has no size, are left out.
    """
    found = list(loads.select_related("kiln").prefetch_related("trays__bead__mould"))
    colours = shares_by_bead(tray.bead_id for load in found for tray in load.trays.all())
    for load in found:
        heat = _heat_of(load, colours)
        if heat > 0:
            yield load, heat, heating_value_mj(load.kiln.fuel, load.kiln.moisture)


def _heat_of(load: KilnLoad, colours: dict[int, list[BeadColour]]) -> Decimal:
    """Heat into the glass and the moulds of a load [MJ]; 0 where a bead has no size."""
    glass_g = clay_g = Decimal(0)
    for tray in load.trays.all():
        clay_g += tray.moulds * tray.bead.mould.clay_g
        try:
            each_mg = fill_mg(tray.bead, colours.get(tray.bead_id, []))
        except ShapeError:
            return Decimal(0)
        if tray.is_second_firing:
            each_mg *= 1 - tray.bead.spill_share  # what the mould spilled is not there any more
        glass_g += each_mg * tray.beads / 1000
    return heat_mj(glass_g, clay_g, Decimal(load.hold_c))


def _efficiency_row(kiln: Kiln, pairs: list[tuple[Decimal, Decimal]]) -> LearnedRow:
    found = five_places(ratio(pairs))
    return LearnedRow(
        Kind.EFFICIENCY,
        kiln.pk,
        kiln.name,
        kiln.efficiency.normalize(),
        replace(found, high=None if found.high is None else min(Decimal(1), found.high)),
        len(pairs),
        "share",
        in_use=kiln.fuel_per_load is None,
    )
