"""Reading an instance from its JSON form, and writing and reading a plan.

The form is open and plain, so that examples from anywhere can be tried: see the field names
in `instance_from_json` and `plan_to_json`. A wrong file gives one whole sentence that names the
field, never a traceback.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from fractions import Fraction
from math import isfinite
from typing import Any

from orders.planning.errors import PlanningError
from orders.planning.instance import (
    Calendar,
    Firing,
    Hands,
    Instance,
    Item,
    Job,
    Kiln,
    Load,
    Mould,
    Order,
    Pierce,
    Plan,
    Span,
)
from workshop.physics.kept_hot import KeptHot, exact

LARGEST = 10**9
"""No count or minute may be larger; 10^9 minutes are 1,900 years."""


def _member(data: Any, name: str, where: str) -> Any:
    if not isinstance(data, Mapping):
        raise PlanningError(
            f"{where} should be an object with named fields, but something else was found there."
        )
    if name not in data:
        raise PlanningError(f'{where} has no field "{name}"; add it and try again.')
    return data[name]


def _whole(data: Any, name: str, where: str, least: int = 0) -> int:
    return _whole_value(_member(data, name, where), f'"{name}" of {where}', least)


def _whole_value(value: Any, what: str, least: int = 0) -> int:
    if not _is_number(value) or value != int(value):
        raise PlanningError(f"{what} should be a whole number, but it is {_show(value)}.")
    if not least <= value <= LARGEST:
        raise PlanningError(
            f"{what} should be from {least} to {LARGEST}, but it is {_show(value)}."
        )
    return int(value)


def _is_number(value: Any) -> bool:
    """Whole numbers of any length, and finite ones with a fraction; true and false are none."""
    if isinstance(value, float):
        return isfinite(value)
    return isinstance(value, int) and not isinstance(value, bool)


def _number_value(value: Any, what: str) -> float:
    if not _is_number(value) or abs(value) > LARGEST:
        raise PlanningError(f"{what} should be a number, but it is {_show(value)}.")
    return int(value) if value == int(value) else value


def _show(value: Any) -> str:
    text = repr(value)
    return text if len(text) <= 40 else text[:37] + "..."


def _id(data: Any, name: str, where: str) -> str:
    value = _member(data, name, where)
    if isinstance(value, bool) or not isinstance(value, (str, int)) or value == "":
        raise PlanningError(f'"{name}" of {where} should be a name, but it is {_show(value)}.')
    # A number stays a number, so that the plan names things just as the instance did.
    return value  # type: ignore[return-value]


def _list(data: Any, name: str, where: str) -> list[Any]:
    value = _member(data, name, where)
    if not isinstance(value, list):
        raise PlanningError(f'"{name}" of {where} should be a list, but it is {_show(value)}.')
    return value


def _pair(value: Any, what: str, number: Callable[[Any, str], Any]) -> tuple[Any, Any]:
    if not isinstance(value, (list, tuple)) or len(value) != 2:
        raise PlanningError(
            f"{what} should be two numbers, lowest first, but it is {_show(value)}."
        )
    low, high = number(value[0], what), number(value[1], what)
    if low > high:
        raise PlanningError(f"{what} runs from {low} down to {high}; give the lower one first.")
    return low, high


def _exact(data: Any, name: str, where: str, *, above: bool = False) -> Fraction:
    """A figure with decimals, to the last digit written: 0.7 is seven tenths."""
    value = _number_value(_member(data, name, where), f'"{name}" of {where}')
    if value < 0 or (above and value == 0):
        least = "more than 0" if above else "0 or more"
        raise PlanningError(f'"{name}" of {where} should be {least}, but it is {_show(value)}.')
    return exact(value)


def _flag(data: Any, name: str, where: str) -> bool:
    value = data.get(name, False)
    if not isinstance(value, bool):
        raise PlanningError(
            f'"{name}" of {where} should be true or false, but it is {_show(value)}.'
        )
    return value


def _choice(data: Any, name: str, where: str, choices: tuple[str, ...], usual: str) -> str:
    value = data.get(name, usual)
    if value != usual and value not in choices:
        known = " or ".join(f'"{choice}"' for choice in choices)
        raise PlanningError(f'"{name}" of {where} should be {known}, but it is {_show(value)}.')
    return value  # type: ignore[no-any-return]


def _calendar(data: Any) -> Calendar:
    where = "the calendar"
    windows: list[Span] = [
        _pair(window, f"working window {number} of the calendar", _whole_value)
        for number, window in enumerate(_list(data, "open", where), 1)
    ]
    return Calendar(tuple(windows), _flag(data, "cooling_may_run_past_closing", where))


def _kiln(data: Any, number: int) -> Kiln:
    name = _id(data, "id", f"kiln number {number}")
    where = f"kiln {name}"
    temps = [_member(data, "temp_min", where), _member(data, "temp_max", where)]
    low, high = _pair(temps, f"the temperature range of {where}", _number_value)
    hot = _kept_hot(data, where) if _flag(data, "kept_hot", where) else None
    return Kiln(
        id=name,
        places=_whole(data, "places", where),
        preheat_min=0 if hot else _whole(data, "preheat_min", where),
        turnaround_min=0 if hot else _whole(data, "turnaround_min", where),
        temp_min_c=low,
        temp_max_c=high,
        hot=hot,
    )


def _kept_hot(data: Any, where: str) -> KeptHot:
    return KeptHot(
        warm_up_min=_whole(data, "warm_up_min", where),
        change_min=_whole(data, "change_min", where),
        keep_hot_min=_whole(data, "keep_hot_min", where),
        hotter_c_per_min=_exact(data, "hotter_c_per_min", where, above=True),
        cooler_c_per_min=_exact(data, "cooler_c_per_min", where, above=True),
    )


def _mould(data: Any, number: int) -> Mould:
    shape = _id(data, "shape", f"mould number {number}")
    where = f"mould {shape}"
    return Mould(
        shape=shape,
        places=_whole(data, "places", where, least=1),
        count=_whole(data, "count", where),
        hold_min=_whole(data, "hold_min", where) if "hold_min" in data else 0,
        hot_hold_min=_whole(data, "hot_hold_min", where) if "hot_hold_min" in data else None,
    )


def _hands(data: Any, number: int) -> Hands:
    skill = _id(data, "skill", f"hands number {number}")
    return Hands(skill, _whole(data, "count", f"the hands for {skill}"))


def _order(data: Any, number: int) -> Order:
    name = _id(data, "id", f"order number {number}")
    due = _whole_value(
        _member(data, "due", f"order {name}"), f'"due" of order {name}', least=-LARGEST
    )
    return Order(name, due)


def _firing(data: Any, where: str) -> Firing:
    return Firing(
        shape=_id(data, "shape", where),
        cavities=_whole(data, "cavities", where, least=1),
        temp_c=_pair(_member(data, "temp", where), f'"temp" of {where}', _number_value),
        minutes=_pair(_member(data, "minutes", where), f'"minutes" of {where}', _whole_value),
        way=_choice(data, "way", where, ("closed", "hot"), ""),
        pierce=_pierce(data["pierce"], f"the piercing of {where}") if "pierce" in data else None,
        anneal_min=_whole(data, "anneal_min", where) if "anneal_min" in data else 0,
        slow_min=_whole(data, "slow_min", where) if "slow_min" in data else 0,
    )


def _pierce(data: Any, where: str) -> Pierce:
    return Pierce(
        skill=_id(data, "skill", where),
        minutes_a_mould=_exact(data, "minutes_per_mould", where),
        window_min=_exact(data, "window_min", where),
        one_by_one=_choice(data, "drawn", where, ("one_by_one", "together"), "one_by_one")
        == "one_by_one",
    )


def _job(data: Any, number: int) -> Job:
    name = _id(data, "id", f"job number {number}")
    where = f"job {name}"
    firings = _list(data, "firings", where)
    if len(firings) not in (1, 2):
        raise PlanningError(
            f"Job {name} has {len(firings)} firings; a job is fired once or twice.", job=name
        )
    return Job(
        id=name,
        order=_id(data, "order", where),
        beads=_whole(data, "qty", where),
        release_min=_whole(data, "release", where, -LARGEST) if "release" in data else 0,
        gap_min=_whole(data, "gap_min", where) if "gap_min" in data else 0,
        firings=tuple(
            _firing(firing, f"firing {f} of {where}") for f, firing in enumerate(firings, 1)
        ),
    )


def instance_from_json(data: Any) -> Instance:
    """An `Instance` from parsed JSON. Raises PlanningError with a sentence naming the field."""
    top = "the instance"
    return Instance(
        calendar=_calendar(_member(data, "calendar", top)),
        kilns=tuple(_kiln(k, i) for i, k in enumerate(_list(data, "kilns", top), 1)),
        moulds=tuple(_mould(m, i) for i, m in enumerate(_list(data, "moulds", top), 1)),
        orders=tuple(_order(o, i) for i, o in enumerate(_list(data, "orders", top), 1)),
        jobs=tuple(_job(j, i) for i, j in enumerate(_list(data, "jobs", top), 1)),
        hands=tuple(
            _hands(h, i)
            for i, h in enumerate(_list(data, "hands", top) if "hands" in data else (), 1)
        ),
    )


def instance_to_json(instance: Instance) -> dict[str, Any]:
    """The JSON form of an instance. Pinned loads and closed kilns have no place in the form."""
    form: dict[str, Any] = {
        "calendar": {
            "open": [list(window) for window in instance.calendar.open],
            "cooling_may_run_past_closing": instance.calendar.cooling_may_run_past_closing,
        },
        "kilns": [_kiln_to_json(k) for k in instance.kilns],
        "moulds": [_mould_to_json(m) for m in instance.moulds],
        "orders": [{"id": o.id, "due": o.due_min} for o in instance.orders],
        "jobs": [_job_to_json(job) for job in instance.jobs],
    }
    if instance.hands:
        form["hands"] = [{"skill": h.skill, "count": h.count} for h in instance.hands]
    return form


def _kiln_to_json(kiln: Kiln) -> dict[str, Any]:
    form: dict[str, Any] = {"id": kiln.id, "places": kiln.places}
    if kiln.hot is None:
        form |= {"preheat_min": kiln.preheat_min, "turnaround_min": kiln.turnaround_min}
    else:
        form |= {
            "kept_hot": True,
            "warm_up_min": kiln.hot.warm_up_min,
            "change_min": kiln.hot.change_min,
            "keep_hot_min": kiln.hot.keep_hot_min,
            "hotter_c_per_min": _written(kiln.hot.hotter_c_per_min),
            "cooler_c_per_min": _written(kiln.hot.cooler_c_per_min),
        }
    return form | {"temp_min": kiln.temp_min_c, "temp_max": kiln.temp_max_c}


def _mould_to_json(mould: Mould) -> dict[str, Any]:
    form: dict[str, Any] = {
        "shape": mould.shape,
        "places": mould.places,
        "count": mould.count,
        "hold_min": mould.hold_min,
    }
    if mould.hot_hold_min is not None:
        form["hot_hold_min"] = mould.hot_hold_min
    return form


def _written(value: Any) -> int | float:
    """A figure with decimals as JSON writes it: the shortest float that reads back as the same."""
    figure = exact(value)
    return figure.numerator if figure.denominator == 1 else float(figure)


def _job_to_json(job: Job) -> dict[str, Any]:
    return {
        "id": job.id,
        "order": job.order,
        "qty": job.beads,
        "release": job.release_min,
        "gap_min": job.gap_min,
        "firings": [_firing_to_json(firing) for firing in job.firings],
    }


def _firing_to_json(firing: Firing) -> dict[str, Any]:
    form: dict[str, Any] = {
        "shape": firing.shape,
        "cavities": firing.cavities,
        "temp": list(firing.temp_c),
        "minutes": list(firing.minutes),
    }
    if firing.way:
        form["way"] = firing.way
    if firing.pierce is not None:
        form["pierce"] = {
            "skill": firing.pierce.skill,
            "minutes_per_mould": _written(firing.pierce.minutes_a_mould),
            "window_min": _written(firing.pierce.window_min),
            "drawn": "one_by_one" if firing.pierce.one_by_one else "together",
        }
    if firing.anneal_min:
        form["anneal_min"] = firing.anneal_min
    if firing.slow_min:
        form["slow_min"] = firing.slow_min
    return form


def plan_to_json(plan: Plan) -> dict[str, Any]:
    """The JSON form of a plan."""
    return {"loads": [_load_to_json(load) for load in plan.loads]}


def _load_to_json(load: Load) -> dict[str, Any]:
    form: dict[str, Any] = {
        "kiln": load.kiln,
        "start": load.start_min,
        "temp": load.temp_c,
        "minutes": load.minutes,
    }
    if load.lit:
        form["lit"] = True
    if load.hands:
        form["hands"] = load.hands
    form["items"] = [
        {"job": i.job, "firing": i.firing, "moulds": i.moulds, "beads": i.beads} for i in load.items
    ]
    return form


def plan_from_json(data: Any) -> Plan:
    """A `Plan` from parsed JSON. Raises PlanningError with a sentence naming the field."""
    loads = []
    for number, load in enumerate(_list(data, "loads", "the plan"), 1):
        where = f"load {number}"
        items = tuple(
            Item(
                job=_id(item, "job", f"an item of {where}"),
                firing=_whole(item, "firing", f"an item of {where}", least=1),
                moulds=_whole(item, "moulds", f"an item of {where}", least=1),
                beads=_whole(item, "beads", f"an item of {where}"),
            )
            for item in _list(load, "items", where)
        )
        loads.append(
            Load(
                kiln=_id(load, "kiln", where),
                start_min=_whole(load, "start", where),
                temp_c=_number_value(_member(load, "temp", where), f'"temp" of {where}'),
                minutes=_whole(load, "minutes", where),
                items=items,
                lit=_flag(load, "lit", where),
                hands=_whole(load, "hands", where) if "hands" in load else 0,
            )
        )
    return Plan(tuple(loads))
