"""What people want: customers, designs, orders, papers and payments."""

from orders.models.customers import Customer, CustomerGroup
from orders.models.designs import DesignPart, DesignPrice, Finding, StrandDesign
from orders.models.money import Paper, Payment, PaymentShare
from orders.models.orders import (
    Allocation,
    BeadJob,
    GlassNeed,
    LoadShare,
    Order,
    OrderLine,
    Stage,
)

__all__ = [
    "Allocation",
    "BeadJob",
    "Customer",
    "CustomerGroup",
    "DesignPart",
    "DesignPrice",
    "Finding",
    "GlassNeed",
    "LoadShare",
    "Order",
    "OrderLine",
    "Paper",
    "Payment",
    "PaymentShare",
    "Stage",
    "StrandDesign",
]
