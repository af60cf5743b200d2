"""Prices in talk: the same lines in another number, or for another sum."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from orders.costing.results import LineCosting
from orders.models import WantedLine
from orders.reckoning.panel import Panel, panel_of
from orders.reckoning.reckon import Reckoning, reckon
from workshop.money import round_half_up


@dataclass(frozen=True)
class TalkLine:
    """One line as it is, and as it would be."""

    now: LineCosting
    then: LineCosting


@dataclass(frozen=True)
class Talk:
    """The order as it is beside what was asked; nothing is written.

    wanted  the lines as they would be, with the price of each where a sum or a discount was told
    """

    now: Reckoning
    then: Reckoning
    wanted: tuple[WantedLine, ...]

    @property
    def refusal(self) -> str:
        return self.then.refusal

    @property
    def lines(self) -> list[TalkLine]:
        if self.now.costing is None or self.then.costing is None:
            return []
        pairs = zip(self.now.costing.lines, self.then.costing.lines, strict=True)
        return [TalkLine(*pair) for pair in pairs]

    @property
    def panel(self) -> Panel | None:
        return panel_of(self.then.costing) if self.then.costing else None


def talk(
    now: Reckoning,
    lines: Sequence[WantedLine],
    *,
    strands: int | None = None,
    total: Decimal | None = None,
    off: Decimal | None = None,
    **asked: Any,
) -> Talk:
    """Reckon lines as they would be (as `reckon`, twice where a sum or a discount is told).

    strands  of each line
    total    for all of them, spread over the lines by what they would cost her else
    off      share off the price of each

    A price is rounded to the money there is, so lines of many strands may miss a sum by a little.
    """
    wanted = [replace(line, strands=strands or line.strands) for line in lines]
    then = reckon(wanted, **asked)
    if then.costing is not None and (total is not None or off is not None):
        listed = then.costing.price_total
        if total is None:
            part = 1 - (off or Decimal(0))
        else:
            part = total / listed if listed else Decimal(1)
        digits = asked["business"].currency
        wanted = [
            replace(line, price=round_half_up(priced.price_each * part, digits))
            for line, priced in zip(wanted, then.costing.lines, strict=True)
        ]
        then = reckon(wanted, **asked)
    return Talk(now, then, tuple(wanted))
