"""What is on the shelf cost: weighted average and first in, first out.

Quantity and total value are kept, never a unit cost: rounding one to cents at each step drifts.

Source: IAS 2 Inventories, paragraph 25 (first in, first out, or weighted average; the same for
similar items); abnormal waste is not cost of inventory (paragraph 16).
"""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from orders.costing.checks import number
from orders.costing.errors import CostingError
from workshop.physics.sentences import gettext_noop

NOT_SO_MUCH = gettext_noop(
    "%(wanted)s are to go out and only %(held)s are held. Correct the quantity, or book what came "
    "in first."
)


@dataclass(frozen=True, slots=True)
class AverageCost:
    """A quantity and what all of it cost together, by moving weighted average.

    >>> held = AverageCost().received(Decimal(9200), Decimal(89332))
    >>> held = held.received(Decimal(6300), Decimal(64449))
    >>> round(held.each, 5)
    Decimal('9.92135')
    """

    quantity: Decimal = Decimal(0)
    value: Decimal = Decimal(0)

    @property
    def each(self) -> Decimal:
        """Cost of one unit; 0 when none is held."""
        return self.value / self.quantity if self.quantity else Decimal(0)

    def received(self, quantity: Decimal, cost: Decimal) -> "AverageCost":
        """More of it, for so much altogether."""
        number(quantity, "quantity", "what came in")
        number(cost, "price", "what came in")
        return AverageCost(self.quantity + quantity, self.value + cost)

    def issued(self, quantity: Decimal) -> "AverageCost":
        """Less of it, at the average. Raises CostingError for more than is held."""
        number(quantity, "quantity", "what goes out")
        if quantity > self.quantity:
            raise CostingError("quantity", NOT_SO_MUCH, wanted=quantity, held=self.quantity)
        left = self.quantity - quantity
        return AverageCost(left, self.value * left / self.quantity if left else Decimal(0))


def first_in_first_out(
    layers: Iterable[tuple[Decimal, Decimal]], wanted: Decimal
) -> tuple[Decimal, list[tuple[Decimal, Decimal]]]:
    """Cost of taking ``wanted`` from layers of (quantity, cost of one), and the layers left.

    >>> layers = [(Decimal(100), Decimal(5)), (Decimal(150), Decimal(6))]
    >>> first_in_first_out(layers, Decimal(120))[0]
    Decimal('620')
    """
    cost, rest, left = Decimal(0), wanted, []
    for quantity, each in layers:
        taken = min(rest, quantity)
        cost += taken * each
        rest -= taken
        if quantity > taken:
            left.append((quantity - taken, each))
    if rest > 0:
        raise CostingError("quantity", NOT_SO_MUCH, wanted=wanted, held=wanted - rest)
    return cost, left
