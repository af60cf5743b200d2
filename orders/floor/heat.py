"""How beads are fired here, for the planner: piercing, cooling apart, soaking, hands for it.

A book whose kilns are all closed and whose programmes know no soak asks for none of this: its beads
are planned as ever.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from orders.floor.hands import Hands
from orders.floor.labour import Amount, Labour
from orders.planning import instance as planning
from stock.models import Bead
from workshop.models import Kiln, Programme, Skill
from workshop.physics.kept_hot import exact

PIERCING = Skill.PIERCING.value


@dataclass(frozen=True)
class Heat:
    """kilns in use, the rates, and how many can pierce."""

    kilns: tuple[Kiln, ...]
    labour: Labour
    hands: int

    @classmethod
    def of(cls, kilns: Iterable[Kiln], labour: Labour, hands: Hands) -> "Heat":
        count = sum(hands.count[group] for group in hands.able.get(PIERCING, ()))
        return cls(tuple(kilns), labour, max(1, count))

    @property
    def any_hot(self) -> bool:
        return any(kiln.is_kept_hot for kiln in self.kilns)

    @property
    def instance_hands(self) -> tuple[planning.Hands, ...]:
        return (planning.Hands(PIERCING, self.hands),) if self.any_hot else ()

    def pierced_at_the_kiln(self, bead: Bead) -> bool:
        return self.any_hot and bead.pierced_hot

    def pierce_min(self, bead: Bead) -> Fraction:
        """Minutes of one hand for a mould; `mould` must come with the bead."""
        if bead.pierce_min is not None:
            return exact(bead.pierce_min)
        one, two = (
            self.labour.minutes(PIERCING, Amount(beads=n * bead.mould.cavities, moulds=n), bead)
            for n in (1, 2)
        )
        # What is set up once an order is not done again for each mould.
        return exact(round(two - one, 4))

    def firing(self, bead: Bead, programme: Programme, number: int, mould: str) -> planning.Firing:
        """One firing of a bead; `mould` is what the planner calls its mould."""
        pierced = self.pierced_at_the_kiln(bead) and number == 1
        return planning.Firing(
            mould,
            bead.mould.cavities,
            (programme.from_c, programme.to_c),
            (programme.from_min, programme.to_min),
            way=self._way(bead, number),
            pierce=self._pierce(bead) if pierced else None,
            anneal_min=bead.anneal_min if self.any_hot else 0,
            slow_min=self._slow_min(programme),
        )

    def _way(self, bead: Bead, number: int) -> str:
        if not self.any_hot:
            return ""
        if number == 2:
            # Whole glass that goes cold into a hot kiln cracks.
            return "closed" if any(not kiln.is_kept_hot for kiln in self.kilns) else ""
        return bead.fired_in

    def _pierce(self, bead: Bead) -> planning.Pierce:
        return planning.Pierce(
            PIERCING, self.pierce_min(bead), exact(bead.soft_min), not bead.drawn_together
        )

    def _slow_min(self, programme: Programme) -> int:
        closed = [kiln for kiln in self.kilns if not kiln.is_kept_hot]
        if programme.soak_c is None or not closed:
            return 0
        return max(programme.slow_min_in(kiln) for kiln in closed)
