"""What pinning a load does: the kilns planned again around it, beside how they stand now."""

from dataclasses import dataclass, replace

from orders.firing.queries.plan_effects import Figures, Shift, figures, shifts
from orders.firing.services.plan import work_out
from orders.floor.floor import Floor
from orders.floor.read_floor import read_floor
from orders.planning.instance import PinnedLoad, Plan
from stock.models import KilnLoad

SEARCH_S = 0.5  # each way; the keeper waits for both


@dataclass(frozen=True)
class PinPreview:
    """now     the loads as they stand
    anew    the kilns planned again as they may be today
    other   planned again with the load the other way: pinned, or let go
    shifts  whose day the choice moves, between those two plans
    """

    now: Figures
    anew: Figures
    other: Figures
    shifts: list[Shift]


def preview_pin(row: KilnLoad, pinned: bool) -> PinPreview:
    """Plan the kilns with the load as it is and the other way; writes nothing.

    Raises ValidationError when nothing can be planned.
    """
    floor = read_floor()
    other = _with_pin(floor, row, pinned)
    today = floor.with_pinned(work_out(floor, SEARCH_S))
    then = other.with_pinned(work_out(other, SEARCH_S))
    return PinPreview(
        figures(floor, floor.whole_plan),
        figures(floor, today),
        figures(floor, then),
        shifts(floor, today, then),
    )


def _with_pin(floor: Floor, row: KilnLoad, pinned: bool) -> Floor:
    """The floor with one load pinned, or not; a load that is so already changes nothing."""
    if row.pinned == pinned:
        return floor
    load = floor.load_of(next(each for each in floor.loads if each.pk == row.pk))
    pins, standing = floor.instance.pinned, floor.standing.loads
    if pinned:
        pins = (*pins, PinnedLoad(load))
        standing = tuple(each for each in standing if each is not load)
    else:
        pins = tuple(pin for pin in pins if pin.load is not load)
        standing = (*standing, load)
    return replace(
        floor, instance=replace(floor.instance, pinned=pins), standing=Plan(tuple(standing))
    )
