"""What a promise asks to be written into one load."""

from __future__ import annotations

from dataclasses import dataclass

from orders.planning.instance import Item


@dataclass(frozen=True, slots=True)
class Reservation:
    """What to write into one load. `new` loads do not stand on the board yet.

    lit     of a kiln kept hot: it is lit for this round
    hands   who pierce what is pierced of it
    temp_c  may differ from the planned temperature of a load that is joined; it is inside the
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
