"""Re-costing the whole open book from the database, as after a change of a price or a rate.

Asked for: an open book of 5,000 order lines in under 1 s of CPU in the pure part, in a number of
queries that does not grow with the book. `pytest --benchmark-enable tests/benchmarks` times it.
"""

import time
from datetime import date
from decimal import Decimal

import pytest

from orders.costing.cost_order import cost_order
from orders.costing.facts import LineFacts, OrderFacts
from orders.costing.what_if import compare, what_if
from orders.costing.working.tree import order_tree
from orders.facts.order import facts_for
from orders.models import Order, OrderLine, StrandDesign, WantedLine
from tests.builders import (
    make_bead,
    make_business,
    make_colour,
    make_customer,
    make_design,
    make_kiln,
    make_person,
    make_rate,
)

TAKEN = date(2026, 3, 2)
LINES, LINES_AN_ORDER, DESIGNS = 5000, 3, 20


@pytest.fixture
def open_book(db):
    """5,000 lines of 20 designs of two beads each, in orders of three lines."""
    make_business(margin=Decimal("0.25"))
    make_kiln()
    for step, skill, basis in (
        ("Grinding", "preparing", "kg"),
        ("Filling", "moulding", "mould"),
        ("Tending", "firing", "load"),
        ("Polishing", "polishing", "bead"),
        ("Stringing", "stringing", "strand"),
    ):
        make_rate(step, skill=skill, basis=basis)
    colours = [make_colour(name) for name in ("green", "amber", "cobalt", "clear")]
    beads = [
        make_bead(
            f"Bead {n}",
            colours={colours[n % 4]: Decimal("0.6"), colours[(n + 1) % 4]: Decimal("0.4")},
        )
        for n in range(DESIGNS)
    ]
    designs = [
        make_design(f"Design {n}", beads=[(beads[n], 2), (beads[(n + 7) % DESIGNS], 1)])
        for n in range(DESIGNS)
    ]
    customer, person = make_customer(), make_person("owner")
    count = -(-LINES // LINES_AN_ORDER)
    orders = Order.objects.bulk_create(
        Order(
            number=n + 1,
            customer=customer,
            taken_by=person,
            taken_on=TAKEN,
            due_on=TAKEN,
            likely_on=TAKEN,
            state=Order.State.CONFIRMED,
        )
        for n in range(count)
    )
    OrderLine.objects.bulk_create(
        OrderLine(
            order=orders[n // LINES_AN_ORDER],
            position=n % LINES_AN_ORDER,
            design=designs[(7 * n) % DESIGNS],
            strands=5 + n % 60,
            price=Decimal(5),
        )
        for n in range(LINES)
    )


def read_book() -> list[OrderFacts]:
    """Every open order as facts, over one and the same workshop."""
    designs = StrandDesign.objects.values_list("pk", flat=True)
    workshop = facts_for([WantedLine(design, 1) for design in designs]).workshop
    lines: dict[int, list[LineFacts]] = {}
    rows = OrderLine.objects.filter(order__state=Order.State.CONFIRMED).order_by(
        "order", "position"
    )
    for order, design, strands in rows.values_list("order", "design", "strands"):
        lines.setdefault(order, []).append(LineFacts(strands, design=design, key=design))
    return [OrderFacts(workshop, tuple(own), str(order)) for order, own in lines.items()]


def test_the_open_book_is_read_in_a_fixed_number_of_queries(
    open_book, django_assert_max_num_queries
):
    read_book()  # what stands in the workshop is read once by each process
    with django_assert_max_num_queries(19):
        book = read_book()
    assert sum(len(order.lines) for order in book) == LINES


@pytest.mark.benchmark(group="re-costing", timer=time.process_time)
def test_the_open_book_costed_again(open_book, benchmark):
    # Each time the workshop is new, so nothing kept from an earlier costing helps.
    def cost_book(book: list[OrderFacts]) -> int:
        return sum(len(cost_order(order).lines) for order in book)

    done = benchmark.pedantic(cost_book, setup=lambda: ((read_book(),), {}), rounds=3)
    assert done == LINES


@pytest.mark.benchmark(group="re-costing", timer=time.process_time)
def test_what_if_of_one_order_of_the_book(open_book, benchmark):
    order = read_book()[0]
    before = cost_order(order)
    bead = before.beads[0].key

    def asked() -> int:
        after = what_if(order, reject_rate={bead: Decimal("0.2")})
        return len(compare(order_tree(before), order_tree(after)))

    assert benchmark(asked) > 10
