"""Strands that stand at more than they bring: what of their value is written down.

Per design: where one strand stands at more than the lowest list price in force leaves after office
and selling, the difference is shown as written down. The book is not touched, so it comes back when
the price does, and never goes above cost. Source: IAS 2.9 and 28 to 33 (net realisable value).
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Sum

from orders.models import DesignPrice, StrandDesign
from stock.models import Balance, Charge, ItemKind, Movement
from workshop.costs.amounts import ONE, ZERO
from workshop.models import Business, TaxRate


@dataclass(frozen=True)
class WrittenDown:
    """Strands of a design on a day: what one stands at and what it brings, office share off."""

    design: StrandDesign
    strands: int
    stands_at: Decimal
    brings: Decimal

    @property
    def amount(self) -> Decimal:
        return max(ZERO, self.stands_at - self.brings) * self.strands


class LowerValue:
    """What is written down on any day (3 queries, and 2 for each day)."""

    def __init__(self, business: Business) -> None:
        self.business = business
        self.designs = {
            design.item_id: design for design in StrandDesign.objects.filter(item__isnull=False)
        }
        rows = Balance.objects.inside().filter(item__in=list(self.designs))
        self.now = {
            item: (quantity, value)
            for item, quantity, value in rows.order_by()
            .values_list("item")
            .annotate(Sum("quantity"), Sum("value"))
        }
        self.prices = list(
            DesignPrice.objects.filter(customer__isnull=True).order_by("valid_from", "pk")
        )

    def on(self, day: date) -> list[WrittenDown]:
        """The designs of which something is written down at the end of a day."""
        lowest = self._lowest(day)
        left = ONE - self.business.overhead
        found = []
        for item, (quantity, value) in self._held(day).items():
            design = self.designs[item]
            if quantity > 0 and design.pk in lowest:
                row = WrittenDown(
                    design, quantity, value / quantity, lowest[design.pk] * max(ZERO, left)
                )
                if row.amount:
                    found.append(row)
        return sorted(found, key=lambda row: (-row.amount, row.design.name))

    def _held(self, day: date) -> dict[int, tuple[int, Decimal]]:
        """Strands within the walls at the end of a day, and their value: what lies there now, less
        what has changed since (2 queries)."""
        held: dict[int, list[Decimal]] = defaultdict(lambda: [ZERO, ZERO])
        for item, (quantity, value) in self.now.items():
            held[item] = [Decimal(quantity), value]
        later = (
            Movement.objects.filter(
                posting__on__gt=day, item__kind=ItemKind.STRANDS, item__in=list(self.designs)
            )
            .order_by()
            .values_list("item", "from_place__inside", "to_place__inside")
            .annotate(Sum("quantity"), Sum("value"))
        )
        for item, comes_from_within, stays_within, quantity, value in later:
            sign = int(stays_within) - int(comes_from_within)
            held[item][0] -= sign * quantity
            held[item][1] -= sign * value
        laid_on = Charge.objects.filter(on__gt=day, item__in=list(self.designs)).order_by()
        for item, amount in laid_on.values_list("item").annotate(Sum("amount")):
            held[item][1] -= amount
        return {item: (int(quantity), value) for item, (quantity, value) in held.items()}

    def _lowest(self, day: date) -> dict[int, Decimal]:
        """The lowest list price of each design in force on a day, without VAT (1 query)."""
        newest: dict[tuple[int, str, int], DesignPrice] = {}
        for price in self.prices:
            if price.valid_from <= day:
                newest[price.design_id, price.group, price.from_strands] = price
        rate = _rate(newest.values(), day)
        found: dict[int, Decimal] = {}
        for price in newest.values():
            net = price.price / (ONE + rate) if price.with_tax else price.price
            found[price.design_id] = min(net, found.get(price.design_id, net))
        return found


def _rate(prices: Iterable[DesignPrice], day: date) -> Decimal:
    """The share of VAT in prices that are told with it."""
    if not any(price.with_tax for price in prices):
        return ZERO
    standard = TaxRate.standard_on(day)
    return standard.rate / 100 if standard is not None else ZERO


__all__ = ["LowerValue", "WrittenDown"]
