"""What people want: customers, designs, orders, papers and payments."""

from orders.models.curves import FiringCurve
from orders.models.customers import Customer, CustomerGroup
from orders.models.designs import DesignPart, DesignPrice, Finding, StrandDesign
from orders.models.money import (
    DrawerCount,
    Paper,
    PaperFile,
    PaperLine,
    Payment,
    PaymentShare,
)
from orders.models.orders import (
    Allocation,
    BeadJob,
    GlassNeed,
    KeptWorking,
    LoadShare,
    Order,
    OrderLine,
    Stage,
)
from orders.models.pay import PaidWork, PayFloor, PaySlip
from orders.models.plans import BenchShare, CalendarAddress, FiringPlan, FiringSearch
from orders.models.prices import QuantityBreak
from orders.models.sheets import KeptSheet
from orders.models.standards import AcceptedStandard

__all__ = [
    "AcceptedStandard",
    "Allocation",
    "BeadJob",
    "BenchShare",
    "CalendarAddress",
    "Customer",
    "CustomerGroup",
    "DesignPart",
    "DesignPrice",
    "DrawerCount",
    "Finding",
    "FiringCurve",
    "FiringPlan",
    "FiringSearch",
    "GlassNeed",
    "KeptSheet",
    "KeptWorking",
    "LoadShare",
    "Order",
    "OrderLine",
    "PaidWork",
    "Paper",
    "PaperFile",
    "PaperLine",
    "PayFloor",
    "PaySlip",
    "Payment",
    "PaymentShare",
    "QuantityBreak",
    "Stage",
    "StrandDesign",
]
