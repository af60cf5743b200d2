"""One closed load or one round of a kiln kept hot, while a plan is in the making."""

from __future__ import annotations

from orders.planning.instance import Item, PinnedLoad
from orders.planning.mould_use import MouldUse

Sheet = tuple[int, int]
"""A kiln and a working window."""


class Round:
    """One closed load or one round. Compared by identity."""

    __slots__ = (
        "done",
        "earliest",
        "end",
        "fixed",
        "free",
        "hands",
        "high_c",
        "high_min",
        "in_min",
        "items",
        "kept",
        "kiln",
        "lit",
        "low_c",
        "low_min",
        "method",
        "parts",
        "pin",
        "slow",
        "start",
        "temp_c",
        "turn",
        "used",
        "window",
        "window_parts",
        "wish",
    )

    def __init__(self, kiln: int, window: int) -> None:
        self.kiln = kiln
        self.window = window
        self.items: dict[int, int] = {}
        self.kept: tuple[tuple[int, Item], ...] = ()
        self.pin: PinnedLoad | None = None
        # A sealed pin keeps its minute; another may be pushed along, but never goes in earlier.
        self.fixed = False
        self.earliest = 0
        self.wish: tuple[float, int] | None = None
        self.used: list[tuple[MouldUse, int, int, int]] = []
        self.start = self.in_min = self.end = self.done = self.turn = self.hands = 0
        self.lit = False
        self.temp_c = 0.0

    def state(self) -> tuple:
        return (
            self.items, self.low_c, self.high_c, self.low_min, self.high_min, self.slow,
            self.free, self.method, self.parts, self.window_parts, self.start, self.in_min,
            self.end, self.done, self.turn, self.hands, self.lit, self.temp_c, self.used,
        )  # fmt: skip

    def back_to(self, state: tuple) -> None:
        (
            self.items, self.low_c, self.high_c, self.low_min, self.high_min, self.slow,
            self.free, self.method, self.parts, self.window_parts, self.start, self.in_min,
            self.end, self.done, self.turn, self.hands, self.lit, self.temp_c, self.used,
        ) = state  # fmt: skip
