"""Quantity breaks from their page to the price of an order."""

from datetime import date, timedelta
from decimal import Decimal as D

import pytest
from django.urls import reverse
from django.utils import timezone

from orders.costing.cost_order import cost_order
from orders.costing.working.tree import order_tree
from orders.counter.services.ordering import draft_order
from orders.designs.papers import breaks_for, price_list_html
from orders.facts.order import facts_for
from orders.models import DesignPrice, QuantityBreak, WantedLine
from tests.builders import make_customer, make_person

DAY = date(2026, 1, 1)


@pytest.fixture
def owner(client, workshop):
    client.force_login(workshop["owner"])
    return client


def priced(workshop, strands: int, **who):
    facts = facts_for(
        [WantedLine(workshop["design"].pk, strands)], business=workshop["business"], **who
    )
    return cost_order(facts).lines[0]


def add(client, **typed):
    usual = {"group": "", "from_strands": "48", "off": "7.5", "valid_from": "2026-01-01"}
    return client.post(reverse("orders:design_break_add"), usual | typed)


def test_a_break_written_on_its_page_is_in_the_next_price(owner, workshop):
    DesignPrice.objects.create(design=workshop["design"], price=D("4.25"), valid_from=DAY)
    assert add(owner).status_code == 302
    assert priced(workshop, 47).price_each == D("4.25")
    assert priced(workshop, 48).price_each == D("3.93")  # 4.25 × 0.925 = 3.93125
    line = cost_order(
        facts_for([WantedLine(workshop["design"].pk, 48)], business=workshop["business"])
    )
    (term,) = [t for t in order_tree(line).walk() if t.name == "Quantity break" and t.value]
    assert (term.value, term.source) == (D("0.075"), "quantity breaks")


def test_a_gross_is_understood_and_the_list_shows_per_cent(owner, workshop):
    add(owner, from_strands="1 gross", off="12,5", group="trader")
    row = QuantityBreak.objects.get()
    assert (row.from_strands, row.off) == (144, D("0.125"))
    page = owner.get(reverse("orders:design_break_list")).content.decode()
    assert "144" in page and "12.5%" in page.replace("\u00a0", "")
    csv = owner.get(reverse("orders:design_break_list"), {"as": "csv"}).getvalue().decode()
    assert "0.125" in csv


def test_a_group_has_its_own_and_a_newer_one_goes_before_an_older(owner, workshop):
    today = timezone.localdate()
    QuantityBreak.objects.create(from_strands=10, off=D("0.05"), valid_from=DAY)
    QuantityBreak.objects.create(group="trader", from_strands=10, off=D("0.10"), valid_from=DAY)
    QuantityBreak.objects.create(
        group="trader", from_strands=10, off=D("0"), valid_from=today + timedelta(days=1)
    )
    DesignPrice.objects.create(design=workshop["design"], price=D(5), valid_from=DAY)
    assert priced(workshop, 10, group="trader").price_each == D("4.50")
    assert priced(workshop, 10, group="shop").price_each == D("4.75")
    QuantityBreak.objects.create(group="trader", from_strands=10, off=D("0"), valid_from=today)
    assert priced(workshop, 10, group="trader").price_each == D(5)


def test_agreed_prices_and_prices_by_hand_stand_as_they_are(owner, workshop):
    add(owner, from_strands="2", off="50")
    customer = make_customer(group="trader")
    DesignPrice.objects.create(
        design=workshop["design"], customer=customer, price=D("3.80"), valid_from=DAY
    )
    assert priced(workshop, 60, customer=customer).price_each == D("3.80")
    facts = facts_for(
        [WantedLine(workshop["design"].pk, 60, D("4.44"))], business=workshop["business"]
    )
    assert cost_order(facts).lines[0].price_each == D("4.44")


def test_an_order_written_down_is_charged_with_it(owner, workshop):
    DesignPrice.objects.create(design=workshop["design"], price=D("4.25"), valid_from=DAY)
    add(owner)
    order = draft_order(
        make_customer(), [WantedLine(workshop["design"].pk, 50)], person=workshop["owner"]
    )
    assert order.lines.get().price == D("3.93")
    assert order.total == D("196.50")


@pytest.mark.parametrize(
    ("typed", "box", "sentence"),
    [
        ({"off": "100"}, "off", "99.9"),
        ({"off": "-5"}, "off", "0"),
        ({"off": "half"}, "off", "Write a percentage in figures"),
        ({"off": ""}, "off", ""),
        ({"from_strands": "1"}, "from_strands", "1 is too little; write at least 2"),
        ({"from_strands": "2.5"}, "from_strands", ""),
        ({"from_strands": "many"}, "from_strands", ""),
        ({"valid_from": "soon"}, "valid_from", "date"),
    ],
)
def test_what_is_no_break_is_said_at_its_box_and_kept(owner, workshop, typed, box, sentence):
    page = add(owner, **typed)
    assert page.status_code == 422
    form = page.context["form"]
    assert sentence in " ".join(form.errors[box])
    assert form[box].value() == typed[box]
    assert not QuantityBreak.objects.exists()


def test_the_same_break_twice_on_one_day_is_refused(owner, workshop):
    add(owner)
    page = add(owner)
    assert page.status_code == 422
    assert "already" in page.content.decode()
    assert QuantityBreak.objects.count() == 1


def test_only_the_owner_sets_breaks_and_the_counter_reads_them(client, workshop):
    QuantityBreak.objects.create(from_strands=10, off=D("0.05"), valid_from=DAY)
    client.force_login(make_person("counter"))
    assert client.get(reverse("orders:design_break_list")).status_code == 200
    assert add(client).status_code in {403, 404}
    assert QuantityBreak.objects.count() == 1


def test_the_printed_price_list_tells_what_many_save(owner, workshop):
    def row(group: str, least: int, off: str) -> None:
        QuantityBreak.objects.create(group=group, from_strands=least, off=D(off), valid_from=DAY)

    row("", 10, "0.03")
    row("", 100, "0.08")
    row("trader", 60, "0.05")
    row("walk-in", 5, "0")
    # 10 is everybody's and below the traders' first own; from 60 their own go first for good
    assert breaks_for("trader") == [(10, D("0.03")), (60, D("0.05"))]
    assert breaks_for("") == breaks_for("shop") == [(10, D("0.03")), (100, D("0.08"))]
    assert breaks_for("walk-in") == []
    html = price_list_html(workshop["business"], "trader")
    assert "From 60 strands of one design" in html


@pytest.mark.parametrize("strands", [9, 10, 59, 60, 200])
def test_what_is_printed_is_what_is_charged(owner, workshop, strands):
    for group, least, off in (("", 10, "0.03"), ("", 100, "0.08"), ("trader", 60, "0.05")):
        QuantityBreak.objects.create(group=group, from_strands=least, off=D(off), valid_from=DAY)
    printed = max((step for step in breaks_for("trader") if step[0] <= strands), default=(1, D(0)))
    assert priced(workshop, strands, group="trader").off == printed[1]
