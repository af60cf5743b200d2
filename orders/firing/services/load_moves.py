"""Moving a tray, or a whole load, by hand: what it would do is shown before it is done."""

from dataclasses import dataclass, replace
from datetime import datetime

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F
from django.utils.translation import gettext as _

from orders.firing.queries.plan_effects import Figures, Shift, figures, shifts
from orders.firing.services.plan import load_changed
from orders.floor.floor import Floor, shelf_name, work_name
from orders.floor.kiln_room import hold_the_kilns
from orders.floor.run_times import settle_rounds
from orders.models import LoadShare
from orders.planning.faults import OUTSIDE_TEMP, OUTSIDE_TIME, faults, shared_programme
from orders.planning.instance import Item, Load, Plan
from orders.planning.rounds.settle import settled
from stock.models import KilnLoad, LoadTray
from workshop.models import Kiln, Person
from workshop.services.acts import record_act
from workshop.services.numbers import take_number

PLANNED = KilnLoad.State.PLANNED
KEEPER_DECIDES = frozenset({OUTSIDE_TEMP, OUTSIDE_TIME})


@dataclass(frozen=True)
class Move:
    """Some moulds of a tray into another planned load, or into a new one in a kiln at a time."""

    tray: LoadTray
    asked: int
    to_load: KilnLoad | None = None
    kiln: Kiln | None = None
    starts_at: datetime | None = None

    @property
    def moulds(self) -> int:
        """Moulds that go: never more than stand in the tray."""
        return min(self.asked, self.tray.moulds)


@dataclass(frozen=True)
class Preview:
    """What a move would do. `faults` are sentences: with any of them it cannot be done."""

    before: Figures
    after: Figures
    shifts: list[Shift]
    faults: list[str]
    hold_c: int
    hold_min: int
    cautions: tuple[str, ...] = ()
    plan: Plan | None = None
    load: Load | None = None


def moved_beads(move: Move) -> int:
    """Beads that go with the moulds; the last mould of a tray may be part filled."""
    tray = move.tray
    if move.moulds >= tray.moulds:
        return tray.beads
    return min(tray.beads, move.moulds * tray.bead.mould.cavities)


def preview_move(floor: Floor, move: Move) -> Preview:
    """The plan with the tray moved, measured beside the one that stands."""
    tray = move.tray
    row = next(row for row in floor.loads if row.pk == tray.load_id)
    source = floor.load_of(row)
    name, firing = _item_of(floor, tray)
    beads = moved_beads(move)
    piece = Item(name, firing, move.moulds, beads) if name else None
    target = _target(floor, move)
    new = _with(target, piece) if piece else target
    programme = shared_programme(floor.instance, new)
    if programme:
        new = replace(new, temp_c=programme[0], minutes=programme[1])
    loads = [load for load in floor.whole_plan.loads if load is not source and load is not target]
    rest = _without(source, piece) if piece else source
    if rest.items or move.moulds < tray.moulds:
        loads.append(rest)
    plan, new = pushed_along(floor, [*loads, new], new)
    problems = [_(fault.template) % fault.params for fault in faults(floor.instance, plan, new)]
    return Preview(
        figures(floor, floor.whole_plan), figures(floor, plan),
        shifts(floor, floor.whole_plan, plan), problems, round(new.temp_c), new.minutes,
        plan=plan, load=new,
    )  # fmt: skip


def pushed_along(floor: Floor, loads: list[Load], new: Load) -> tuple[Plan, Load]:
    """A plan with one load changed, and the load in it; in kilns kept hot later rounds give way."""
    plan = Plan(tuple(sorted(loads, key=lambda load: load.start_min)))
    if not floor.instance.has_rounds:
        return plan, new
    fixed = frozenset(pin.load for pin in floor.instance.pinned)
    after = settled(replace(floor.instance, pinned=()), plan, fixed)
    like = [one for one in after.loads if one.kiln == new.kiln and one.items == new.items]
    return after, min(like, key=lambda one: abs(one.start_min - new.start_min), default=new)


def _item_of(floor: Floor, tray: LoadTray) -> tuple[str, int]:
    shares = list(tray.shares.all())
    if shares:
        name = work_name(shares[0].job)
    else:
        name = shelf_name(tray.batch) if tray.batch else ""
    work = floor.work.get(name)
    return (name, tray.firing - work.first + 1) if work else ("", 1)


def _target(floor: Floor, move: Move) -> Load:
    if move.to_load is not None:
        row = next(row for row in floor.loads if row.pk == move.to_load.pk)
        return floor.load_of(row)
    assert move.kiln is not None and move.starts_at is not None
    own = move.tray.load
    return Load(move.kiln.name, floor.clock.minute(move.starts_at), own.hold_c, own.hold_min)


def _with(load: Load, piece: Item) -> Load:
    items = list(load.items)
    for number, item in enumerate(items):
        if (item.job, item.firing) == (piece.job, piece.firing):
            items[number] = replace(
                item, moulds=item.moulds + piece.moulds, beads=item.beads + piece.beads
            )
            break
    else:
        items.append(piece)
    return replace(load, items=tuple(items))


def _without(load: Load, piece: Item) -> Load:
    items = []
    for item in load.items:
        if (item.job, item.firing) == (piece.job, piece.firing):
            item = replace(item, moulds=item.moulds - piece.moulds, beads=item.beads - piece.beads)
        if item.beads > 0:
            items.append(item)
    return replace(load, items=tuple(items))


@transaction.atomic
def move_tray(floor: Floor, move: Move, *, person: Person) -> KilnLoad:
    """Do it. Raises ValidationError when a rule stands against it, or a load changed meanwhile."""
    hold_the_kilns()
    preview = preview_move(floor, move)
    if preview.faults:
        raise ValidationError([*preview.faults])
    source = move.tray.load
    _claim(source)
    if move.to_load is not None:
        target = move.to_load
        _claim(target, hold_c=preview.hold_c, hold_min=preview.hold_min)
    else:
        assert move.kiln is not None and move.starts_at is not None, "a new load names both"
        target = KilnLoad.objects.create(
            number=take_number("load"), kiln=move.kiln, starts_at=move.starts_at,
            hold_c=preview.hold_c, hold_min=preview.hold_min,
        )  # fmt: skip
    _shift(move, target)
    if not source.trays.exists():
        source.delete()
    settle_rounds()
    record_act(
        person, "move tray", target,
        after={"bead": move.tray.bead.name, "moulds": move.moulds, "from": source.number},
    )  # fmt: skip
    return target


@dataclass(frozen=True)
class Change:
    """A planned load at another time, or fired otherwise."""

    load: KilnLoad
    starts_at: datetime
    hold_c: int
    hold_min: int


def preview_change(floor: Floor, change: Change) -> Preview:
    """The plan with the load changed, measured beside the one that stands.

    A temperature or time outside a bead's window is a caution and no more: the keeper decides.
    """
    row = next(row for row in floor.loads if row.pk == change.load.pk)
    old = floor.load_of(row)
    new = replace(
        old, start_min=floor.clock.minute(change.starts_at), temp_c=change.hold_c,
        minutes=change.hold_min,
    )  # fmt: skip
    loads = [new if load is old else load for load in floor.whole_plan.loads]
    plan, new = pushed_along(floor, loads, new)
    found = faults(floor.instance, plan, new)
    said = [(fault.template, _(fault.template) % fault.params) for fault in found]
    return Preview(
        figures(floor, floor.whole_plan), figures(floor, plan),
        shifts(floor, floor.whole_plan, plan),
        [words for template, words in said if template not in KEEPER_DECIDES],
        change.hold_c, change.hold_min,
        tuple(words for template, words in said if template in KEEPER_DECIDES),
        plan, new,
    )  # fmt: skip


@transaction.atomic
def change_load(floor: Floor, change: Change, *, person: Person) -> KilnLoad:
    """Do it; the load keeps its trays. Raises ValidationError as `move_tray`."""
    hold_the_kilns()
    preview = preview_change(floor, change)
    if preview.faults:
        raise ValidationError([*preview.faults])
    load = change.load
    before = {"starts_at": str(load.starts_at), "hold_c": load.hold_c, "hold_min": load.hold_min}
    _claim(load, starts_at=change.starts_at, hold_c=change.hold_c, hold_min=change.hold_min)
    settle_rounds()
    load.refresh_from_db()
    after = {"starts_at": str(load.starts_at), "hold_c": load.hold_c, "hold_min": load.hold_min}
    record_act(person, "change load", load, before=before, after=after)
    return load


def _claim(load: KilnLoad, **now: object) -> None:
    claimed = KilnLoad.objects.filter(pk=load.pk, state=PLANNED, version=load.version).update(
        version=F("version") + 1, **now
    )
    if not claimed:
        raise ValidationError(load_changed(load))


def _shift(move: Move, target: KilnLoad) -> None:
    """The rows: the tray's own when all of it goes, else a part of it; like joins like."""
    tray, beads = move.tray, moved_beads(move)
    share = tray.shares.first()
    like = target.trays.filter(bead=tray.bead, batch=tray.batch, firing=tray.firing)
    like = like.filter(shares__job=share.job) if share else like.filter(shares__isnull=True)
    other = like.first()
    if other is None and move.moulds >= tray.moulds:
        LoadTray.objects.filter(pk=tray.pk).update(load=target)
        LoadShare.objects.filter(tray=tray).update(reserved=False)  # the keeper has planned it
        return
    if other is None:
        other = LoadTray.objects.create(
            load=target, bead=tray.bead, batch=tray.batch, firing=tray.firing,
            moulds=move.moulds, beads=beads,
        )  # fmt: skip
        if share:
            LoadShare.objects.create(tray=other, job=share.job, moulds=move.moulds, beads=beads)
    else:
        _grow(other, move.moulds, beads)
    if move.moulds >= tray.moulds:
        tray.delete()
    else:
        _grow(tray, -move.moulds, -beads)


def _grow(tray: LoadTray, moulds: int, beads: int) -> None:
    LoadTray.objects.filter(pk=tray.pk).update(
        moulds=F("moulds") + moulds, beads=F("beads") + beads
    )
    LoadShare.objects.filter(tray=tray).update(
        moulds=F("moulds") + moulds, beads=F("beads") + beads
    )
