"""What a kiln load costs, and what of it goes into the beads of each tray."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.utils import timezone

from stock.masses import fill_mg, finished_mg
from stock.models import Bead, ChargeName, KilnLoad, LoadTray
from stock.runs import kiln_heat_mj, places_of_runs, run_heat_mj
from stock.services.moves import Cost, split_whole
from stock.services.standards import Standards
from workshop.costs.amounts import ONE, SIX_PLACES, ZERO, six
from workshop.costs.kiln import LoadCost, share_in_goods
from workshop.costs.kiln_share import UsualRun, share_of_run
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
    kiln: Kiln, standards: Standards, bead: Bead, *, hold_c: Decimal, firing: int
) -> Decimal:
    """Fuel of a usual load, kg or kWh: as weighed, else the heat of a usual load of one bead.

    A usual load then holds so many fillings of the bead's mould, with their clay and glass, as
    fill the usual places. Source of the heat: workshop/physics/heat.py.
    """
    if kiln.fuel_per_load is not None:
        return Decimal(kiln.fuel_per_load)
    mould = bead.mould
    fills = standards.usual_fill(kiln).share * kiln.places / mould.places
    each = finished_mg(bead) if firing == 2 else fill_mg(bead) * (1 - Decimal(bead.spill_share))
    heat = heat_mj(fills * mould.cavities * each / MG_PER_G, fills * mould.clay_g, hold_c)
    if kiln.knows_its_heat:
        programme = bead.second_programme if firing == 2 else bead.programme
        assert programme is not None
        run = standards.usual_run(kiln)
        waits = ZERO
        if run is not None and firing == 1 and bead.pierce_min and not bead.drawn_together:
            waits = fills * bead.pierce_min / standards.piercing_hands
        heat += kiln_heat_mj(kiln, Decimal(programme.hold_min), run, waits)
        return _fuel_of_heat(kiln, heat)
    return heat / Decimal(kiln.efficiency) / heating_value_mj(kiln.fuel, Decimal(kiln.moisture))


def _fuel_of_heat(kiln: Kiln, heat: Decimal) -> Decimal:
    assert kiln.fire_efficiency is not None
    value = heating_value_mj(kiln.fuel, Decimal(kiln.moisture))
    return heat / Decimal(kiln.fire_efficiency) / value


def load_cost(
    kiln: Kiln, bead: Bead, standards: Standards, *, hold_c: Decimal, firing: int = 1
) -> LoadCost:
    """What a usual load of a bead costs (L): fuel, tending, workshop, wear."""
    fuel = fuel_of_load(kiln, standards, bead, hold_c=hold_c, firing=firing) * kiln.fuel_price
    hands, shop = _tended(_tending(kiln, standards, bead), standards, bead)
    return LoadCost(fuel, hands, shop, kiln.wear_per_load)


def run_cost(kiln: Kiln, bead: Bead, standards: Standards) -> LoadCost:
    """What of a usual round's cost is spent once a run: warming up, waiting hot, lighting.

    Fuel that was weighed by the load is the round's own: nobody knows what of it warmed the kiln.
    """
    run = standards.usual_run(kiln)
    if run is None:
        return LoadCost()
    fuel = ZERO
    if kiln.fuel_per_load is None and kiln.knows_its_heat:
        fuel = _fuel_of_heat(kiln, run_heat_mj(kiln, run)) * kiln.fuel_price
    hands, shop = _tended(_run_tending(kiln, standards, bead), standards, bead)
    return LoadCost(fuel, hands, shop)


Tending = list[tuple[LabourRate, Decimal]]
"""Rates of tending, with the part of each that one load bears."""


def _tending(kiln: Kiln, standards: Standards, bead: Bead) -> Tending:
    rates = standards.rates.of(Skill.FIRING, bead.kind)
    found = [(rate, ONE) for rate in rates if rate.basis == LabourRate.Basis.LOAD]
    return found + _run_tending(kiln, standards, bead)


def _run_tending(kiln: Kiln, standards: Standards, bead: Bead) -> Tending:
    """What is done once a run is borne by its usual rounds alike; a closed kiln has no runs."""
    run = standards.usual_run(kiln)
    if run is None:
        return []
    rates = standards.rates.of(Skill.FIRING, bead.kind)
    by_run = [rate for rate in rates if rate.basis == LabourRate.Basis.RUN]
    return [(rate, ONE / run.rounds) for rate in by_run]


def _tended(tending: Tending, standards: Standards, bead: Bead) -> tuple[Decimal, Decimal]:
    """Pay of tending, and what its minutes bear of the workshop."""
    hands = shop = ZERO
    for rate, part in tending:
        minutes = standards.minutes_each(rate, bead) * part
        if rate.piece is None:
            hands += minutes * standards.minute_pay(rate)
        else:
            hands += standards.piece_each(rate, bead) * part
        shop += minutes * standards.workshop_minute
    return hands, shop


def tending_minutes(kiln: Kiln, standards: Standards, bead: Bead) -> Decimal:
    """Standard minutes of tending one load of a bead, its part of the run included."""
    return _minutes(_tending(kiln, standards, bead), standards, bead)


def _minutes(tending: Tending, standards: Standards, bead: Bead) -> Decimal:
    return sum((standards.minutes_each(rate, bead) * part for rate, part in tending), ZERO)


@dataclass(frozen=True)
class InGoods:
    """How much of a usual load's own cost, and of its part of a run, goes into goods."""

    own: Decimal
    run: Decimal

    def of(self, whole: Decimal, once_a_run: Decimal) -> Decimal:
        return (whole - once_a_run) * self.own + once_a_run * self.run


def in_goods(
    load: KilnLoad, filled: int, in_run: int | None, fill: Decimal, run: UsualRun | None
) -> InGoods:
    """By the places filled in the load, and in all rounds of its run that have begun."""
    own = share_in_goods(filled, load.kiln.places, fill)
    if run is None or in_run is None:
        return InGoods(own, own)
    in_run = max(in_run, filled)
    return InGoods(own, share_of_run(filled, in_run, load.kiln.places, fill, run.rounds))


@dataclass(frozen=True)
class _Tray:
    row: LoadTray
    places: int
    cost: LoadCost
    run: LoadCost


def charges_of_load(load: KilnLoad, trays: Sequence[LoadTray]) -> dict[int, list[Cost]]:
    """What an ended load puts into the beads of each tray, by the tray's key.

    By places, at a usual fill: a fuller load is cheaper for all in it, an emptier one no dearer.
    Warm-up and waiting of a run go by the places of all its rounds begun so far.
    `load.kiln` and `tray.bead.mould` come with the rows.
    """
    standards = Standards(_day_of(load))
    kiln = load.kiln
    hold_c = Decimal(load.hold_c)
    known: dict[tuple[int, int], tuple[LoadCost, LoadCost]] = {}
    filled = []
    for tray in trays:
        key = (tray.bead_id, tray.firing)
        if key not in known:
            whole = load_cost(kiln, tray.bead, standards, hold_c=hold_c, firing=tray.firing)
            known[key] = whole, run_cost(kiln, tray.bead, standards)
        filled.append(_Tray(tray, tray.moulds * tray.bead.mould.places, *known[key]))
    taken = sum(each.places for each in filled)
    if not taken:
        return {}
    fill, run = standards.usual_fill(kiln).share, standards.usual_run(kiln)
    share = in_goods(load, taken, places_of_runs([load]).get(load.pk), fill, run)
    found: dict[int, list[Cost]] = {each.row.pk: [] for each in filled}
    for part, name in NAMES.items():
        for each, amount in zip(filled, _split(part, filled, taken, share), strict=True):
            found[each.row.pk] += _part(name, amount, each, taken, share, standards, kiln)
    for each in filled:
        found[each.row.pk] += _by_tray(each, standards)
    return found


def _split(part: str, trays: Sequence[_Tray], taken: int, share: InGoods) -> list[Decimal]:
    """A part of the load's cost over its trays: rounded once for all, if it is one for all."""
    costs = [share.of(each.cost.parts[part], each.run.parts[part]) for each in trays]
    if len(set(costs)) == 1:
        millionths = int(six(costs[0]) / SIX_PLACES)
        return [n * SIX_PLACES for n in split_whole(millionths, [each.places for each in trays])]
    return [six(cost * each.places / taken) for cost, each in zip(costs, trays, strict=True)]


def _part(
    name: str,
    amount: Decimal,
    each: _Tray,
    taken: int,
    share: InGoods,
    standards: Standards,
    kiln: Kiln,
) -> list[Cost]:
    bead, minutes = each.row.bead, ZERO
    steps = _tending(kiln, standards, bead)
    if name in {ChargeName.HANDS, ChargeName.WORKSHOP}:
        once_a_run = _minutes(_run_tending(kiln, standards, bead), standards, bead)
        minutes = share.of(_minutes(steps, standards, bead), once_a_run) * each.places / taken
    if not amount and not minutes:
        return []
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
