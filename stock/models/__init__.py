"""What is on the shelves: glass, beads, and the book that follows them."""

from stock.models.beads import DIMENSIONS, Bead, BeadBatch, BeadColour, Pattern, Shape
from stock.models.book import (
    INSIDE,
    SHELVES,
    Balance,
    Item,
    ItemKind,
    LocationKind,
    LossName,
    Movement,
    Posting,
    PostingKind,
    StockLocation,
)
from stock.models.charges import (
    PUT_IN,
    STARTING_FACTORS,
    BeadMinutes,
    Charge,
    ChargeName,
    MonthFigure,
    PatternFactor,
)
from stock.models.counts import StockCount, StrandTag
from stock.models.glass import Collector, CollectorPrice, GlassColour, GlassForm, Sack
from stock.models.payouts import Payout
from stock.models.work import (
    KilnLoad,
    LoadTray,
    Preparation,
    RejectCause,
    RejectTally,
    WorkTicket,
)

__all__ = [
    "DIMENSIONS",
    "INSIDE",
    "PUT_IN",
    "SHELVES",
    "STARTING_FACTORS",
    "Balance",
    "Bead",
    "BeadBatch",
    "BeadColour",
    "BeadMinutes",
    "Charge",
    "ChargeName",
    "Collector",
    "CollectorPrice",
    "GlassColour",
    "GlassForm",
    "Item",
    "ItemKind",
    "KilnLoad",
    "LoadTray",
    "LocationKind",
    "LossName",
    "MonthFigure",
    "Movement",
    "Pattern",
    "PatternFactor",
    "Payout",
    "Posting",
    "PostingKind",
    "Preparation",
    "RejectCause",
    "RejectTally",
    "Sack",
    "Shape",
    "StockCount",
    "StockLocation",
    "StrandTag",
    "WorkTicket",
]
