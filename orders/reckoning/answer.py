"""The answer of a working on one page: glass, kiln, hands, cost, both floors, price and margin.

Read off the kept tree by the names of its figures, so that an old working has its page too.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext as _

from orders.reckoning.sentences import figure_said
from orders.reckoning.working import KeptTerm
from workshop import formats
from workshop.drawing import PricePart, price_bar_svg


@dataclass(frozen=True)
class Said:
    """A figure with its name."""

    name: str
    value: str


@dataclass(frozen=True)
class AnswerLine:
    """What one strand of a design costs, takes out of the drawer and brings."""

    name: str
    pieces: str
    cost: str
    pocket: str
    lowest: str
    price: str
    margin: str
    below: bool


@dataclass(frozen=True)
class Answer:
    """What stands on the first page, before any working."""

    headlines: tuple[Said, ...]
    glass: tuple[Said, ...]
    kiln: tuple[Said, ...]
    hands: tuple[Said, ...]
    money: tuple[Said, ...]
    lines: tuple[AnswerLine, ...]
    bar: str


FULL, POCKET, PRICE = (
    "Full cost of the order",
    "Out of pocket for the order",
    "Price of the order",
)


def answer_of(tree: KeptTerm, *, width: int = 620) -> Answer:
    """The answer of an order's kept working."""
    headlines = [_find(tree, name) for name in (PRICE, FULL, POCKET, "Margin")]
    glass = [_find(each, "Ready glass") for each in _all(tree, "Glass", "Glass")]
    firings = _find(tree, "Firings")
    steps = [_find(each, "Minutes") for each in _all(tree, "Labour", "Step")]
    full = _find(tree, FULL)
    making = _find(full, "Cost of making")
    money = [*_children(making), *(each for each in _children(full) if each is not making)]
    return Answer(
        headlines=_told(headlines),
        glass=_told(glass, subject=True),
        kiln=_told([_find(firings, "Fair share of kiln time"), _find(firings, ALONE)]),
        hands=_told([*steps, _find(_find(tree, "Labour"), "Minutes")], subject=True),
        money=_told([*(each for each in money if each.value), full]),
        lines=tuple(_line(each) for each in _all(tree, "Lines", "Line")),
        bar=_bar(tree, money, width),
    )


ALONE = "Loads if fired alone"


def _children(term: KeptTerm | None) -> Sequence[KeptTerm]:
    return term.children if term is not None else ()


def _find(term: KeptTerm | None, name: str) -> KeptTerm | None:
    return next((each for each in _children(term) if each.name == name), None)


def _all(tree: KeptTerm, group: str, name: str) -> Iterator[KeptTerm]:
    return (each for each in _children(_find(tree, group)) if each.name == name and each.children)


def _told(terms: Sequence[KeptTerm | None], *, subject: bool = False) -> tuple[Said, ...]:
    return tuple(
        Said(term.subject if subject and term.subject else _(term.name), figure_said(term))
        for term in terms
        if term is not None
    )


def _line(term: KeptTerm) -> AnswerLine:
    def said(name: str) -> str:
        found = _find(term, name)
        return figure_said(found) if found is not None else ""

    pieces = _find(_find(term, "Cost of one"), "Ordered")
    margin, price, lowest = (_find(term, n) for n in ("Margin", "Price of one", "Lowest price"))
    return AnswerLine(
        name=term.subject,
        pieces=formats.count(int(pieces.value)) if pieces is not None else "",
        cost=said("Cost of one"),
        pocket=said("Out of pocket for one"),
        lowest=said("Lowest price"),
        price=said("Price of one"),
        margin=said("Margin"),
        below=bool(price and lowest and price.value < lowest.value)
        or bool(margin is not None and isinstance(margin.value, Decimal) and margin.value < 0),
    )


def _bar(tree: KeptTerm, money: Sequence[KeptTerm], width: int) -> str:
    """Where the price goes, with marks at both floors."""
    price, full, pocket = (_find(tree, name) for name in (PRICE, FULL, POCKET))
    if price is None or full is None or not full.value:
        return ""
    parts = sorted(
        (PricePart(_(each.name), float(each.value)) for each in money if each.value > 0),
        key=lambda part: -part.amount,
    )
    marks = [(_("full cost"), float(full.value))]
    if pocket is not None:
        marks.insert(0, (_("out of pocket"), float(pocket.value)))
    return price_bar_svg(
        parts,
        price=float(price.value),
        marks=marks,
        width=width,
        title=_("Where the price goes"),
        others=_("the rest"),
        left=_("left over") if price.value > full.value else "",
    )
