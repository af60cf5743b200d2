"""Speed of costing. `pytest --benchmark-enable tests/benchmarks` takes the times.

Asked for, of CPU on one core: an order of 50 lines over 20 designs in under 20 ms; an open book
of 5,000 lines in under 1 s; one line's what-if in under 5 ms.
"""

import time
from dataclasses import replace
from decimal import Decimal

import pytest

from orders.costing.cost_order import cost_order
from orders.costing.facts import (
    BatchFacts,
    BeadFiringFacts,
    ColourShare,
    CordFacts,
    FindingFacts,
    LineFacts,
    OrderFacts,
    PartFacts,
    PolicyFacts,
    StockFacts,
    WorkshopFacts,
)
from orders.costing.what_if import compare, what_if
from orders.costing.working.tree import order_tree
from tests.costing.builders import (
    make_bead,
    make_colour,
    make_design,
    make_kiln,
    make_rate,
    make_workshop,
)

D = Decimal

cpu_time = pytest.mark.benchmark(group="costing", timer=time.process_time)


def busy_workshop() -> WorkshopFacts:
    """Eight colours, 30 beads over five kinds, 20 designs of three to four beads, ten steps."""
    names = [f"colour {number}" for number in range(8)]
    beads = {}
    for number in range(30):
        kind = ("powder", "fused", "remade", "painted", "centrepiece")[number % 5]
        firing = BeadFiringFacts("low fire", "dimpled tray", D("0.05") + D(number) / 500)
        beads[number] = make_bead(
            number,
            name=f"Bead {number}",
            kind=kind,
            painted=kind == "painted",
            pierced=kind == "fused",
            firings=(firing, firing) if kind == "painted" else (firing,),
            colours=(
                ColourShare(names[number % 8], D("0.7")),
                ColourShare(names[(number + 3) % 8], D("0.3")),
            ),
            volume_mm3=None,
            length_mm=None,
            shape="round",
            dimensions=(("diameter_mm", D(6 + number % 9)), ("bore_mm", D(2))),
            polishing_loss=D("0.03"),
            spill=D("0.02"),
        )
    designs = {
        number: make_design(
            number,
            finished_mm=D(180 + 20 * number),
            gap_mm=D("0.5"),
            parts=(
                PartFacts(number, 2, repeat=True),
                PartFacts((number + 7) % 30, 1, repeat=True),
                PartFacts("ring", 1, spacer=True, repeat=True),
                PartFacts((number + 13) % 30, 1, centre=True),
            ),
            mirrored=True,
            findings=(FindingFacts("Clasp", D(12), D("0.20")),),
            cord=CordFacts("Cord", D("1.1"), D(100), D("0.10")),
        )
        for number in range(20)
    }
    rates = [
        make_rate("preparing", basis="kg", minutes_each=D(20)),
        make_rate("moulding", setup_min=D(10), allowance=D("0.15")),
        make_rate("firing", basis="load", minutes_each=D(45)),
        make_rate("piercing", basis="bead", minutes_each=D("0.2")),
        make_rate("polishing", basis="bead", minutes_each=D("0.05")),
        make_rate("sorting", basis="bead", minutes_each=D("0.02")),
        make_rate("painting", basis="bead", minutes_each=D("0.5")),
        make_rate("threading", skill="stringing", basis="bead", minutes_each=D("0.05")),
        make_rate("finishing", skill="stringing", basis="strand", minutes_each=D(2)),
        make_rate("packing", basis="order", minutes_each=D(15)),
    ]
    return make_workshop(
        colours={name: make_colour(name, raw_free_g=D(5000)) for name in names},
        beads=beads,
        designs=designs,
        rates=tuple(rates),
        kilns=(make_kiln(), make_kiln("pit", fuel_per_load=None)),
        stock=StockFacts(
            tuple(BatchFacts(number, f"B{number}", number % 30, number * 3) for number in range(90))
        ),
        policy=PolicyFacts(overhead=D("0.12"), margin=D("0.25"), step=D("0.10")),
    )


def open_book(lines: int, lines_an_order: int) -> list[OrderFacts]:
    workshop = busy_workshop()
    book = []
    for first in range(0, lines, lines_an_order):
        order_lines = tuple(
            LineFacts(20 + (7 * number) % 90, design=number % 20)
            for number in range(first, min(first + lines_an_order, lines))
        )
        book.append(OrderFacts(workshop, order_lines, reference=str(first)))
    return book


def fresh(order: OrderFacts) -> OrderFacts:
    """The same facts with nothing kept from earlier costings."""
    return OrderFacts(busy_workshop(), order.lines)


@cpu_time
def test_an_order_of_fifty_lines_over_twenty_designs(benchmark):
    order = open_book(50, 50)[0]
    costing = benchmark.pedantic(
        cost_order, setup=lambda: ((fresh(order),), {}), rounds=30, warmup_rounds=2
    )
    assert len(costing.lines) == 50


@cpu_time
@pytest.mark.parametrize("lines_an_order", [1, 3])
def test_an_open_book_of_five_thousand_lines(benchmark, lines_an_order):
    book = open_book(5000, lines_an_order)

    def cost_book() -> int:
        return sum(len(cost_order(order).lines) for order in book)

    assert benchmark.pedantic(cost_book, rounds=3) == 5000


@cpu_time
def test_what_if_of_one_line(benchmark):
    order = replace(open_book(1, 1)[0], stock=StockFacts())
    cost_order(order)
    changes = {"reject_rate": {0: D("0.20")}}
    costing = benchmark(lambda: what_if(order, **changes))
    assert costing.beads[0].reject_rate == D("0.20")


@cpu_time
def test_what_if_of_one_line_compared_term_by_term(benchmark):
    order = replace(open_book(1, 1)[0], stock=StockFacts())
    before = cost_order(order)

    def compared() -> int:
        after = what_if(order, reject_rate={0: D("0.20")})
        return len(compare(order_tree(before), order_tree(after)))

    assert benchmark(compared) > 20


@cpu_time
def test_the_tree_of_an_order_of_three_lines(benchmark):
    order = open_book(3, 3)[0]
    tree = benchmark.pedantic(
        order_tree,
        setup=lambda: ((cost_order(order),), {}),
        rounds=50,
    )
    assert tree.find("cost").value > 0
