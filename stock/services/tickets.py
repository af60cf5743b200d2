"""Tickets of the work done: what pay and learned minutes are read from."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from django.utils import timezone

from stock.models import Bead, Posting, WorkTicket
from workshop.costs.amounts import ONE
from workshop.models import LabourRate, Person, Skill
from workshop.money import split_by_largest_remainder
from workshop.rates import Rates

MG_PER_KG = 1_000_000


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


def write_preparing(
    posting: Posting, minutes: int, out_mg: int, *, hand: Person, form: str, belongs: str
) -> None:
    """Minutes of preparing or sorting glass become pay: a ticket a step, by standard minutes.

    They are logged in one figure, whatever steps there are.
    """
    rates = [
        rate
        for rate in Rates.in_force(posting.on).of(Skill.PREPARING, form=form)
        if rate.basis == LabourRate.Basis.KG
    ]
    if not minutes or not rates:
        return
    weights = [rate.minutes_each * (1 + rate.allowance) for rate in rates]
    if not any(weights):
        weights = [ONE for _rate in rates]
    parts = split_by_largest_remainder(Decimal(minutes), weights, 0)
    WorkTicket.objects.bulk_create(
        WorkTicket(
            on=posting.on, hand=hand, step_id=rate.step_id, belongs_ref=belongs, posting=posting,
            pieces=(out_mg + MG_PER_KG // 2) // MG_PER_KG, minutes=int(part),
        )
        for rate, part in zip(rates, parts, strict=True)
    )  # fmt: skip


def belongs_to(posting: Posting) -> str:
    """What the work of a posting belongs to, as its ticket says it: "order 214"."""
    if not posting.belongs_kind:
        return f"posting {posting.pk}"
    return f"{posting.belongs_kind} {posting.belongs_ref}"


def untell(postings: Iterable[Posting]) -> None:
    """Work that was taken back is not paid and teaches nothing, unless a slip has paid it."""
    WorkTicket.objects.filter(posting__in=postings, paid=False).delete()
