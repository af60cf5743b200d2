"""How beads are fired here, for the planner: piercing, cooling apart, soaking, hands for it.

A book whose kilns are all closed and whose programmes know no soak asks for none of this: its beads
are planned as ever.
"""

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Protocol

from orders.floor.hands import Hands
from orders.floor.labour import Amount, Labour
from orders.planning import instance as planning
from workshop.models import Kiln, Mould, Programme, Skill
from workshop.physics.kept_hot import exact

PIERCING = Skill.PIERCING.value


class FiredBead(Protocol):
    """What of a bead decides how it is fired: the bead itself, or a row of these."""

    kind: str
    mould: Mould
    programme: Programme
    second_programme: Programme | None
    pierced_hot: bool
    pierce_min: Decimal | None
    soft_min: Decimal
    drawn_together: bool
    anneal_min: int
    fired_in: str


@dataclass(frozen=True)
class Heat:
    """kilns in use, how many can pierce, and the rates, which are read when they are needed."""

    kilns: tuple[Kiln, ...]
    hands: int
    rates: Callable[[], Labour]

    @classmethod
    def of(cls, kilns: tuple[Kiln, ...], hands: Hands, rates: Callable[[], Labour]) -> "Heat":
        count = sum(hands.count[group] for group in hands.able.get(PIERCING, ()))
        return cls(kilns, max(1, count), rates)

    @property
    def any_hot(self) -> bool:
        return any(kiln.is_kept_hot for kiln in self.kilns)

    @property
    def instance_hands(self) -> tuple[planning.Hands, ...]:
        return (planning.Hands(PIERCING, self.hands),) if self.any_hot else ()

    def pierced_at_the_kiln(self, bead: FiredBead) -> bool:
        return self.any_hot and bead.pierced_hot

    def pierce_min(self, bead: FiredBead) -> Fraction:
        """Minutes of one hand for a mould; `mould` must come with the bead."""
        if bead.pierce_min is not None:
            return exact(bead.pierce_min)
        one, two = (
            self.rates().minutes(PIERCING, Amount(beads=n * bead.mould.cavities, moulds=n), bead)
            for n in (1, 2)
        )
        # What is set up once an order is not done again for each mould.
        return exact(round(two - one, 4))

    def firing(self, bead: FiredBead, number: int) -> planning.Firing | None:
        """One firing of a bead; None where it has no second."""
        programme = bead.programme if number == 1 else bead.second_programme
        if programme is None:
            return None
        pierced = self.pierced_at_the_kiln(bead) and number == 1
        return planning.Firing(
            bead.mould.name,
            bead.mould.cavities,
            (programme.from_c, programme.to_c),
            (programme.from_min, programme.to_min),
            way=self._way(bead, number),
            pierce=self._pierce(bead) if pierced else None,
            anneal_min=bead.anneal_min if self.any_hot else 0,
            slow_min=self._slow_min(programme),
        )

    def _way(self, bead: FiredBead, number: int) -> str:
        if not self.any_hot:
            return ""
        if number == 2:
            # Whole glass that goes cold into a hot kiln cracks.
            return "closed" if any(not kiln.is_kept_hot for kiln in self.kilns) else ""
        return bead.fired_in

    def _pierce(self, bead: FiredBead) -> planning.Pierce:
        return planning.Pierce(
            PIERCING, self.pierce_min(bead), exact(bead.soft_min), not bead.drawn_together
        )

    def _slow_min(self, programme: Programme) -> int:
        closed = [kiln for kiln in self.kilns if not kiln.is_kept_hot]
        if programme.soak_c is None or not closed:
            return 0
        return max(programme.slow_min_in(kiln) for kiln in closed)
