"""What a kiln load costs, and what of it goes into the beads of each tray."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.utils import timezone

from stock.masses import fill_mg, finished_mg
from stock.models import Bead, ChargeName, KilnLoad, LoadTray
from stock.runs import kiln_heat_mj
from stock.services.moves import Cost, split_whole
from stock.services.standards import Standards
from workshop.costs.amounts import ONE, SIX_PLACES, ZERO, six
from workshop.costs.kiln import LoadCost, share_in_goods
from workshop.models import Kiln, LabourRate, Skill
from workshop.physics.heat import heat_mj, heating_value_mj
from workshop.rates import Amount

MG_PER_G = 1000
NAMES = {
    "fuel": ChargeName.FUEL,
    "hands": ChargeName.HANDS,
    "workshop": ChargeName.WORKSHOP,
    "kiln wear": ChargeName.WEAR,
}


def fuel_of_load(
    kiln: Kiln, fill: Decimal, bead: Bead, *, hold_c: Decimal, firing: int = 1
) -> Decimal:
    """Fuel of a usual load, kg or kWh: as weighed, else the heat of a usual load of one bead.

    A usual load then holds so many fillings of the bead's mould, with their clay and glass, as
    fill the usual places. Source of the heat: workshop/physics/heat.py.
    """
    if kiln.fuel_per_load is not None:
        return Decimal(kiln.fuel_per_load)
    mould = bead.mould
    fills = fill * kiln.places / mould.places
    each = finished_mg(bead) if firing == 2 else fill_mg(bead) * (1 - Decimal(bead.spill_share))
    heat = heat_mj(fills * mould.cavities * each / MG_PER_G, fills * mould.clay_g, hold_c)
    if kiln.knows_its_heat:
        programme = bead.second_programme if firing == 2 else bead.programme
        assert programme is not None and kiln.fire_efficiency is not None
        heat += kiln_heat_mj(kiln, Decimal(programme.hold_min))
        value = heating_value_mj(kiln.fuel, Decimal(kiln.moisture))
        return heat / Decimal(kiln.fire_efficiency) / value
    return heat / Decimal(kiln.efficiency) / heating_value_mj(kiln.fuel, Decimal(kiln.moisture))


def load_cost(
    kiln: Kiln, bead: Bead, standards: Standards, *, hold_c: Decimal, firing: int = 1
) -> LoadCost:
    """What a usual load of a bead costs (L): fuel, tending, workshop, wear."""
    fill = standards.usual_fill(kiln).share
    fuel = fuel_of_load(kiln, fill, bead, hold_c=hold_c, firing=firing) * kiln.fuel_price
    hands = shop = ZERO
    for rate, part in _tending(kiln, standards, bead):
        minutes = standards.minutes_each(rate, bead) * part
        if rate.piece is None:
            hands += minutes * standards.minute_pay(rate)
        else:
            hands += standards.piece_each(rate, bead) * part
        shop += minutes * standards.workshop_minute
    return LoadCost(fuel, hands, shop, kiln.wear_per_load)


def _tending(kiln: Kiln, standards: Standards, bead: Bead) -> list[tuple[LabourRate, Decimal]]:
    """Rates of tending, with the part of each that one load bears.

    What is done once a run is borne by its usual rounds alike; a closed kiln has no runs.
    """
    rates = standards.rates.of(Skill.FIRING, bead.kind)
    found = [(rate, ONE) for rate in rates if rate.basis == LabourRate.Basis.LOAD]
    by_run = [rate for rate in rates if rate.basis == LabourRate.Basis.RUN]
    if by_run and kiln.is_kept_hot:
        part = ONE / standards.rounds_a_run(kiln)
        found += [(rate, part) for rate in by_run]
    return found


def tending_minutes(kiln: Kiln, standards: Standards, bead: Bead) -> Decimal:
    """Standard minutes of tending one load of a bead, its part of the run included."""
    tending = _tending(kiln, standards, bead)
    return sum((standards.minutes_each(rate, bead) * part for rate, part in tending), ZERO)


@dataclass(frozen=True)
class _Tray:
    row: LoadTray
    places: int
    cost: LoadCost


def charges_of_load(load: KilnLoad, trays: Sequence[LoadTray]) -> dict[int, list[Cost]]:
    """What an ended load puts into the beads of each tray, by the tray's key.

    By places, at a usual fill: a fuller load is cheaper for all in it, an emptier one no dearer.
    `load.kiln` and `tray.bead.mould` come with the rows.
    """
    standards = Standards(_day_of(load))
    kiln = load.kiln
    hold_c = Decimal(load.hold_c)
    known: dict[tuple[int, int], LoadCost] = {}
    filled = []
    for tray in trays:
        key = (tray.bead_id, tray.firing)
        if key not in known:
            known[key] = load_cost(kiln, tray.bead, standards, hold_c=hold_c, firing=tray.firing)
        filled.append(_Tray(tray, tray.moulds * tray.bead.mould.places, known[key]))
    whole = sum(each.places for each in filled)
    if not whole:
        return {}
    share = share_in_goods(whole, kiln.places, standards.usual_fill(kiln).share)
    found: dict[int, list[Cost]] = {each.row.pk: [] for each in filled}
    for part, name in NAMES.items():
        for each, amount in zip(filled, _split(part, filled, whole, share), strict=True):
            found[each.row.pk] += _part(name, amount, each, whole, share, standards, kiln)
    for each in filled:
        found[each.row.pk] += _by_tray(each, standards)
    return found


def _split(part: str, trays: Sequence[_Tray], whole: int, share: Decimal) -> list[Decimal]:
    """A part of the load's cost over its trays: rounded once for all, if it is one for all."""
    costs = [each.cost.parts[part] for each in trays]
    if len(set(costs)) == 1:
        millionths = int(six(costs[0] * share) / SIX_PLACES)
        return [n * SIX_PLACES for n in split_whole(millionths, [each.places for each in trays])]
    return [
        six(cost * share * each.places / whole) for cost, each in zip(costs, trays, strict=True)
    ]


def _part(
    name: str,
    amount: Decimal,
    each: _Tray,
    whole: int,
    share: Decimal,
    standards: Standards,
    kiln: Kiln,
) -> list[Cost]:
    minutes = ZERO
    if name in {ChargeName.HANDS, ChargeName.WORKSHOP}:
        minutes = tending_minutes(kiln, standards, each.row.bead) * share * each.places / whole
    if not amount and not minutes:
        return []
    steps = _tending(kiln, standards, each.row.bead)
    step = steps[0][0].step_id if minutes and steps else ""
    return [Cost(name, amount, step, Decimal(each.places), minutes=minutes)]


def _by_tray(each: _Tray, standards: Standards) -> list[Cost]:
    """What a tray bears for itself: steps by the mould or bead, and a second filling's wear."""
    tray = each.row
    amount = Amount(beads=tray.beads, moulds=tray.moulds)
    costs = standards.steps(Skill.FIRING, amount, bead=tray.bead)
    if tray.firing == 2:
        costs += standards.fills(tray.bead.mould, tray.moulds)
    return costs


def _day_of(load: KilnLoad) -> date:
    return timezone.localtime(load.ended_at).date() if load.ended_at else timezone.localdate()
