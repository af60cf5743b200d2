"""What is on the shelves: glass, beads, and the book that follows them."""

from stock.models.beads import DIMENSIONS, Bead, BeadBatch, BeadColour, Pattern, Shape
from stock.models.book import (
    INSIDE,
    SHELVES,
    Balance,
    Item,
    ItemKind,
    LossName,
    Movement,
    Place,
    PlaceKind,
    Posting,
    PostingKind,
)
from stock.models.counts import StockCount, StrandTag
from stock.models.glass import Collector, CollectorPrice, GlassColour, GlassForm, Sack
from stock.models.payouts import Payout
from stock.models.work import KilnLoad, LoadTray, Preparation, WorkTicket

__all__ = [
    "DIMENSIONS",
    "INSIDE",
    "SHELVES",
    "Balance",
    "Bead",
    "BeadBatch",
    "BeadColour",
    "Collector",
    "CollectorPrice",
    "GlassColour",
    "GlassForm",
    "Item",
    "ItemKind",
    "KilnLoad",
    "LoadTray",
    "LossName",
    "Movement",
    "Pattern",
    "Payout",
    "Place",
    "PlaceKind",
    "Posting",
    "PostingKind",
    "Preparation",
    "Sack",
    "Shape",
    "StockCount",
    "StrandTag",
    "WorkTicket",
]
