"""What the owner should know about an order that can be costed all the same."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from orders.costing.checks import plain
from orders.costing.facts import OrderFacts
from orders.costing.results import BeadCosting, GlassCosting, LineCosting, OrderCosting
from workshop.physics.sentences import gettext_noop

BELOW_COST = gettext_noop(
    "%(name)s sells at %(price)s %(currency)s and its lowest price is %(cost)s %(currency)s. Raise "
    "the price to at least %(cost)s, or let the owner pass it."
)
LENGTH_OFF = gettext_noop(
    "%(name)s comes out at %(reached)s mm, not %(asked)s mm. The nearest whole lengths are "
    "%(shorter)s and %(longer)s mm."
)
PARTS_OFF = gettext_noop("%(name)s comes out at %(reached)s mm, not %(asked)s mm.")
SHELF_AT_NOTHING = gettext_noop(
    "%(count)s %(name)s beads come from the shelf at no value, so the cost is only what is still "
    "to be spent."
)
GLASS_SHORT = gettext_noop(
    "%(name)s is short by %(short)s kg: %(needed)s kg are needed raw and %(free)s kg are free. "
    "Bottles to collect: about %(bottles)s."
)
GLASS_SHORT_NO_BOTTLE = gettext_noop("%(name)s is short by %(short)s kg. Bring in that much more.")
MANY_LOADS = gettext_noop(
    "%(name)s needs %(fills)s moulds and %(owned)s are owned, so it takes %(loads)s loads."
)
THOUSANDTH = Decimal("0.001")


@dataclass(frozen=True, slots=True)
class Notice:
    """Something the owner should know; it does not stop anything.

    code      stable: "below_cost", "glass_short", "glasses_clash", "many_loads" …
    template  sentence in English with %(name)s places; params fill them
    line      index of the order line it is about, or None
    """

    code: str
    template: str
    params: tuple[tuple[str, Any], ...] = ()
    line: int | None = None

    @property
    def sentence(self) -> str:
        return self.template % dict(self.params)


def order_notices(costing: OrderCosting) -> tuple[Notice, ...]:
    """Notices about prices, lengths, the shelf, glasses that clash, scarce moulds, short glass."""
    notices: list[Notice] = []
    for line in costing.lines:
        if line.below_cost:
            notices.append(_below_cost(costing.currency, line))
        if line.layout is not None and line.layout.finished_mm != line.layout.asked_mm:
            notices.append(_length_off(line))
    for bead in costing.beads:
        if bead.from_shelf and not bead.shelf_cost:
            params = (("count", bead.from_shelf), ("name", bead.name))
            notices.append(Notice("shelf_at_nothing", SHELF_AT_NOTHING, params))
        notices.extend(_clash(costing.facts, bead))
        notices.extend(_many_loads(costing.facts, bead))
    notices.extend(_short(colour) for colour in costing.glass if colour.short_g)
    return tuple(notices)


def _below_cost(currency: str, line: LineCosting) -> Notice:
    params = (
        ("name", line.name),
        ("price", line.price_each),
        ("cost", line.lowest),
        ("currency", currency),
    )
    return Notice("below_cost", BELOW_COST, params, line.index)


def _length_off(line: LineCosting) -> Notice:
    layout = line.layout
    assert layout is not None
    params = [
        ("name", line.name),
        ("reached", plain(layout.finished_mm.quantize(THOUSANDTH))),
        ("asked", plain(layout.asked_mm)),
    ]
    if layout.shorter_mm is None or layout.longer_mm is None:
        return Notice("length_off", PARTS_OFF, tuple(params), line.index)
    params += [
        ("shorter", plain(layout.shorter_mm.quantize(THOUSANDTH))),
        ("longer", plain(layout.longer_mm.quantize(THOUSANDTH))),
    ]
    return Notice("length_off", LENGTH_OFF, tuple(params), line.index)


def _clash(facts: OrderFacts, bead: BeadCosting) -> list[Notice]:
    """Two glasses of a bead to be made that must not be mixed, unless all lie on the shelf."""
    clash = facts.workshop.beads[bead.key].clash
    if clash is None or not bead.to_make:
        return []
    template, words = clash
    return [Notice("glasses_clash", template, words)]


def _many_loads(facts: OrderFacts, bead: BeadCosting) -> list[Notice]:
    found = []
    for firing in bead.firings:
        mould = facts.workshop.moulds[firing.mould]
        if firing.fills > mould.owned:
            params = (
                ("name", bead.name),
                ("fills", firing.fills),
                ("owned", mould.owned),
                ("loads", firing.loads_alone),
            )
            found.append(Notice("many_loads", MANY_LOADS, params))
    return found


def _short(colour: GlassCosting) -> Notice:
    params = [("name", colour.name), ("short", _kg(colour.short_g))]
    if colour.bottles is None:
        return Notice("glass_short", GLASS_SHORT_NO_BOTTLE, tuple(params))
    params += [
        ("needed", _kg(colour.raw_g)),
        ("free", _kg(colour.raw_free_used_g)),
        ("bottles", str(colour.bottles)),
    ]
    return Notice("glass_short", GLASS_SHORT, tuple(params))


def _kg(grams: Decimal) -> str:
    return f"{grams / 1000:.3f}"
