"""Where a price goes: its cost part by part, what is left over, and marks at the floors."""

from collections.abc import Sequence
from dataclasses import dataclass

from workshop.drawing.svg import (
    AMBER,
    CLEAR,
    COBALT,
    CORD,
    GREEN,
    INK,
    SOFT,
    Frame,
    num,
    svg,
    tag,
    words,
)

HIGH_PX, BAR_Y, BAR_PX = 92.0, 30.0, 20.0
LETTER_PX = 6.6
FILLS = (
    (AMBER, "sd-part-1"),
    (COBALT, "sd-part-2"),
    (CLEAR, "sd-part-3"),
    (CORD, "sd-part-4"),
)


@dataclass(frozen=True)
class PricePart:
    """One part of the cost."""

    name: str
    amount: float


def price_bar_svg(
    parts: Sequence[PricePart],
    *,
    price: float,
    marks: Sequence[tuple[str, float]] = (),
    width: int = 620,
    title: str = "",
    others: str = "",
    left: str = "",
) -> str:
    """The largest parts by name and the others as one, to the scale of the price or the cost.

    left  what is said of what the price leaves above the cost; "" where it leaves nothing
    """
    named = list(parts[: len(FILLS) - 1])
    rest = sum(part.amount for part in parts[len(FILLS) - 1 :])
    if rest > 0:
        named.append(PricePart(others, rest))
    # Parts that lessen the cost are not drawn: what is left of it is shared out as the parts are.
    full = max((amount for _name, amount in marks), default=sum(p.amount for p in named))
    whole = max(price, full) or 1.0
    gross = sum(part.amount for part in named) or 1.0
    drawn, x = [], 0.0
    for part, (fill, class_) in zip(named, FILLS, strict=False):
        wide = part.amount / gross * full / whole * width
        drawn += _piece(x, wide, part.name, fill, class_)
        x += wide
    if left and price > full:
        drawn += _piece(x, (price - full) / whole * width, left, GREEN, "sd-flow-left")
    for name, amount in marks:
        at = amount / whole * width
        d = f"M{num(at)} {num(BAR_Y - 8)}V{num(BAR_Y + BAR_PX)}"
        drawn.append(tag("path", d=d, class_="sd-now-line", stroke=INK, stroke_width=1.5))
        aside = at > width / 2
        drawn.append(
            words(
                at - 4 if aside else at + 4,
                BAR_Y - 12,
                name,
                text_anchor="end" if aside else None,
                class_="sd-ink",
            )
        )
    return svg(
        drawn, Frame(width=width, height=HIGH_PX, title=title, text=True, class_="sd-price-bar")
    )


def _piece(x: float, wide: float, name: str, fill: str, class_: str) -> list[str]:
    """A part of the bar; its name beneath it where there is room for it."""
    bar = {"x": x, "y": BAR_Y, "width": max(0.5, wide), "height": BAR_PX}
    found = [tag("rect", class_=class_, fill=fill, **bar)]
    if wide >= len(name) * LETTER_PX:
        found.append(words(x, BAR_Y + BAR_PX + 18, name, class_="sd-soft", fill=SOFT))
    return found
