"""A small invented workshop with round figures, so that orders can be worked by hand.

Each function names only what a test is about; the rest is the same everywhere.
"""

from dataclasses import replace
from decimal import Decimal
from typing import Any

from orders.costing.facts import (
    BeadFacts,
    BeadFiringFacts,
    ChoiceFacts,
    ColourFacts,
    ColourShare,
    CordFacts,
    DesignFacts,
    FindingFacts,
    FormFacts,
    Key,
    KilnFacts,
    LineFacts,
    MouldFacts,
    OrderFacts,
    PartFacts,
    PolicyFacts,
    ProgrammeFacts,
    RateFacts,
    SpacerFacts,
    StockFacts,
    WorkshopFacts,
)

D = Decimal


def make_colour(key: Key = "green", **changes: Any) -> ColourFacts:
    plain = ColourFacts(
        key=key,
        name=str(key).capitalize(),
        forms=(
            FormFacts("powder", grinding_yield=D("0.90"), washing_yield=D("0.95")),
            FormFacts("chunks", grinding_yield=D("0.95"), washing_yield=D("0.95")),
        ),
        price_per_kg=D("0.40"),
        bottle_g=D(400),
    )
    return replace(plain, **changes)


def make_bead(key: Key = "pea", **changes: Any) -> BeadFacts:
    """A green powder bead of 400 mm³ (1 g at 2.5 g/cm³) that takes 10 mm of the cord."""
    plain = BeadFacts(
        key=key,
        name=str(key).capitalize(),
        kind="powder",
        form="powder",
        colours=(ColourShare("green", D(1)),),
        firings=(BeadFiringFacts("low fire", "dimpled tray", D("0.08")),),
        volume_mm3=D(400),
        length_mm=D(10),
    )
    return replace(plain, **changes)


def make_design(key: Key = "bracelet", **changes: Any) -> DesignFacts:
    """Peas for 200 mm: twenty of them, end to end."""
    plain = DesignFacts(
        key=key,
        name=str(key).capitalize(),
        finished_mm=D(200),
        parts=(PartFacts("pea", repeat=True),),
    )
    return replace(plain, **changes)


def make_kiln(key: Key = "drum", **changes: Any) -> KilnFacts:
    plain = KilnFacts(
        key=key,
        name=str(key).capitalize(),
        places=20,
        preheat_min=D(60),
        cooling_min=D(90),
        fuel_price=D("0.25"),
        fuel_per_load=D(24),
    )
    return replace(plain, **changes)


def make_rate(step: str = "moulding", **changes: Any) -> RateFacts:
    plain = RateFacts(
        key=step, step=step, skill=step, basis="mould", minutes_each=D(6), hourly=D(9)
    )
    return replace(plain, **changes)


def make_workshop(**changes: Any) -> WorkshopFacts:
    plain: dict[str, Any] = {
        "currency": "EUR",
        "colours": {"green": make_colour(), "amber": make_colour("amber")},
        "beads": {"pea": make_bead()},
        "moulds": {
            "dimpled tray": MouldFacts("dimpled tray", "Dimpled tray", 12, 10, 1, D(900)),
        },
        "programmes": {
            "low fire": ProgrammeFacts("low fire", "Low fire", D(780), D(30)),
            "hot fire": ProgrammeFacts("hot fire", "Hot fire", D(900), D(40)),
        },
        "kilns": (make_kiln(),),
        "rates": (make_rate(),),
        "spacers": {"ring": SpacerFacts("ring", "Brass ring", D(2), D("0.03"))},
        "designs": {"bracelet": make_design()},
        "policy": PolicyFacts(),
        "choices": ChoiceFacts(),
    }
    return WorkshopFacts(**{**plain, **changes})


def make_order(
    quantity: int = 5, workshop: WorkshopFacts | None = None, **changes: Any
) -> OrderFacts:
    plain = OrderFacts(
        workshop=workshop or make_workshop(), lines=(LineFacts(quantity, design="bracelet"),)
    )
    return replace(plain, **changes)


__all__ = [
    "CordFacts",
    "D",
    "FindingFacts",
    "StockFacts",
    "make_bead",
    "make_colour",
    "make_design",
    "make_kiln",
    "make_order",
    "make_rate",
    "make_workshop",
]
