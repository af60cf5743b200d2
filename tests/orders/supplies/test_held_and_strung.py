"""Clasps and cord in stock: held for orders, waited for, taken when strands are strung."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone

from orders.costing.cost_order import cost_order
from orders.counter.services.ordering import cancel_order
from orders.drawn.strands import findings_each
from orders.facts.order import facts_for
from orders.making.queries.findings import findings_lacking, findings_to_buy
from orders.making.services.progress import string_for
from orders.making.services.to_stock import string_to_stock
from orders.models import Finding, FindingNeed, Order, WantedLine
from orders.reckoning.reckon import reckon
from orders.supplies.services import count_finding, note_purchase, take_in
from stock.models import Balance, Charge, LocationKind, Posting
from stock.services.counting import count_shelf
from stock.services.undo import take_back
from tests.builders import make_customer, make_order, make_person
from tests.orders.supplies.test_buy import buy, differences, lies
from workshop.costs.amounts import six
from workshop.models import Business

MONDAY = date(2027, 3, 1)


def promised(bracelet, strands: int):
    """What the counter would say of so many."""
    return reckon(
        [WantedLine(bracelet.pk, strands)], customer=None, business=Business.current(),
        today=timezone.localdate(),
    )  # fmt: skip


def test_an_order_holds_its_clasps_and_the_next_one_what_is_left(bracelet, clasp, cord, beads):
    buy(clasp, 10, "2.80")
    buy(cord, 100_000, "6.00")
    first, second = make_order(6, design=bracelet), make_order(6, design=bracelet)
    assert lies(clasp)[:2] == (10, 10)
    [short] = findings_lacking()
    assert (short.order, short.finding, short.short) == (second, clasp, 2)
    assert differences() == []
    cancel_order(first, person=make_person("counter"))
    # What the first held is everybody's again, and the second has all it takes.
    assert findings_lacking() == []
    assert lies(clasp)[:2] == (10, 6)
    assert differences() == []


def test_stringing_takes_the_clasp_and_the_cord_at_their_average(bracelet, clasp, cord, cord_each,
                                                                 beads):  # fmt: skip
    buy(clasp, 100, "28.00")
    buy(clasp, 50, "20.00")
    order = make_order(4, design=bracelet)
    [line] = order.lines.all()
    posting = string_for(line, 3, person=make_person("bench"))
    # 3 clasps at 0.32, the average of the two purchases; the cord is not in stock, so it is
    # charged at the price written down for what the layout takes.
    assert lies(clasp) == (147, 1, Decimal("47.04"))
    charged = posting.charges.get(step="findings")
    assert charged.rate == six(findings_each(bracelet, in_stock_too=False))
    assert six(findings_each(bracelet)) - charged.rate == clasp.price
    buy(cord, 100_000, "6.00")
    before = lies(cord)[0]
    string_for(line, 1, person=make_person("bench"))
    assert before - lies(cord)[0] == cord_each
    # 1.3 × the length as strung, upwards to the millimetre.
    assert 1.3 * 168 < cord_each <= 1.3 * 180
    assert not FindingNeed.objects.exists()
    assert differences() == []


def test_a_stringing_taken_back_gives_them_back_to_the_order(bracelet, clasp, beads):
    buy(clasp, 5, "1.50")
    order = make_order(3, design=bracelet)
    posting = string_for(order.lines.get(), 3, person=make_person("bench"))
    assert lies(clasp) == (2, 0, Decimal("0.60"))
    take_back(posting, person=make_person("owner"), why="the knot came open")
    assert lies(clasp) == (5, 3, Decimal("1.50"))
    assert differences() == []


def test_more_cannot_be_strung_than_there_are_clasps_for(bracelet, clasp, beads):
    buy(clasp, 2, "0.60")
    order = make_order(3, design=bracelet)
    with pytest.raises(ValidationError, match="3 are needed for these strands and 2 can be taken"):
        string_for(order.lines.get(), 3, person=make_person("bench"))
    assert not Posting.objects.filter(kind="stringing").exists()
    # What an order holds is nobody else's.
    with pytest.raises(ValidationError, match="1 are needed for these strands and 0 can be taken"):
        string_to_stock(bracelet, 1, person=make_person("bench"))
    string_for(order.lines.get(), 2, person=make_person("bench"))
    assert differences() == []


def test_nobody_waits_for_what_was_never_counted(bracelet, clasp, beads):
    found = promised(bracelet, 50)
    assert found.promise.likely_on <= MONDAY + timedelta(days=1)
    assert found.promise.condition == ""
    make_order(50, design=bracelet)
    assert not FindingNeed.objects.exists()
    assert not Balance.objects.filter(place__kind=LocationKind.SUPPLIES).exists()


def test_the_promise_waits_for_the_clasps_and_says_so(bracelet, clasp, beads):
    Finding.objects.filter(pk=clasp.pk).update(delivery_days=9)
    buy(clasp, 5, "1.50")
    here = promised(bracelet, 5).promise
    assert here.likely_on <= MONDAY + timedelta(days=1)
    waits = promised(bracelet, 8).promise
    # Ordered on Monday 1 March they are here on the 10th; strung on the working day after.
    assert (waits.likely_on, waits.p90_on) == (date(2027, 3, 11), date(2027, 3, 11))
    said = {step.name: step for step in waits.steps}
    assert said["Clasps and cord here"].until == date(2027, 3, 10)
    assert said["Clasps and cord here"].how == "Hook clasp: 3 missing"
    assert said["Strung"].until == date(2027, 3, 11)


def test_where_nobody_knows_when_they_come_the_day_is_under_a_condition(client, bracelet, clasp,
                                                                       beads):  # fmt: skip
    buy(clasp, 5, "1.50")
    asked = promised(bracelet, 8).promise
    assert asked.condition == "once these are bought, ask when they come: Hook clasp: 3 missing"
    assert asked.likely_on <= MONDAY + timedelta(days=1)
    order = make_order(8, design=bracelet)
    client.force_login(make_person("counter"))
    page = client.get(reverse("orders:order_detail", args=[order.number])).content.decode()
    assert "Hook clasp" in page
    assert "3 missing" in page


def test_what_is_on_its_way_goes_to_the_orders_that_lack_it_first(bracelet, clasp, beads):
    Finding.objects.filter(pk=clasp.pk).update(delivery_days=20)
    buy(clasp, 2, "0.60")
    make_order(6, design=bracelet)  # lacks 4
    buy(clasp, 10, "3.00", arrived_on=None, expected_on=date(2027, 3, 4))
    # Of the ten that come on the 4th, four are spoken for.
    assert promised(bracelet, 6).promise.likely_on == date(2027, 3, 5)
    assert promised(bracelet, 7).promise.likely_on == date(2027, 3, 22)


def test_what_comes_is_held_for_the_order_due_first(bracelet, clasp, beads):
    buy(clasp, 1, "0.30")
    late = make_order(5, design=bracelet, due_on=date(2027, 4, 30))
    soon = make_order(5, design=bracelet, due_on=date(2027, 3, 19))
    purchase = buy(clasp, 6, "1.80", arrived_on=None)
    take_in(purchase, person=make_person("counter"))
    held = {order: sum(order.allocations.filter(balance__item=clasp.item_id).values_list(
        "quantity", flat=True)) for order in (late, soon)}  # fmt: skip
    assert held == {late: 2, soon: 5}
    assert differences() == []


def test_a_count_that_finds_fewer_lets_go_of_the_last_order_first(bracelet, clasp, beads):
    buy(clasp, 10, "3.00")
    first = make_order(5, design=bracelet, due_on=date(2027, 3, 19))
    make_order(5, design=bracelet, due_on=date(2027, 4, 30))
    place = Balance.objects.get(item=clasp.item_id, place__kind=LocationKind.SUPPLIES).place
    count_shelf(place, {clasp.item: 7}, person=make_person("bench"), why="three fell in the sand")
    [short] = findings_lacking()
    assert (short.order.due_on, short.short) == (date(2027, 4, 30), 3)
    assert not findings_lacking(first)
    count_finding(clasp, 10, person=make_person("bench"), why="found them")
    assert findings_lacking() == []
    assert differences() == []


def test_orders_taken_before_it_was_counted_hold_it_from_the_first_count_on(bracelet, clasp, beads):
    order = make_order(4, design=bracelet)
    count_finding(clasp, 3, person=make_person("counter"))
    [short] = findings_lacking()
    assert (short.order, short.short) == (order, 1)
    assert differences() == []


def test_a_strand_costs_what_its_clasp_cost_where_there_is_stock(bracelet, clasp, beads):
    def each() -> Decimal:
        facts = facts_for([WantedLine(bracelet.pk, 1)], customer=make_customer())
        return cost_order(facts).lines[0].findings_cost

    before = each()
    buy(clasp, 10, "5.00")  # 0.50 each, and 0.28 was written down
    assert each() - before == Decimal("0.22")
    assert each() - findings_each(bracelet) == Decimal("0.22")


def test_what_to_buy_is_what_orders_lack_and_what_the_mark_asks_for(client, bracelet, clasp, cord,
                                                                   beads):  # fmt: skip
    Finding.objects.filter(pk=clasp.pk).update(reorder_at=20, delivery_days=4)
    buy(clasp, 10, "3.00")
    buy(cord, 500_000, "30.00")
    make_order(12, design=bracelet, due_on=date(2027, 3, 19))
    buy(clasp, 5, "1.50", arrived_on=None)
    [row] = findings_to_buy()
    # 12 wanted − 10 there − 5 coming leaves 3 over; the mark is 20, so 17 are bought.
    assert (row.finding, row.to_buy, row.order_by) == (clasp, 17, None)
    make_order(10, design=bracelet, due_on=date(2027, 3, 19))
    [row] = findings_to_buy()
    assert (row.to_buy, row.order_by) == (27, date(2027, 3, 14))
    client.force_login(make_person("counter"))
    page = reverse("orders:supply_to_buy")
    assert "Buy 27" in client.get(page).content.decode()
    csv = b"".join(client.get(page, {"as": "csv"}).streaming_content).decode()
    assert csv.splitlines()[1].startswith("Hook clasp,27,each,,2027-03-14,10,5,22")
    client.force_login(make_person("bench"))
    assert client.get(page).status_code == 404
    assert client.get(reverse("orders:supply_list")).status_code == 200


@pytest.mark.parametrize("orders", [1, 6])
def test_the_pages_ask_the_same_however_many_orders(
    client, bracelet, clasp, beads, orders, django_assert_max_num_queries
):
    buy(clasp, 1, "0.30")
    for _ in range(orders):
        make_order(2, design=bracelet)
    client.force_login(make_person("counter"))
    for page in (
        reverse("orders:supply_list"),
        reverse("orders:supply_to_buy"),
        reverse("orders:supply", args=[clasp.pk]),
    ):
        with django_assert_max_num_queries(16):
            client.get(page)


def test_a_draft_holds_nothing(bracelet, clasp, beads):
    from tests.builders import make_draft

    buy(clasp, 5, "1.50")
    make_draft(3, design=bracelet)
    assert lies(clasp)[:2] == (5, 0)
    assert Order.objects.count() == 1
    assert not Charge.objects.filter(name="used").exists()
    note_purchase(clasp, 1, Decimal(1), person=make_person("counter"))


def test_clasps_that_came_in_two_parts_are_all_taken(bracelet, clasp, beads):
    """Two lay there and four came later: an order's two holds on one shelf are both used up."""
    buy(clasp, 2, "0.60")
    order = make_order(6, design=bracelet)
    take_in(buy(clasp, 4, "1.20", arrived_on=None), person=make_person("counter"))
    assert order.allocations.filter(balance__item=clasp.item_id).count() == 2
    string_for(order.lines.get(), 6, person=make_person("bench"))
    assert lies(clasp)[:2] == (0, 0)
    assert differences() == []
