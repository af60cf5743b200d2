"""A small order book to try money on: a business, a trader, designs with one bead each."""

from datetime import date
from decimal import Decimal
from itertools import count
from typing import Any

from django.utils import timezone

from orders.models import Customer, DesignPart, Order, OrderLine, StrandDesign, sees_tax
from tests.builders import make_bead, make_business
from workshop.models import Business, TaxRate

_next = count(1)
TODAY = date(2026, 3, 31)


def registered(**given: Any):
    """A business registered for VAT at 23 %, prices without it."""
    TaxRate.objects.get_or_create(
        name="VAT",
        valid_from=date(2020, 1, 1),
        defaults={"rate": Decimal(23), "standard": True, "category": "S"},
    )
    return make_business(
        **{
            "tax_registered": True,
            "tax_number": "PT501964843",
            "country": "PT",
            "address": "3 Quay Lane\nSant Orrel",
        }
        | given
    )


def trader(name: str = "Marisa Orlo", **given: Any) -> Customer:
    return Customer.objects.get_or_create(name=name, defaults=given)[0]


def design(name: str = "Harbour bracelet", **given: Any) -> StrandDesign:
    found = StrandDesign.objects.filter(name=name).first()
    if found:
        return found
    from stock.models import Bead

    bead = Bead.objects.first() or make_bead()
    made = StrandDesign.objects.create(
        name=name, code=f"design-{next(_next)}", finished_mm=Decimal(180), **given
    )
    DesignPart.objects.create(design=made, position=1, bead=bead, count=1)
    return made


def order_of(
    *lines: tuple[int, str],
    customer: Customer | None = None,
    state: str = "confirmed",
    **given: Any,
) -> Order:
    """`order_of((30, "6.50"))`: thirty strands at 6.50, confirmed."""
    customer = customer or trader()
    given.setdefault("prices_with_tax", sees_tax(customer, Business.current()))
    order = Order.objects.create(
        number=2000 + next(_next),
        customer=customer,
        state=state,
        taken_on=given.pop("taken_on", timezone.localdate()),
        **given,
    )
    for place, (strands, price) in enumerate(lines):
        OrderLine.objects.create(
            order=order,
            position=place,
            design=design() if place == 0 else design(f"Design {place}"),
            strands=strands,
            price=Decimal(price),
        )
    return order
