"""The loads that are lit because of an order, and what they take out of the drawer.

Loads that are lit anyway and joined cost nothing. A new one is paid whole: fuel of a load and wear
of the kiln (and tending, where it is paid by the load), shared by the places of the order's beads
in it. The promise knows which loads these are; until it has been asked, none is counted.
"""

from collections.abc import Sequence
from decimal import Decimal, localcontext

from orders.costing.facts import Key, NewLoad
from orders.costing.figures import MONEY, Figure, fact, rule, total
from orders.costing.numbers import CONTEXT, ZERO, whole_up
from orders.costing.pocket import load_of
from orders.costing.pricing import price_line, prices_told
from orders.costing.results import BeadCosting, LineCosting, OrderCosting
from workshop.physics.sentences import gettext_noop as _

FILLS = fact(_("Mould fills"), "moulds", "promise")
PLACES = rule(_("Places taken"), "places", "product")
ALL_PLACES = total(_("Places of the order in it"), "places")
OF_LOAD = rule(_("Its part of a load lit for it"), MONEY, "share")
OF_BEAD = total(_("Loads lit for the bead"), MONEY)
BEAD_NEEDS = fact(_("Beads needed"), "beads", "order line")
FOR_LINE = rule(_("Its part of the loads"), MONEY, "share")
LOADS = total(_("Loads lit for it"), MONEY, "loads")
POCKET_OF_LINE = total(_("Out of pocket"), MONEY)
POCKET = total(_("Out of pocket for the order"), MONEY, "out of pocket")
PRICE = total(_("Price of the order"), MONEY, "price")
NET = total(_("Price without VAT"), MONEY, "net")
MARGIN = rule(_("Margin"), "", "margin", "margin")


def with_new_loads(costing: OrderCosting, loads: Sequence[NewLoad]) -> OrderCosting:
    """The same order, its floors and prices with the loads that it really lights.

    Source: a load that is lit for an order is spent because of it, whole (relevant cost).
    """
    if not loads:
        return costing
    with localcontext(CONTEXT):
        return _with(costing, loads)


def _with(costing: OrderCosting, loads: Sequence[NewLoad]) -> OrderCosting:
    by_bead: dict[Key, list[Figure]] = {}
    for number, load in enumerate(loads, 1):
        for key, part in _parts(costing, load, number):
            by_bead.setdefault(key, []).append(part)
    shares: list[list[Figure]] = [[] for _line in costing.lines]
    for bead in costing.beads:
        if bead.key in by_bead:
            _share_out(bead, OF_BEAD(bead.name, by_bead[bead.key]), shares)
    lines = tuple(
        [_line(costing, line, parts) for line, parts in zip(costing.lines, shares, strict=True)]
    )
    price = PRICE("", [line.figure("price_total") for line in lines])
    net = NET("", [line.figure("price_net") for line in lines])
    return costing.changed(
        lines=lines,
        pocket=POCKET("", [line.figure("pocket") for line in lines]),
        loads_cost=LOADS("", [line.figure("loads_cost") for line in lines]),
        new_loads=tuple(loads),
        price_total=price,
        price_net=net,
        margin=MARGIN("", costing.figure("cost"), net) if price.value else None,
    )


def _parts(costing: OrderCosting, load: NewLoad, number: int) -> list[tuple[Key, Figure]]:
    """What each bead of the order pays of one load, by its places in it."""
    workshop, found = costing.facts.workshop, []
    for part in load.parts:
        cost, firing = load_of(workshop, part.bead, part.firing, load.kiln)
        name = workshop.beads[part.bead].name
        places = PLACES(name, FILLS(part.fills, name), firing.places_each)
        found.append((part, cost, places))
    whole = ALL_PLACES("", [places for _part, _cost, places in found])
    return [
        (part.bead, OF_LOAD(f"{number}", cost, places, whole, key=f"load {number} {part.firing}"))
        for part, cost, places in found
    ]


def _share_out(bead: BeadCosting, cost: Figure, shares: list[list[Figure]]) -> None:
    """The lines that need a bead share its loads, by how many they need."""
    needed = bead.figure("needed")
    for index, need in bead.share_by_line:
        asked = BEAD_NEEDS(need, bead.name)
        shares[index].append(FOR_LINE(bead.name, cost, asked, needed, key=f"bead {bead.key}"))


def _line(costing: OrderCosting, line: LineCosting, parts: Sequence[Figure]) -> LineCosting:
    if not parts:
        return line
    loads = LOADS(line.name, parts)
    key = f"pocket {line.index + 1}"
    pocket = POCKET_OF_LINE(line.name, [line.figure("pocket_alone"), loads], key)
    price = price_line(
        costing.facts,
        costing.facts.lines[line.index],
        line.figure("cost"),
        pocket,
        line.name,
        line.index + 1,
    )
    return line.changed(loads_cost=loads, pocket=pocket, **prices_told(price))


def strands_that_pay(line: LineCosting) -> int | None:
    """From how many strands on the loads of a line are paid by its price; None for no number.

    loads' cost ÷ (price − out of pocket of one strand without loads), rounded up.
    """
    each = line.pocket_alone / line.quantity
    left = line.price_net / line.quantity - each
    if not line.loads_cost or left <= ZERO:
        return None
    return whole_up(Decimal(line.loads_cost) / left)
