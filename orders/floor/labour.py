"""Minutes that a piece of work takes by the workshop's own rates."""

from decimal import Decimal
from typing import Protocol

from workshop.money import ZERO
from workshop.rates import Amount, Rates


class OfKind(Protocol):
    @property
    def kind(self) -> str: ...


class Labour(Rates):
    """The rates in force, asked how long a piece of work takes."""

    def minutes(self, skill: str, amount: Amount, bead: OfKind | None = None) -> Decimal:
        """Standard minutes of a skill for so much work; 0 where no rate is written."""
        kind = bead.kind if bead is not None else ""
        total = ZERO
        for rate in self.of(skill, kind):
            units = amount.units(rate.basis)
            if units:
                total += rate.setup_min + rate.minutes_each * (1 + rate.allowance) * units
        return total


__all__ = ["Amount", "Labour"]
