"""The kilns drawn: every load as its own curve, by the clock of the day it stands on."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta

from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orders.firing.queries.burning import cools_apart
from orders.firing.queries.kilns import places_taken, times_of
from orders.firing.queries.piercing import to_pierce
from stock.models import BeadColour, KilnLoad, LoadTray
from workshop import formats
from workshop.drawing import (
    DrawnDays,
    LoadBar,
    NoFire,
    TrayDots,
    kiln_day_svg,
    kiln_week_svg,
    runs_of,
)
from workshop.models import Kiln, NoFiring

DAYS_SHOWN = 6
WEEK_PX = 1040
NO_COLOUR = "#b9b2a3"


@dataclass(frozen=True)
class DayDrawn:
    """One day alone for a phone: its place in the row, its name, and the drawing."""

    number: int
    weekday: str
    day: date
    svg: str


@dataclass(frozen=True)
class Calendar:
    """The kilns over some days, drawn: the week at once, and each day alone for a phone."""

    week: str
    days: list[DayDrawn]
    first_day: date
    last_day: date


def kiln_calendar(
    loads: Sequence[KilnLoad],
    kilns: Sequence[Kiln],
    colours: Mapping[int, str],
    late: Mapping[int, Iterable[str]] | None,
    *,
    no_firing: Sequence[NoFiring],
    movable: bool,
) -> Calendar:
    """Draw loads (kiln, trays, shares and orders with them) from today on (no queries).

    colours  the main one of each bead in them
    late     by load, the orders in it that miss their day
    movable  whether the reader moves trays
    """
    first_day = timezone.localdate()
    midnight = datetime.combine(first_day, time(0), timezone.get_current_timezone())
    # Whatever is lit behind the days that are shown is not seen; a lighting may run over their end.
    until = midnight + timedelta(days=DAYS_SHOWN + 2)
    loads = [load for load in loads if load.starts_at < until]
    bars = [
        load_bar(load, midnight, colours, tuple((late or {}).get(load.pk, ())), movable=movable)
        for load in loads
    ]
    beads = {str(load.number): sum(tray.beads for tray in load.trays.all()) for load in loads}
    return picture_of(runs_in_words(bars, beads), kilns, first_day, no_firing=no_firing)


def runs_in_words(bars: Sequence[LoadBar], beads: Mapping[str, int]) -> list[LoadBar]:
    """The rounds of one lighting are told of together, by the first of them.

    beads  in each load, by its number
    """
    found = []
    for kiln in dict.fromkeys(bar.kiln for bar in bars):
        for first, *others in runs_of(bar for bar in bars if bar.kiln == kiln):
            run = [first, *others]
            if others:
                n = len(run)
                rounds = ngettext("%(n)s round", "%(n)s rounds", n) % {"n": n}
                whole = sum(beads.get(bar.number, 0) for bar in run)
                many = ngettext("%(n)s bead", "%(n)s beads", whole) % {"n": formats.count(whole)}
                words = next((bar.word for bar in run if bar.late or bar.word), "")
                foot = (f"{rounds} · {many}", rounds) if whole else (rounds,)
                changed = next((bar.changed for bar in run if bar.changed), "")
                first = replace(first, foot=foot, word=words, changed=changed)
            found += [first, *others]
    return found


def picture_of(
    bars: Sequence[LoadBar],
    kilns: Sequence[Kiln],
    first_day: date,
    *,
    no_firing: Sequence[NoFiring],
    drawn: DrawnDays = DrawnDays(),  # noqa: B008 (frozen)
    title: str = "",
) -> Calendar:
    """The same from bars, reckoned from midnight of the first day; `drawn` says rows and names."""
    days = [first_day + timedelta(days=n) for n in range(DAYS_SHOWN)]
    here = timezone.localtime()
    now = int((here - datetime.combine(first_day, time(0), here.tzinfo)).total_seconds() // 60)
    rows = [(kiln.name, _kind(kiln)) for kiln in kilns]
    closed = [
        NoFire((row.day - first_day).days, row.kiln.name if row.kiln else "", _("no firing"))
        for row in no_firing
        if days[0] <= row.day <= days[-1]
    ]
    drawn = replace(
        drawn, hours=_hours(bars), now_min=now, now=formats.time_short(here), closed=closed
    )
    week = kiln_week_svg(
        rows, [formats.date_short(day) for day in days], bars, drawn, width=WEEK_PX,
        title=title or _("The kilns from %(day)s") % {"day": formats.date_short(first_day)},
    )  # fmt: skip
    alone = [
        DayDrawn(
            n,
            formats.date_short(day).split()[0],
            day,
            kiln_day_svg(
                rows, formats.date_short(day), bars, drawn, day_number=n
            ),
        )
        for n, day in enumerate(days)
    ]  # fmt: skip
    return Calendar(week, alone, days[0], days[-1])


def _kind(kiln: Kiln) -> str:
    if kiln.is_kept_hot:
        return _("kept hot, %(n)s a round") % {"n": formats.count(kiln.places)}
    return _("closed, %(n)s places") % {"n": formats.count(kiln.places)}


def main_colours(shares: Mapping[int, Sequence[BeadColour]]) -> dict[int, str]:
    """Of each bead, the colour there is most of in it."""
    return {
        bead: max(parts, key=lambda part: part.share).colour.swatch
        for bead, parts in shares.items()
        if parts
    }


def load_bar(
    load: KilnLoad,
    midnight: datetime,
    colours: Mapping[int, str],
    late: Sequence[str] = (),
    *,
    movable: bool = False,
) -> LoadBar:
    """One load as it is drawn: its curve, its beads, and how it stands in words."""
    times = times_of(load)
    trays = list(load.trays.all())
    taken = places_taken(trays)
    beads = sum(tray.beads for tray in trays)
    cools = cools_apart(load, to_pierce=to_pierce(load, trays))
    burns = load.state == KilnLoad.State.FIRING and not cools
    orders = _kept_for(trays)
    own = movable and load.state == KilnLoad.State.PLANNED

    def minute(moment: datetime) -> int:
        return int((moment - midnight).total_seconds() // 60)

    said = _("Load %(number)s, %(kiln)s, %(when)s: %(taken)s of %(all)s places, %(temp)s") % {
        "number": load.number,
        "kiln": load.kiln,
        "when": f"{formats.date_short(times.lit)} {formats.time_short(times.lit)}",
        "taken": taken,
        "all": load.kiln.places,
        "temp": formats.celsius(load.hold_c),
    }
    word = (
        _("cooling apart")
        if cools
        else _state_word(load, late, orders, times.lit if burns else None)
    )
    return LoadBar(
        load.kiln.name, minute(times.lit), minute(times.goes_in or times.held),
        minute(times.cooling), minute(times.opened),
        number=str(load.number),
        heat_c=float(load.hold_c),
        foot=_foot(load, taken, beads, burns, times.opened),
        trays=tuple(_dots(tray, colours, own) for tray in trays),
        empty=max(0, load.kiln.places - taken),
        state="cooling" if cools else "burning" if burns else "kept" if orders else "planned",
        word=word, late=bool(late), pinned=load.pinned and not burns,
        is_round=load.kiln.is_kept_hot, lit=bool(load.lit),
        said=f"{said}, {word}" if word else said,
        href=reverse("orders:load", args=[load.number]),
        key=str(load.pk) if own else "",
    )  # fmt: skip


def _state_word(
    load: KilnLoad, late: Sequence[str], kept_for: Sequence[str], lit: datetime | None
) -> str:
    if lit is not None:
        return _("burning since %(time)s") % {"time": formats.time_short(lit)}
    if late:
        return _("late for %(orders)s") % {"orders": ", ".join(late)}
    if kept_for:
        return _("kept for %(orders)s") % {"orders": ", ".join(kept_for)}
    return _("pinned") if load.pinned else ""


def _foot(load: KilnLoad, taken: int, beads: int, burns: bool, opened: datetime) -> tuple[str, ...]:
    """What is in it, the longest that may be said first."""
    fill = _("%(taken)s of %(all)s") % {"taken": taken, "all": load.kiln.places}
    many = ngettext("%(n)s bead", "%(n)s beads", beads) % {"n": formats.count(beads)}
    opens = _("opens %(time)s") % {"time": formats.time_short(opened)}
    longest = (f"{fill} · {many} · {opens}",) if burns else ()
    return (*longest, f"{fill} · {many}", fill)


def _dots(tray: LoadTray, colours: Mapping[int, str], own: bool) -> TrayDots:
    dots = TrayDots(
        colours.get(tray.bead_id, NO_COLOUR), max(1, tray.moulds * tray.bead.mould.places)
    )
    if not own:
        return dots
    return TrayDots(
        dots.colour,
        dots.places,
        key=str(tray.pk),
        said=f"{formats.count(tray.beads)} {tray.bead}",
        href=reverse("orders:tray_move", args=[tray.load.number, tray.pk]),
        moulds=tray.moulds,
        load=str(tray.load_id),
    )


def _kept_for(trays: Sequence[LoadTray]) -> list[str]:
    """The orders, where nothing in the load was planned: all of it is room kept for them."""
    shares = [share for tray in trays for share in tray.shares.all()]
    if not shares or not all(share.reserved for share in shares):
        return []
    return sorted({str(share.job.order.number) for share in shares}, key=int)


def _hours(bars: Sequence[LoadBar]) -> tuple[int, int]:
    """The part of the day worth drawing: the working day, wider where a load burns outside it."""
    first, last = 6, 20
    for bar in bars:
        if bar.start_min >= 0:
            first = min(first, bar.start_min % 1440 // 60)
            last = max(last, min(24, bar.fired_min % 1440 // 60 + 1))
    return first, last
