"""What people want: customers, designs, orders, papers and payments."""

from orders.models.accounts import NEVER_COUNTED, keep_accounts
from orders.models.curves import FiringCurve
from orders.models.customers import Customer, CustomerGroup, sees_tax
from orders.models.designs import DesignPart, DesignPrice, StrandDesign, WorkMinutes
from orders.models.findings import ON_STRANDS, Finding
from orders.models.long_papers import LongPaper
from orders.models.money import (
    Document,
    DocumentFile,
    DocumentLine,
    DrawerCount,
    PassedPaper,
    Payment,
    PaymentAllocation,
)
from orders.models.orders import (
    BY_HAND,
    GlassNeed,
    KeptWorking,
    LoadShare,
    Order,
    OrderLine,
    Stage,
    StockReservation,
    WantedLine,
    WorkOrder,
)
from orders.models.pay import PaidWork, PayFloor, PaySlip
from orders.models.plans import BenchShare, CalendarAddress, FiringPlan, FiringSearch
from orders.models.prices import QuantityBreak
from orders.models.purchases import BoughtTogether, FindingNeed, Purchase
from orders.models.sales import Consignment, Sale, SaleReturn, StallDay
from orders.models.sheets import KeptSheet
from orders.models.standards import AcceptedStandard
from orders.models.standing import StandingLine, StandingOrder, StandingTaken
from orders.models.tags import ShelfTag

__all__ = [
    "BY_HAND",
    "NEVER_COUNTED",
    "ON_STRANDS",
    "AcceptedStandard",
    "BenchShare",
    "BoughtTogether",
    "CalendarAddress",
    "Consignment",
    "Customer",
    "CustomerGroup",
    "DesignPart",
    "DesignPrice",
    "Document",
    "DocumentFile",
    "DocumentLine",
    "DrawerCount",
    "Finding",
    "FindingNeed",
    "FiringCurve",
    "FiringPlan",
    "FiringSearch",
    "GlassNeed",
    "KeptSheet",
    "KeptWorking",
    "LoadShare",
    "LongPaper",
    "Order",
    "OrderLine",
    "PaidWork",
    "PassedPaper",
    "PayFloor",
    "PaySlip",
    "Payment",
    "PaymentAllocation",
    "Purchase",
    "QuantityBreak",
    "Sale",
    "SaleReturn",
    "ShelfTag",
    "Stage",
    "StallDay",
    "StandingLine",
    "StandingOrder",
    "StandingTaken",
    "StockReservation",
    "StrandDesign",
    "WantedLine",
    "WorkMinutes",
    "WorkOrder",
    "keep_accounts",
    "sees_tax",
]
