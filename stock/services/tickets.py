"""Tickets of the work done: what pay and learned minutes are read from."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.utils import timezone

from stock.models import Bead, Posting, WorkTicket
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
    posting: Posting | None = None,
    belongs: str = "",
    bead: Bead | None = None,
) -> WorkTicket:
    """One piece of work, under the workshop's own name for its step, counted as that is paid.

    posting  what the work did; taken back, it takes the ticket with it
    belongs  what it was for, where nothing of it is in the book
    """
    on = posting.on if posting is not None else timezone.localdate()
    rates, kind = Rates.in_force(on), bead.kind if bead is not None else ""
    rate = next(iter(rates.by_the_piece(skill, kind)), None)
    return WorkTicket.objects.create(
        on=on, hand=person, step_id=rates.step_name(skill, kind), bead=bead, posting=posting,
        belongs_ref=belongs_to(posting) if posting is not None else belongs,
        pieces=done.pieces(rate.basis if rate else LabourRate.Basis.BEAD),
        rejected=done.rejected, minutes=done.minutes,
    )  # fmt: skip


def belongs_to(posting: Posting) -> str:
    """What the work of a posting belongs to, as its ticket says it: "order 214"."""
    if not posting.belongs_kind:
        return f"posting {posting.pk}"
    return f"{posting.belongs_kind} {posting.belongs_ref}"


def untell(postings: Iterable[Posting]) -> None:
    """Work that was taken back is not paid and teaches nothing, unless a slip has paid it."""
    WorkTicket.objects.filter(posting__in=postings, paid=False).delete()
