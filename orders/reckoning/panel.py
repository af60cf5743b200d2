"""The counter's sheet: an order's costing and promise as a person reads them."""

from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orders.costing.results import GlassCosting, OrderCosting
from orders.costing.working.terms import Term
from orders.costing.working.tree import order_tree
from workshop import formats


@dataclass(frozen=True)
class GlassBar:
    """One colour on the sheet, for parts/_glass_bars.html."""

    name: str
    colour: str
    glass_g: Decimal
    share: float
    note: str
    short: bool


@dataclass(frozen=True)
class Panel:
    """Finished figures of the sheet; counts in beads, minutes, money unrounded."""

    costing: OrderCosting
    needed: int
    from_shelf: int
    ready_strands: int
    to_start: int
    to_make: int
    bars: tuple[GlassBar, ...]
    kiln_min: Decimal
    labour_min: Decimal
    full: Decimal
    pocket: Decimal
    loads_cost: Decimal
    lowest: Decimal
    price: Decimal
    margin: Decimal | None


def panel_of(costing: OrderCosting) -> Panel:
    longest = max((glass.needed_g for glass in costing.glass), default=Decimal(0))
    return Panel(
        costing=costing,
        needed=sum(bead.needed for bead in costing.beads),
        from_shelf=sum(bead.from_shelf for bead in costing.beads),
        ready_strands=sum(line.ready_taken for line in costing.lines),
        to_start=sum(bead.start for bead in costing.beads),
        to_make=sum(bead.to_make for bead in costing.beads),
        bars=tuple(
            _bar(glass, longest)
            for glass in sorted(costing.glass, key=lambda glass: -glass.needed_g)
            if glass.needed_g
        ),
        kiln_min=costing.kiln_min,
        labour_min=costing.labour_min,
        full=costing.cost,
        pocket=costing.pocket,
        loads_cost=costing.loads_cost,
        lowest=sum((line.lowest * line.quantity for line in costing.lines), Decimal(0)),
        price=costing.price_total,
        margin=costing.margin,
    )


def _bar(glass: GlassCosting, longest: Decimal) -> GlassBar:
    short = glass.short_g > 0
    if short and glass.bottles:
        note = ngettext(
            "%(mass)s short, about %(count)s bottle",
            "%(mass)s short, about %(count)s bottles",
            glass.bottles,
        ) % {"mass": _mass(glass.short_g), "count": formats.count(glass.bottles)}
    elif short:
        note = _("%(mass)s short") % {"mass": _mass(glass.short_g)}
    elif glass.to_prepare_g > 0:
        note = _("%(mass)s to prepare") % {"mass": _mass(glass.to_prepare_g)}
    else:
        note = _("on the shelf")
    share = float(glass.needed_g / longest) if longest else 0.0
    return GlassBar(glass.name, glass.swatch, glass.needed_g, share, note, short)


def _mass(glass_g: Decimal) -> str:
    """To ten grams, as it is weighed; less than that to the gram, for nothing is not 0.00 kg."""
    return formats.mass(glass_g, 2 if glass_g >= 10 else 3)


def price_source(origin: str) -> str:
    """Where a price is from, in a word or two."""
    return {
        "line": _("by hand"),
        "customer": _("agreed"),
        "list": _("list"),
        "suggested": _("suggested"),
    }.get(origin, "")


# By figure of the sheet: keys of the terms right under the order's own.
FIGURES: dict[str, tuple[str, ...]] = {
    "date": (),
    "ready": ("lines",),
    "stock": ("beads",),
    "start": ("beads",),
    "glass": ("glass",),
    "kiln": ("firings",),
    "labour": ("labour",),
    "full": ("cost",),
    "pocket": ("out of pocket",),
    "lowest": ("lines",),
    "price": ("price", "cost", "margin"),
}


def terms_of(costing: OrderCosting, figure: str) -> list[Term]:
    """The terms of the working that a figure of the sheet opens; the whole tree for any other."""
    return opened(order_tree(costing), figure)


def opened(tree: Term, figure: str) -> list[Term]:
    """The same of a working that was kept."""
    wanted = FIGURES.get(figure)
    if wanted is None:
        return [tree]
    return [term for term in tree.children if term.key in wanted]
