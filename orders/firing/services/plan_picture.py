"""A plan before and after, as two pictures of the kilns; the second marks what is changed."""

from collections.abc import Mapping
from dataclasses import asdict, replace
from datetime import datetime, time
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import pgettext

from orders.firing.queries.kiln_picture import (
    NO_COLOUR,
    load_bar,
    main_colours,
    runs_in_words,
)
from orders.firing.services.plan_rows import rows_that_stay
from orders.floor.floor import Floor
from orders.floor.glass_shelf import shares_by_bead
from orders.planning.instance import Load, Plan
from orders.planning.times import LoadTimes, plan_times
from stock.models import KilnLoad
from workshop import formats
from workshop.drawing import LoadBar, TrayDots

Told = dict[str, Any]


def plan_bars(standing: Floor, floor: Floor, plan: Plan) -> dict[str, list[Told]]:
    """The loads as they stand and as a plan would have them, ready for a JSON column (1 query).

    standing  the floor as it is; floor  the one the plan was made for
    """
    midnight = datetime.combine(standing.clock.first_day, time(0), standing.clock.zone)
    in_loads = {tray.bead_id for load in standing.loads for tray in load.trays.all()}
    waiting = {work.bead.pk for work in floor.work.values()}
    colours = main_colours(shares_by_bead(in_loads | waiting))
    before = {load.pk: load_bar(load, midnight, colours) for load in standing.loads}
    beads = {str(row.number): sum(t.beads for t in row.trays.all()) for row in standing.loads}
    after = _after(floor, plan, before, colours)
    return {
        "before": [asdict(bar) for bar in runs_in_words(list(before.values()), beads)],
        "after": [asdict(bar) for bar in runs_in_words(after, {})],
    }


def bar_told(told: Told) -> LoadBar:
    """One load read back from where it was kept."""
    trays = tuple(TrayDots(**tray) for tray in told["trays"])
    return LoadBar(**(told | {"trays": trays, "foot": tuple(told["foot"])}))


def _after(
    floor: Floor, plan: Plan, before: Mapping[int, LoadBar], colours: Mapping[int, str]
) -> list[LoadBar]:
    planned = [row for row in floor.loads if row.state == KilnLoad.State.PLANNED]
    old = [row for row in planned if not row.pinned]
    stay = rows_that_stay(floor, plan.loads, old)
    times = {one.load: one for one in plan_times(floor.instance, floor.with_pinned(plan))}
    moving = {row.pk for row in old}
    found = [before[row.pk] for row in floor.loads if row.pk not in moving]
    for load in plan.loads:
        row = stay.get(load)
        bar = _bar(floor, load, times[load], row, colours)
        stood = before[row.pk] if row else None
        found.append(replace(bar, changed=_changed(floor, bar, stood)))
    for row in old:
        to = next((load.start_min for load, other in stay.items() if other.pk == row.pk), None)
        if to is None or floor.clock.day(to) != floor.clock.day(before[row.pk].start_min):
            found.append(_gone(floor, before[row.pk], to))
    return found


def _bar(
    floor: Floor, load: Load, times: LoadTimes, row: KilnLoad | None, colours: Mapping[int, str]
) -> LoadBar:
    kiln = next(kiln for kiln in floor.instance.kilns if kiln.id == load.kiln)
    places = {mould.shape: mould.places for mould in floor.instance.moulds}
    trays = []
    for item in load.items:
        if (work := floor.work.get(item.job)) is not None:
            taken = item.moulds * places.get(work.bead.mould.name, 1)
            trays.append(TrayDots(colours.get(work.bead.pk, NO_COLOUR), max(1, taken)))
    taken = sum(tray.places for tray in trays)
    hot = kiln.hot is not None
    held = times.in_min if hot else load.start_min + kiln.preheat_min
    fired = times.first_min if hot else held + load.minutes
    fill = _("%(taken)s of %(all)s") % {"taken": taken, "all": kiln.places}
    return LoadBar(
        load.kiln, load.start_min, held, fired, times.done_min if hot else times.end_min,
        number=str(row.number) if row else pgettext("kiln load", "new"),
        heat_c=load.temp_c, foot=(fill,),
        trays=tuple(trays), empty=max(0, kiln.places - taken), is_round=hot, lit=load.lit,
    )  # fmt: skip


def _changed(floor: Floor, bar: LoadBar, stood: LoadBar | None) -> str:
    if stood is None:
        return _("new load")
    if stood.start_min != bar.start_min:
        return _("from %(when)s") % {"when": _when(floor, stood.start_min, bar.start_min)}
    if sorted(tray.places for tray in stood.trays) != sorted(tray.places for tray in bar.trays):
        return _("filled otherwise")
    return ""


def _gone(floor: Floor, stood: LoadBar, to: int | None) -> LoadBar:
    """Where a load stood that goes to another day, or is no more."""
    words = _("no more") if to is None else _("to %(when)s") % {
        "when": _when(floor, to, stood.start_min)
    }  # fmt: skip
    return replace(stood, state="gone", changed=words, late=False, pinned=False, word="", href="")


def _when(floor: Floor, minute: int, beside: int) -> str:
    """The day, or the hour where the day is the same."""
    moment = floor.clock.moment(minute)
    same = floor.clock.day(minute) == floor.clock.day(beside)
    return formats.time_short(moment) if same else formats.date_short(moment)
