"""Minutes that a piece of work takes by the workshop's own rates."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.utils import timezone

from stock.models import Bead
from workshop.models import LabourRate, Skill

Basis = LabourRate.Basis
ZERO = Decimal(0)


@dataclass(frozen=True)
class Amount:
    """How much work there is, in each unit that a rate may be counted in."""

    beads: int = 0
    moulds: int = 0
    glass_g: Decimal = ZERO
    strands: int = 0
    orders: int = 0

    def units(self, basis: str) -> Decimal:
        return {
            Basis.KG: Decimal(self.glass_g) / 1000,
            Basis.MOULD: Decimal(self.moulds),
            Basis.BEAD: Decimal(self.beads),
            Basis.STRAND: Decimal(self.strands),
            Basis.ORDER: Decimal(self.orders),
        }.get(Basis(basis), ZERO)


class Labour:
    """The rates in force, asked for by skill and kind of bead."""

    def __init__(self, rates: list[LabourRate]) -> None:
        self.rates = rates

    @classmethod
    def in_force(cls, on: date | None = None) -> "Labour":
        """The newest rate of each step and kind by a day (1 query)."""
        newest: dict[tuple[str, str], LabourRate] = {}
        rows = LabourRate.objects.filter(valid_from__lte=on or timezone.localdate())
        for rate in rows.order_by("valid_from", "pk"):
            newest[rate.step, rate.kind] = rate
        return cls(list(newest.values()))

    def of(self, skill: str, kind: str = "") -> list[LabourRate]:
        """The rates of a skill that hold for a kind of bead; its own rate before the general."""
        found: dict[str, LabourRate] = {}
        for rate in self.rates:
            if rate.skill != skill or rate.kind not in {"", kind}:
                continue
            if rate.kind or rate.step not in found:
                found[rate.step] = rate
        return list(found.values())

    def minutes(self, skill: str, amount: Amount, bead: Bead | None = None) -> Decimal:
        """Standard minutes of a skill for so much work; 0 where no rate is written."""
        kind = bead.kind if bead is not None else ""
        total = ZERO
        for rate in self.of(skill, kind):
            units = amount.units(rate.basis)
            if units:
                total += rate.setup_min + rate.minutes_each * (1 + rate.allowance) * units
        return total

    def step_name(self, skill: str, kind: str = "") -> str:
        """What a ticket calls the step: the workshop's own name for it, else the skill's."""
        rates = self.of(skill, kind)
        return rates[0].step if rates else str(Skill(skill).label)
