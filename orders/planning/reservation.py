"""What a promise asks to be written into one load."""

from __future__ import annotations

from dataclasses import dataclass

from orders.planning.instance import Item


@dataclass(frozen=True, slots=True)
class Reservation:
    """What to write into one load. `new` loads do not stand on the board yet.

    start_min  of a load that stands: the minute it was planned for
    moved_to   of a round that is pushed along in its run: the minute it has now
    lit        of a kiln kept hot: it is lit for this round
    hands      who pierce what is pierced of it
    temp_c     may differ from the planned temperature of a load that is joined; it is inside the
            windows of everything in it
    """

    kiln: str
    start_min: int
    minutes: int
    temp_c: float
    new: bool
    items: tuple[Item, ...]
    lit: bool = False
    hands: int = 0
    moved_to: int | None = None
