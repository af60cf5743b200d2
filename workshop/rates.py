"""Labour rates in force, asked for by skill, kind of bead and form of glass."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Self

from django.utils import timezone

from workshop.models import LabourRate, PreparedForm, Skill
from workshop.money import ZERO

Basis = LabourRate.Basis


@dataclass(frozen=True)
class Amount:
    """How much work there is, in each unit that a rate may be counted in."""

    beads: int = 0
    moulds: int = 0
    glass_g: Decimal = ZERO
    strands: int = 0
    orders: int = 0
    loads: int = 0
    runs: int = 0

    def units(self, basis: str) -> Decimal:
        return {
            Basis.KG: Decimal(self.glass_g) / 1000,
            Basis.MOULD: Decimal(self.moulds),
            Basis.BEAD: Decimal(self.beads),
            Basis.STRAND: Decimal(self.strands),
            Basis.ORDER: Decimal(self.orders),
            Basis.LOAD: Decimal(self.loads),
            Basis.RUN: Decimal(self.runs),
        }.get(Basis(basis), ZERO)


class Rates:
    """The rates in force on a day."""

    def __init__(self, rates: list[LabourRate]) -> None:
        self.rates = rates

    @classmethod
    def in_force(cls, on: date | None = None) -> Self:
        """The newest rate of each step, kind and form by a day (1 query)."""
        rows = LabourRate.objects.filter(valid_from__lte=on or timezone.localdate())
        return cls.newest(rows.order_by("valid_from", "pk"))

    @classmethod
    def newest(cls, rates: Iterable[LabourRate]) -> Self:
        """Of rates in the order of their days, the last of each step, kind and form."""
        newest = {(rate.step_id, rate.kind, rate.form): rate for rate in rates}
        return cls(list(newest.values()))

    def of(self, skill: str, kind: str = "", form: str = "") -> list[LabourRate]:
        """The rates of a skill that hold: own kind and form first, then kind, form, any.

        Sorting leaves glass raw, so only a rate written for that form holds for it.
        """
        found: dict[str, LabourRate] = {}
        for rate in self.rates:
            if rate.skill != skill or rate.kind not in {"", kind} or rate.form not in {"", form}:
                continue
            if PreparedForm.RAW in {form, rate.form} and rate.form != form:
                continue
            before = found.get(rate.step_id)
            if before is None or _closeness(rate) > _closeness(before):
                found[rate.step_id] = rate
        return list(found.values())

    def by_the_piece(self, skill: str, kind: str) -> list[LabourRate]:
        """The rates of a skill without what is done once an order, such as packing it."""
        return [rate for rate in self.of(skill, kind) if rate.basis != Basis.ORDER]

    def once_an_order(self) -> list[LabourRate]:
        """The rates of what is done once an order, whatever its beads; one of each step."""
        return list({r.step_id: r for r in self.rates if r.basis == Basis.ORDER}.values())

    def step_name(self, skill: str, kind: str = "") -> str:
        """What a ticket calls the step: the workshop's own name for it, else the skill's."""
        rates = self.by_the_piece(skill, kind)
        return rates[0].step_id if rates else str(Skill(skill).label)

    def of_step(self, step: str, kind: str = "") -> LabourRate | None:
        """The rate that a step's work is paid by, as its ticket names it; None where none is."""
        held = [rate for rate in self.rates if rate.step_id == step and rate.kind in {"", kind}]
        # A ticket says no form of glass; where the forms are paid apart, the first one stands in.
        return max(held, key=lambda rate: (bool(rate.kind), not rate.form), default=None)


def _closeness(rate: LabourRate) -> tuple[bool, bool]:
    return bool(rate.kind), bool(rate.form)
