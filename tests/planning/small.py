"""Small workshops to name only what a test is about. All numbers are invented."""

from dataclasses import replace

from orders.planning.instance import Instance, Load, PinnedLoad, Plan
from orders.planning.promise import Promise

OPEN_DAYS = [[480, 1020], [1920, 2460], [3360, 3900]]


def firing(shape="round-12", cavities=12, temp=(700, 760), minutes=(25, 35)):
    return {
        "shape": shape,
        "cavities": cavities,
        "temp": list(temp),
        "minutes": list(minutes),
    }


def job(name="J1", order="O1", qty=60, release=480, gap_min=0, firings=None):
    return {
        "id": name,
        "order": order,
        "qty": qty,
        "release": release,
        "gap_min": gap_min,
        "firings": firings or [firing()],
    }


def kiln(name="K1", places=10, temp_min=500, temp_max=1000):
    return {
        "id": name,
        "places": places,
        "preheat_min": 60,
        "turnaround_min": 90,
        "temp_min": temp_min,
        "temp_max": temp_max,
    }


def mould(shape="round-12", places=1, count=8, hold_min=0):
    return {"shape": shape, "places": places, "count": count, "hold_min": hold_min}


def instance(jobs=None, *, orders=None, kilns=None, moulds=None, windows=None, past=False):
    jobs = jobs if jobs is not None else [job()]
    names = dict.fromkeys(j["order"] for j in jobs)
    return {
        "calendar": {
            "open": windows if windows is not None else OPEN_DAYS,
            "cooling_may_run_past_closing": past,
        },
        "kilns": kilns if kilns is not None else [kiln()],
        "moulds": moulds if moulds is not None else [mould()],
        "orders": orders or [{"id": name, "due": 5000} for name in names],
        "jobs": jobs,
    }


def two_that_may_share():
    """Two jobs whose windows meet at 720 to 760 °C, 25 to 30 min; ten places, eight moulds."""
    return instance(
        [
            job("J1", "O1", 60),
            job("J2", "O2", 36, firings=[firing(temp=(720, 800), minutes=(20, 30))]),
        ],
        orders=[{"id": "O1", "due": 700}, {"id": "O2", "due": 1000}],
        windows=[[480, 1020]],
    )


def over_bound_percent(value: int, bound: int) -> float:
    """How far a plan's kiln minutes lie over the bound, in percent.

    >>> over_bound_percent(1050, 1000)
    5.0
    """
    return 100.0 * (value - bound) / bound if bound else 0.0


def planned(instance: Instance, plan: Plan, sealed: frozenset[int] = frozenset()) -> Instance:
    """The instance with every load of the plan pinned; work may join all but the `sealed`.

    sealed  numbers of loads, in the plan's order from 0, that nothing may join
    """
    pins = tuple(
        PinnedLoad(load, sealed=n in sealed, temp_fixed=n in sealed)
        for n, load in enumerate(plan.loads)
    )
    return replace(instance, pinned=pins)


def with_reservations(plan: Plan, promised: Promise) -> Plan:
    """The plan with the promise's reservations written in: what the next promise must see."""
    join = {(r.kiln, r.start_min): r for r in promised.reservations if not r.new}
    loads = []
    for load in plan.loads:
        more = join.get((load.kiln, load.start_min))
        if more:
            load = replace(load, temp_c=more.temp_c, items=load.items + more.items)
        loads.append(load)
    loads += [
        Load(r.kiln, r.start_min, r.temp_c, r.minutes, r.items)
        for r in promised.reservations
        if r.new
    ]
    return Plan(tuple(sorted(loads, key=lambda load: (load.start_min, str(load.kiln)))))
