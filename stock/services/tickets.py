"""Tickets of the work done: what pay and learned minutes are read from."""

from dataclasses import dataclass
from datetime import date

from django.utils import timezone

from stock.models import Bead, WorkTicket
from workshop.models import LabourRate, Person
from workshop.rates import Rates


@dataclass(frozen=True)
class Done:
    """How much was done by whom in how long; pieces as the step's rate counts them."""

    beads: int = 0
    moulds: int = 0
    strands: int = 0
    rejected: int = 0
    minutes: int = 0

    def pieces(self, basis: str) -> int:
        return {
            LabourRate.Basis.MOULD: self.moulds,
            LabourRate.Basis.STRAND: self.strands,
        }.get(LabourRate.Basis(basis), self.beads or self.strands)


def write_ticket(
    skill: str,
    done: Done,
    person: Person,
    *,
    belongs: str,
    bead: Bead | None = None,
    on: date | None = None,
) -> WorkTicket:
    """One piece of work, under the workshop's own name for its step, counted as that is paid."""
    on = on or timezone.localdate()
    rates, kind = Rates.in_force(on), bead.kind if bead is not None else ""
    rate = next(iter(rates.by_the_piece(skill, kind)), None)
    return WorkTicket.objects.create(
        on=on, hand=person, step_id=rates.step_name(skill, kind), bead=bead, belongs_ref=belongs,
        pieces=done.pieces(rate.basis if rate else LabourRate.Basis.BEAD),
        rejected=done.rejected, minutes=done.minutes,
    )  # fmt: skip
