"""The kiln places kept for an order, each load as hot and long as its beads usually are."""

from dataclasses import replace

from orders.floor.promise import Room
from orders.floor.promise_rows import tray_rows
from orders.planning.instance import Instance, Load
from orders.planning.instance import Order as PlannedOrder
from orders.planning.reservation import Reservation
from orders.planning.usual import as_usual

KEPT = "order that room is kept for"


def usual_places(room: Room) -> list[Reservation]:
    """What a promise found, by the rule of a plan: at usual heat and for the usual time, where that
    breaks no rule and moves no day (1 query)."""
    standing = {(pin.load.kiln, pin.load.start_min): pin.load for pin in room.board.instance.pinned}
    inside = _inside(room)
    loads, usual = {}, {}
    for place in room.kilns:
        key = place.kiln, place.start_min
        there = () if place.new else standing[key].items
        load = loads[place] = _load(place, there)
        own = [room.board.usual(room.wanted[item.job], item.firing) for item in place.items]
        usual[load] = [*own, *inside.get(room.board.rows.get(key, 0), ())] if own else []
    if any(m - load.minutes > room.spare_min for load, each in usual.items() for _c, m in each):
        usual = {load: [(c, load.minutes) for c, _m in each] for load, each in usual.items()}
    after = as_usual(_asked(room), usual)
    found = [(place, after[load]) for place, load in loads.items()]
    return [replace(p, temp_c=n.temp_c, minutes=n.minutes, hands=n.hands) for p, n in found]


def _load(place: Reservation, there: tuple) -> Load:
    start = place.start_min if place.moved_to is None else place.moved_to
    return Load(
        place.kiln, start, place.temp_c, place.minutes, (*there, *place.items), place.lit,
        place.hands,
    )  # fmt: skip


def _inside(room: Room) -> dict[int, list[tuple[float, int]]]:
    """How what stands in the joined loads is usually fired, by load."""
    found: dict[int, list[tuple[float, int]]] = {}
    if not all(place.new for place in room.kilns):
        known = set(room.board.rows.values())
        loads = [row for row in room.board.facts.loads if row.pk in known]
        for pk, bead, number, _moulds, _beads in tray_rows(loads):
            found.setdefault(pk, []).append(room.board.usual(bead, number))
    return found


def _asked(room: Room) -> Instance:
    """The board with the order on it, due when its day would be lost, without the loads joined."""
    instance = room.board.instance
    joined = {(place.kiln, place.start_min) for place in room.kilns if not place.new}
    pinned = (p for p in instance.pinned if (p.load.kiln, p.load.start_min) not in joined)
    return replace(
        instance,
        orders=(*instance.orders, PlannedOrder(KEPT, room.fired_by + room.spare_min)),
        jobs=(*instance.jobs, *(replace(job, order=KEPT) for job in room.jobs)),
        pinned=tuple(pinned),
    )
