"""What becomes of the deposit of an order that is cancelled."""

from dataclasses import dataclass
from decimal import Decimal

from django.db.models import F, Sum

from orders.models import Document, DocumentLine, Order
from stock.models import Posting, PostingKind
from workshop.models import Business
from workshop.money import ZERO, round_half_up

BEGUN_BY = (PostingKind.MOULDING, PostingKind.STRINGING)


@dataclass(frozen=True)
class DepositRule:
    """The rule laid on what is held for one order.

    on_papers  of it, what invoices on account asked for; the rest waits as plain credit
    share      of it the workshop keeps once it has begun, as it was told with the order
    """

    on_papers: Decimal
    unused: Decimal
    share: Decimal
    begun: bool
    currency: str

    @property
    def held(self) -> Decimal:
        return self.on_papers + self.unused

    @property
    def kept(self) -> Decimal:
        """Of the invoices on account; a half of the smallest coin is kept, as money is rounded."""
        if not self.begun:
            return ZERO
        return min(round_half_up(self.held * self.share, self.currency), self.on_papers)

    @property
    def back(self) -> Decimal:
        return self.held - self.kept

    @property
    def back_of_papers(self) -> Decimal:
        return self.on_papers - self.kept


def deposit_rule_of(order: Order) -> DepositRule:
    """What is held for an order, and what the rule says of it (4 queries)."""
    business = Business.in_force()
    lines = DocumentLine.objects.filter(
        role=DocumentLine.Role.ACCOUNT,
        paper__order=order,
        paper__kind=Document.Kind.INVOICE,
        credited_gross__lt=F("gross"),
    )
    unused = order.payments.filter(amount__gt=0).aggregate(n=Sum("unused"))["n"] or ZERO
    share = business.deposit_kept if order.deposit_rule is None else order.deposit_rule
    return DepositRule(
        sum((line.left_gross for line in lines), ZERO),
        unused,
        share,
        has_begun(order),
        business.currency,
    )


def has_begun(order: Order) -> bool:
    """Whether beads of it were moulded or strands of it strung, and that was not taken back."""
    return Posting.objects.filter(
        kind__in=BEGUN_BY,
        belongs_kind="order",
        belongs_ref=str(order.number),
        reversed_by__isnull=True,
    ).exists()
