"""Loads as the kiln keeper looks at them: their times, and what physics says about a load."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal

from django.utils import timezone
from django.utils.translation import gettext as _

from orders.floor.glass_shelf import SharesByBead
from orders.floor.labour import ZERO
from stock.masses import fill_mg
from stock.models import KilnLoad, LoadTray
from stock.runs import kiln_heat_mj, usual_runs
from workshop import formats
from workshop.models import Fuel
from workshop.physics.heat import heat_mj, heating_value_mj
from workshop.physics.shapes import ShapeError


@dataclass(frozen=True)
class Times:
    """When a load is lit, held, left to cool and opened.

    Of a round in a kiln kept hot: lit or the kiln opened for it, at its heat, the first mould out,
    and the last bead pierced.
    """

    lit: datetime
    held: datetime
    cooling: datetime
    opened: datetime
    goes_in: datetime | None = None
    free: datetime | None = None


def times_of(load: KilnLoad) -> Times:
    """By the clock of the kiln's own preheat and cooling; `kiln` must come with the load."""
    lit = timezone.localtime(load.started_at or load.starts_at)
    if load.kiln.is_kept_hot:
        return _round_times(load, lit)
    if load.free_after_min is not None:
        held = lit + timedelta(minutes=load.kiln.preheat_min)
        opened = lit + timedelta(minutes=load.free_after_min)
        return Times(lit, held, held + timedelta(minutes=load.hold_min), opened)
    held = lit + timedelta(minutes=load.kiln.preheat_min)
    cooling = held + timedelta(minutes=load.hold_min)
    return Times(lit, held, cooling, cooling + timedelta(minutes=load.kiln.cooling_min))


def _round_times(load: KilnLoad, opened: datetime) -> Times:
    """A round that no plan gave its minutes is reckoned as one the kiln is lit for."""
    kiln = load.kiln
    goes_in = load.in_after_min
    if goes_in is None:
        goes_in = (kiln.warm_up_min or 0) if load.lit else 0
    first = load.first_after_min
    if first is None:
        first = goes_in + (kiln.change_min or 0) + load.hold_min
    free = first if load.free_after_min is None else load.free_after_min
    done = free if load.done_after_min is None else load.done_after_min

    def at(minutes: int) -> datetime:
        return opened + timedelta(minutes=minutes)

    return Times(
        opened, at(first - load.hold_min), at(first), at(done), goes_in=at(goes_in), free=at(free)
    )


def cold_at(load: KilnLoad, trays: Iterable[LoadTray]) -> datetime:
    """From when the beads of a load are cold, and may be taken out and counted.

    Out of a kiln kept hot: the longest annealing among them, from the last one pierced, as logged
    or as planned. Out of a closed one: when it may be opened. `bead` must come with the trays.
    """
    times = times_of(load)
    if not load.kiln.is_kept_hot:
        return times.opened
    out = timezone.localtime(load.pierced_until) if load.pierced_until else times.opened
    return out + timedelta(minutes=max((tray.bead.anneal_min for tray in trays), default=0))


def places_taken(trays: Iterable[LoadTray]) -> int:
    """`bead__mould` must come with the trays."""
    return sum(tray.moulds * tray.bead.mould.places for tray in trays)


@dataclass(frozen=True)
class FuelExpected:
    """So much fuel, its unit, and how that was found."""

    amount: Decimal
    unit: str
    how: str


def fuel_expected(load: KilnLoad, trays: Sequence[LoadTray], colours: SharesByBead) -> FuelExpected:
    """Fuel of the whole load: as weighed for a usual one, else from the heat it takes.

    colours  of the beads in it
    """
    kiln = load.kiln
    unit = "kWh" if kiln.fuel == Fuel.ELECTRICITY else "kg"
    if kiln.fuel_per_load is not None:
        return FuelExpected(kiln.fuel_per_load, unit, _("weighed for a usual load"))
    glass_g, clay_g = ZERO, ZERO
    for tray in trays:
        clay_g += tray.moulds * tray.bead.mould.clay_g
        try:
            glass_g += fill_mg(tray.bead, colours.get(tray.bead_id, [])) * tray.beads / 1000
        except ShapeError:
            continue
    heat = heat_mj(glass_g, clay_g, Decimal(load.hold_c))
    if kiln.knows_its_heat:
        return _by_body_and_loss(load, heat, unit)
    amount = heat / kiln.efficiency / heating_value_mj(kiln.fuel, kiln.moisture)
    how = _("%(heat)s MJ into glass and clay, %(share)s of the fuel's heat reaches them") % {
        "heat": formats.decimal(heat, 1),
        "share": formats.percent(kiln.efficiency),
    }
    return FuelExpected(amount, unit, how)


def _by_body_and_loss(load: KilnLoad, contents: Decimal, unit: str) -> FuelExpected:
    """What lies in it, and its part of what the kiln itself takes."""
    kiln = load.kiln
    run = usual_runs([kiln])[kiln.pk] if kiln.is_kept_hot else None
    own = kiln_heat_mj(kiln, Decimal(load.hold_min), run)
    assert kiln.fire_efficiency is not None
    amount = (contents + own) / kiln.fire_efficiency / heating_value_mj(kiln.fuel, kiln.moisture)
    how = _(
        "%(heat)s MJ into glass and clay and %(own)s MJ into the kiln itself; %(share)s of the "
        "fuel's heat stays in the chamber"
    ) % {
        "heat": formats.decimal(contents, 1),
        "own": formats.decimal(own, 1),
        "share": formats.percent(kiln.fire_efficiency),
    }
    return FuelExpected(amount, unit, how)


def cautions_of(load: KilnLoad, trays: Sequence[LoadTray]) -> list[str]:
    """The usual cautions of this load, by its fuel and its beads; one or more sentences each."""
    found = [
        _(
            "Beads and moulds glow long after they stop looking hot: dry heat-proof gloves, tongs, "
            "a face shield, eyewear against infrared while the kiln glows, a clear path, and "
            "nobody reaches in alone."
        )
    ]
    if load.kiln.fuel != Fuel.ELECTRICITY:
        found.append(
            _(
                "This fuel gives carbon monoxide, which has no smell: fire outdoors or under a "
                "working flue, with an alarm, and leave at once with a headache or dizziness."
            )
        )
    else:
        found.append(_("Switch the kiln off at the wall before reaching in."))
    if any(tray.bead.pierced_hot for tray in trays):
        found.append(_("Beads are pierced hot by hand: one pierces, another tends the door."))
    if any(tray.is_second_firing for tray in trays):
        found.append(_("Paints may give off fumes: keep the flue open and stay out of the smoke."))
    found.append(
        _(
            "Kiln wash and clay dust hold silica: brush them wet, with a fitted dust mask. "
            "Local rules and licensed fitters come before this sheet."
        )
    )
    return found
