"""Lists and pages of orders, people, designs and prices: who may look, and at what price."""

from datetime import date
from decimal import Decimal

import pytest
from django.urls import reverse

from orders.models import Customer, DesignPrice, Finding, Order, StrandDesign
from orders.money.services.payments import record_payment
from tests.builders import (
    make_bead,
    make_customer,
    make_design,
    make_draft,
    make_order,
    make_person,
)

pytestmark = pytest.mark.django_db

LISTS = [
    "orders:order_list",
    "orders:customer_list",
    "orders:design_list",
    "orders:design_price_list",
    "orders:design_finding_list",
]


def fill(workshop, many: int) -> None:
    """So many of everything that a list can show."""
    for n in range(many):
        design = make_design(f"Strand {n}", beads=make_bead(f"Bead {n}"))
        customer = make_customer(f"Customer {n}")
        make_draft(n + 1, design=design, customer=customer)
        DesignPrice.objects.create(
            design=design, customer=customer, price=Decimal(9), valid_from=date(2026, 1, 1)
        )
        Finding.objects.create(name=f"Clasp {n}", kind="clasp", length_mm=8)


def count_queries(client, url: str) -> int:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    with CaptureQueriesContext(connection) as queries:
        assert client.get(url).status_code == 200
    return len(queries)


@pytest.mark.parametrize("name", LISTS)
def test_a_list_takes_the_same_queries_whatever_its_length(client, workshop, name):
    client.force_login(make_person("owner"))
    fill(workshop, 2)
    count_queries(client, reverse(name))  # what is cached once is cached now
    few = count_queries(client, reverse(name))
    Order.objects.all().delete()
    StrandDesign.objects.exclude(pk=workshop["design"].pk).delete()
    Customer.objects.all().delete()
    Finding.objects.all().delete()
    from stock.models import Bead

    Bead.objects.exclude(pk=workshop["bead"].pk).delete()
    fill(workshop, 15)
    count_queries(client, reverse(name))  # what stands is read anew
    assert count_queries(client, reverse(name)) == few


def test_the_list_of_orders_says_what_each_still_asks_for(client, workshop):
    """Three strands at 4.00 and no VAT; 5.00 paid beforehand leaves 7.00 to pay."""
    order = make_order(3, design=workshop["design"])
    order.lines.update(price=Decimal(4))
    record_payment(order.customer, Decimal(5), person=None, order=order)
    client.force_login(make_person("counter"))
    page = client.get(reverse("orders:order_list"))
    assert page.context["table"].asked_for[order.pk].left == 7
    assert "€7.00" in page.content.decode()
    given_out = client.get(reverse("orders:order_list"), {"as": "csv"})
    head, row = (line.decode() for line in given_out.streaming_content if line.strip())
    assert head.endswith("still to pay\r\n") and row.strip().endswith(",7.000000")
    client.force_login(make_person("bench"))
    assert "still to pay" not in client.get(reverse("orders:order_list")).content.decode().lower()


def test_the_day_at_a_glance_takes_the_same_queries_whatever_is_due(client, workshop):
    client.force_login(make_person("owner"))
    make_order(1, design=workshop["design"])
    count_queries(client, "/")
    few = count_queries(client, "/")
    for n in range(8):
        make_order(1, design=make_design(f"Strand {n}"), customer=make_customer(f"Nr {n}"))
    assert count_queries(client, "/") == few


@pytest.mark.parametrize("role", ["owner", "counter", "yard", "kiln", "bench"])
def test_everybody_has_a_day_and_money_only_those_who_see_it(client, workshop, role):
    make_order(1, design=workshop["design"])
    person = make_person(role)
    client.force_login(person)
    page = client.get("/").content.decode()
    assert ("Owed to us" in page) == person.sees_money
    assert ("Take an order" in page) == person.sees_money


def test_orders_are_found_by_number_and_by_customer(client, workshop):
    client.force_login(make_person("counter"))
    one = make_draft(1, design=workshop["design"], customer=make_customer("Tomas Reku"))
    two = make_draft(1, design=workshop["design"], customer=make_customer("Noor Wick"))
    for words in (str(one.number), "reku"):
        page = client.get(reverse("orders:order_list"), {"find": words}).content.decode()
        assert f"/orders/{one.number}/" in page and f"/orders/{two.number}/" not in page


def test_the_order_list_opens_on_the_open_ones_with_a_count_of_each_state(client, workshop):
    client.force_login(make_person("counter"))
    open_one = make_order(1, design=workshop["design"])
    draft = make_draft(1, design=workshop["design"], customer=make_customer("Tomas Reku"))
    page = client.get(reverse("orders:order_list"))
    words = page.content.decode()
    assert f"/orders/{open_one.number}/" in words and f"/orders/{draft.number}/" not in words
    chips = {str(chip.label): (chip.count, chip.current) for chip in page.context["chips"]}
    assert chips == {"not confirmed": (1, False), "confirmed": (1, True), "all": (2, False)}
    second = client.get(reverse("orders:order_list"), {"page": 1, "sort": "due_on"})
    assert f"/orders/{draft.number}/" not in second.content.decode()
    everything = client.get(reverse("orders:order_list"), {"state": ""}).content.decode()
    assert f"/orders/{draft.number}/" in everything
    given_out = b"".join(
        client.get(reverse("orders:order_list") + page.context["csv_url"]).streaming_content
    ).decode()
    assert given_out.count("\n") == 2  # the heads and the one that was shown


def test_the_order_list_downloads_as_a_spreadsheet_with_formulas_disarmed(client, workshop):
    client.force_login(make_person("counter"))
    make_draft(1, design=workshop["design"], customer=make_customer('=HYPERLINK("x")'))
    answer = client.get(reverse("orders:order_list"), {"as": "csv", "state": ""})
    text = b"".join(answer.streaming_content).decode()
    assert "'=HYPERLINK" in text


def test_the_cost_of_an_order_is_printed_as_a_tree(workshop, capsys):
    import json

    from django.core.management import call_command

    order = make_order(2, design=workshop["design"])
    call_command("cost", str(order.number), json=True)
    tree = json.loads(capsys.readouterr().out)
    assert tree["children"]
    assert {child["key"] for child in tree["children"]} >= {"beads", "glass", "cost", "price"}


def test_the_cost_of_an_order_that_is_not_there_says_so(db):
    from django.core.management import CommandError, call_command

    with pytest.raises(CommandError, match="no order 999"):
        call_command("cost", "999")


def test_a_what_if_leaves_the_order_alone(client, workshop):
    client.force_login(make_person("owner"))
    order = make_order(2, design=workshop["design"])
    bead = workshop["bead"]
    url = reverse("orders:order_what_if", args=[order.number])
    answer = client.post(url, {"n_0": "40", f"q_{bead.pk}": "20"})
    page = answer.content.decode()
    assert answer.status_code == 200
    assert "As it is, and as it would be" in page
    order.refresh_from_db()
    bead.refresh_from_db()
    assert order.lines.get().strands == 2
    assert bead.reject_rate == Decimal("0.08")


@pytest.mark.parametrize(
    ("typed", "sentence"), [({"n_0": "0"}, "too little"), ({"margin": "100"}, "")]
)
def test_a_what_if_that_cannot_be_says_so(client, workshop, typed, sentence):
    client.force_login(make_person("owner"))
    order = make_order(2, design=workshop["design"])
    url = reverse("orders:order_what_if", args=[order.number])
    answer = client.post(url, {"n_0": "2", f"q_{workshop['bead'].pk}": "8"} | typed)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()


def test_a_price_for_one_customer_and_a_group_at_once_is_refused(client, workshop):
    client.force_login(make_person("owner"))
    answer = client.post(
        reverse("orders:design_price_add"),
        {
            "design": workshop["design"].pk,
            "group": "trader",
            "customer": make_customer().pk,
            "from_strands": "1 dozen",
            "price": "12,50",
            "valid_from": "2026-01-01",
        },
    )
    assert answer.status_code == 422
    assert "leave one of the two empty" in answer.content.decode()
    assert not DesignPrice.objects.exists()


def test_a_price_from_a_dozen_up_is_kept(client, workshop):
    client.force_login(make_person("owner"))
    client.post(
        reverse("orders:design_price_add"),
        {
            "design": workshop["design"].pk,
            "group": "trader",
            "from_strands": "1 dozen",
            "price": "12,50",
            "valid_from": "2026-01-01",
        },
    )
    price = DesignPrice.objects.get()
    assert (price.from_strands, price.price) == (12, Decimal("12.50"))


@pytest.mark.parametrize(
    "name", ["orders:design_price_add", "orders:design_add", "orders:design_finding_add"]
)
def test_only_the_owner_changes_designs_findings_and_prices(client, workshop, name):
    client.force_login(make_person("counter"))
    assert client.get(reverse(name)).status_code == 404
    assert client.post(reverse(name), {}).status_code == 404


def test_a_customer_is_added_and_changed(client, workshop):
    client.force_login(make_person("counter"))
    client.post(
        reverse("orders:customer_add"),
        {"name": " Quay  Street shop ", "group": "shop", "country": "pt", "in_use": "on"},
    )
    shop = Customer.objects.get()
    assert (shop.name, shop.country) == ("Quay Street shop", "PT")
    url = reverse("orders:customer_change", args=[shop.pk])
    answer = client.post(url, {"name": "Quay", "group": "shop", "country": "Portugal"})
    assert answer.status_code == 422
    shop.refresh_from_db()
    assert shop.name == "Quay Street shop"


@pytest.mark.parametrize("act", ["confirm", "cancel", "collect"])
def test_only_the_counter_confirms_cancels_and_hands_over(client, workshop, act):
    order = make_draft(1, design=workshop["design"])
    client.force_login(make_person("kiln"))
    assert client.post(reverse(f"orders:order_{act}", args=[order.number])).status_code == 404
    order.refresh_from_db()
    assert order.state == Order.State.DRAFT


def test_a_refused_act_is_told_on_the_orders_page(client, workshop):
    order = make_order(3, design=workshop["design"])
    client.force_login(make_person("counter"))
    url = reverse("orders:order_collect", args=[order.number])
    page = client.post(url, follow=True).content.decode()
    assert "more beads that are not on the shelf yet" in page


def confirm_as_seen(client, order) -> str:
    import re

    page = client.get(reverse("orders:order_detail", args=[order.number])).content.decode()
    return re.search(r'name="seen"\s+value="([^"]*)"', page).group(1)


def test_a_kept_order_is_confirmed_on_its_own_page(client, workshop):
    client.force_login(make_person("counter"))
    order = make_draft(1, design=workshop["design"], price=Decimal(500))
    seen = confirm_as_seen(client, order)
    client.post(reverse("orders:order_confirm", args=[order.number]), {"seen": seen})
    order.refresh_from_db()
    assert order.state == Order.State.CONFIRMED


def test_an_old_page_confirms_nothing_that_it_did_not_show(client, workshop):
    from tests.builders import put_beads

    client.force_login(make_person("counter"))
    order = make_draft(1, design=workshop["design"], price=Decimal(500))
    seen = confirm_as_seen(client, order)
    put_beads(workshop["bead"], 40)
    url = reverse("orders:order_confirm", args=[order.number])
    page = client.post(url, {"seen": seen}, follow=True).content.decode()
    assert "The figures are new" in page
    order.refresh_from_db()
    assert order.state == Order.State.DRAFT


def test_a_promised_order_is_opened_again_from_its_page(client, workshop):
    client.force_login(make_person("counter"))
    order = make_order(1, design=workshop["design"])
    answer = client.post(reverse("orders:order_reopen", args=[order.number]))
    assert answer.url == reverse("orders:order_change", args=[order.number])
    assert client.get(answer.url).status_code == 200


def test_shares_of_a_what_if_must_add_up(client, workshop):
    from tests.builders import make_colour

    green, amber = make_colour(), make_colour("amber")
    bead = make_bead("Two", colours={green: "0.6", amber: "0.4"})
    order = make_order(2, design=make_design("Two strand", beads=bead))
    client.force_login(make_person("owner"))
    url = reverse("orders:order_what_if", args=[order.number])
    first, second = bead.colours.order_by("pk")
    data = {"n_0": "2", f"q_{bead.pk}": "8", f"s_{first.pk}": "70", f"s_{second.pk}": "40"}
    answer = client.post(url, data)
    assert answer.status_code == 422
    assert "add up to 110" in answer.content.decode()
    answer = client.post(url, data | {f"s_{second.pk}": "30"})
    assert answer.status_code == 200
    assert "figures differ" in answer.content.decode()


def test_an_empty_order_book_says_what_to_do_first(client, workshop):
    client.force_login(make_person("counter"))
    page = client.get(reverse("orders:order_list")).content.decode()
    assert "No order has been taken yet" in page
