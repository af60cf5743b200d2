"""Loads as the kiln keeper looks at them: the calendar, and what physics says about a load."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal

from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.floor.glass_shelf import shares_by_bead
from orders.floor.labour import ZERO
from stock.masses import fill_mg
from stock.models import KilnLoad, LoadTray
from stock.runs import kiln_heat_mj, usual_runs
from workshop import formats
from workshop.drawing import LoadBar, kiln_day_svg, kiln_week_svg
from workshop.models import Fuel, Kiln
from workshop.physics.heat import heat_mj, heating_value_mj
from workshop.physics.shapes import ShapeError

DAYS_SHOWN = 6
WEEK_PX = 720


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
class Calendar:
    """The kilns over some days, drawn: the week at once, and each day alone for a phone."""

    week: str
    days: list[str]
    first_day: date
    last_day: date


def kiln_calendar(
    loads: Sequence[KilnLoad],
    kilns: Sequence[Kiln],
    late: Iterable[int] = (),
    first_day: date | None = None,
) -> Calendar:
    """Draw loads (kiln and trays with them) from a day on; `late` are loads drawn hot, by key."""
    first_day = first_day or timezone.localdate()
    zone = timezone.get_current_timezone()
    midnight = datetime.combine(first_day, time(0), zone)
    hot = set(late)
    bars = [_bar(load, midnight, load.pk in hot) for load in loads]
    names = [kiln.name for kiln in kilns]
    days = [first_day + timedelta(days=n) for n in range(DAYS_SHOWN)]
    now = int((timezone.now() - midnight).total_seconds() // 60)
    hours = _hours(bars)
    week = kiln_week_svg(
        names, [formats.date_short(day) for day in days], bars,
        width=WEEK_PX, hours=hours, now_min=now,
        title=_("The kilns from %(day)s") % {"day": formats.date_short(first_day)},
    )  # fmt: skip
    alone = [
        kiln_day_svg(
            names, formats.date_short(day), bars, day_number=n, hours=hours,
            now_min=now if n == 0 else None,
        )
        for n, day in enumerate(days)
        if any(_touches(bar, n) for bar in bars)
    ]  # fmt: skip
    return Calendar(week, alone, days[0], days[-1])


def _touches(bar: LoadBar, day: int) -> bool:
    return bar.start_min < (day + 1) * 1440 and bar.free_min > day * 1440


def _bar(load: KilnLoad, midnight: datetime, hot: bool) -> LoadBar:
    times = times_of(load)
    trays = list(load.trays.all())
    taken = places_taken(trays)

    def minute(moment: datetime) -> int:
        return int((moment - midnight).total_seconds() // 60)

    label = f"{taken}/{load.kiln.places} · {formats.celsius(load.hold_c)}"
    said = _("Load %(number)s, %(kiln)s, %(when)s: %(taken)s of %(all)s places, %(temp)s") % {
        "number": load.number,
        "kiln": load.kiln,
        "when": formats.time_short(times.lit),
        "taken": taken,
        "all": load.kiln.places,
        "temp": formats.celsius(load.hold_c),
    }
    return LoadBar(
        load.kiln.name, minute(times.lit), minute(times.cooling), minute(times.opened), label,
        said, hot, reverse("orders:load", args=[load.number]), _is_kept(trays),
    )  # fmt: skip


def _is_kept(trays: Sequence[LoadTray]) -> bool:
    """Nothing in the load was planned: all of it is room kept for confirmed orders."""
    shares = [share for tray in trays for share in tray.shares.all()]
    return bool(shares) and all(share.reserved for share in shares)


def _hours(bars: Sequence[LoadBar]) -> tuple[int, int]:
    """The part of the day worth drawing: the working day, wider where a load burns outside it."""
    first, last = 7, 19
    for bar in bars:
        if bar.start_min >= 0:
            first = min(first, bar.start_min % 1440 // 60)
            last = max(last, min(24, bar.fired_min % 1440 // 60 + 1))
    return first, last


@dataclass(frozen=True)
class FuelExpected:
    """So much fuel, its unit, and how that was found."""

    amount: Decimal
    unit: str
    how: str


def fuel_expected(load: KilnLoad, trays: Sequence[LoadTray]) -> FuelExpected:
    """Fuel of the whole load: as weighed for a usual one, else from the heat it takes (1 query)."""
    kiln = load.kiln
    unit = "kWh" if kiln.fuel == Fuel.ELECTRICITY else "kg"
    if kiln.fuel_per_load is not None:
        return FuelExpected(kiln.fuel_per_load, unit, _("weighed for a usual load"))
    glass_g, clay_g = ZERO, ZERO
    colours = shares_by_bead(tray.bead_id for tray in trays)
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
            "a face shield, a clear path, and nobody reaches in alone."
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
