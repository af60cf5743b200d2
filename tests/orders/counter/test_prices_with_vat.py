"""Prices told with VAT or without, by customer: list, counter, price list, margin and lowest price.

Source: Directive 98/6/EC, articles 2 and 3: prices to consumers are final prices, VAT included; the
row VAT-UNIT of true_cost_checks.csv (18.00 without VAT at 23 % are 22.14 with it).
"""

from datetime import date
from decimal import Decimal as D

import pytest
from django.urls import reverse

from orders.costing.cost_order import cost_order
from orders.designs.papers import price_list_html, prices_in_force
from orders.facts.order import facts_for
from orders.models import DesignPrice, WantedLine
from tests.builders import make_customer, make_draft, make_person
from tests.costing.checks import agrees
from workshop.models import Business, TaxRate

pytestmark = pytest.mark.django_db
DAY = date(2026, 1, 1)


@pytest.fixture
def design(workshop):
    Business.objects.update(tax_registered=True, tax_number="PT501964843")
    TaxRate.objects.create(name="VAT", rate=23, standard=True, valid_from=DAY)
    return workshop["design"]


def price(design, amount: str, **given) -> None:
    DesignPrice.objects.create(design=design, price=D(amount), valid_from=DAY, **given)


def told(design, **who):
    lines = [WantedLine(design.pk, 1)]
    return cost_order(facts_for(lines, business=Business.current(), **who)).lines[0]


def test_a_price_for_everybody_is_told_with_vat_to_who_sees_it(design):
    price(design, "18.00")
    agrees("VAT-UNIT", told(design, group="walk-in").price_each)
    assert told(design, group="trader").price_each == 18
    shown = prices_in_force([design], "walk-in", business=Business.current())
    agrees("VAT-UNIT", shown[design.pk][1])


def test_a_price_of_a_group_is_kept_as_it_is_told(design, client):
    client.force_login(make_person("owner"))
    for group, amount in (("walk-in", "22.90"), ("shop", "18.50")):
        sent = {"design": design.pk, "group": group, "from_strands": 1, "price": amount}
        url = reverse("orders:design_price_add")
        assert client.post(url, sent | {"valid_from": "2026-01-01"}).status_code == 302
    assert told(design, group="walk-in").price_each == D("22.90")
    assert told(design, group="shop").price_each == D("18.50")
    # The owner thinks again: a price once told with VAT is not read as one without it.
    Business.objects.update(with_tax_walk_in=False)
    assert told(design, group="walk-in").price_each == D("18.62")  # 22.90 ÷ 1.23 = 18.6179


def test_a_customers_own_word_stands_above_the_group(design):
    price(design, "18.00")
    small = make_customer("Ilse", group="walk-in", prices_shown="net")
    assert told(design, customer=small).price_each == 18
    large = make_customer("Tomas", group="trader", prices_shown="gross")
    agrees("VAT-UNIT", told(design, customer=large).price_each)


def test_margin_and_lowest_price_are_what_is_left_after_vat(design):
    """At the same price before VAT both customers leave the same margin."""
    net, gross = told(design, group="trader"), told(design, group="walk-in")
    assert gross.cost == net.cost
    assert gross.lowest >= net.cost_each * D("1.23") > gross.lowest - D("0.01")
    price(design, str(net.lowest), group="trader")
    price(design, str(net.lowest), group="walk-in", with_tax=True)
    assert not told(design, group="trader").below_cost
    assert told(design, group="walk-in").below_cost, "its VAT is not the workshop's"
    paid = D("123.00")
    price(design, "100.00", group="shop")
    DesignPrice.objects.filter(group="walk-in").update(price=paid)
    assert told(design, group="walk-in").margin == told(design, group="shop").margin


def test_a_suggested_price_with_vat_is_one_easily_paid(design):
    line = told(design, group="walk-in")
    assert line.price_from == "suggested"
    assert line.price_each % Business.current().price_step == 0
    assert line.price_each >= told(design, group="trader").cost_each * D("1.23")


def test_the_price_list_says_how_its_prices_are_told(design):
    price(design, "18.00")
    business = Business.current()
    assert "€22.14" in (shown := price_list_html(business, "walk-in")) and "VAT included" in shown
    assert "€18.00" in (shown := price_list_html(business, "trader")) and "VAT is added" in shown


def test_an_order_keeps_the_form_it_was_told_in(design):
    price(design, "18.00")
    order = make_draft(2, design=design, customer=make_customer(group="walk-in"))
    assert (order.prices_with_tax, order.total) == (True, D("44.28"))
    Business.objects.update(with_tax_walk_in=False)
    order.refresh_from_db()
    assert order.prices_with_tax


def test_where_no_vat_is_due_nobody_is_told_of_it(design):
    price(design, "18.00")
    Business.objects.update(tax_registered=False)
    assert told(design, group="walk-in").price_each == 18
    assert "VAT" not in price_list_html(Business.current(), "walk-in")
