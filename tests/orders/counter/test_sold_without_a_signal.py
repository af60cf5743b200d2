"""Sold and ordered on a phone without a signal: sent late, once, and asked where it cannot be."""

import html
import json
import re
import uuid
from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from orders.models import Customer, DesignPrice, Order, Payment, QuantityBreak, Sale
from tests.builders import make_customer, make_person
from tests.hard.coming_in import sign_in
from tests.orders.counter.selling import ready_strands, sold
from tests.workshop.test_phones import paired
from workshop.models import AuditEntry
from workshop.phone_door.folder import Desk

SELL, ORDER = "/sell/", "/counter/phone/"
YESTERDAY = timezone.now() - timedelta(days=1)


@pytest.fixture
def shelf(workshop, settings, tmp_path):
    """Three bracelets on the shelf, 6.50 each by the list."""
    settings.PHONES, settings.PHONES_DIR = Desk("Tidewrack Beads", 8000), tmp_path
    design = ready_strands("Harbour bracelet", 3)
    DesignPrice.objects.create(design=design, price=Decimal("6.50"), valid_from="2026-01-01")
    return design


@pytest.fixture
def phone(shelf):
    person = make_person("counter")
    phone = paired(person)
    sign_in(phone, person.username)
    return phone


def send_late(phone, path, at=YESTERDAY, **boxes):
    data = {"key": str(uuid.uuid4()), **boxes}
    return phone.post(path, data, headers={"X-Happened-At": at.isoformat()})


def sale_of(design, strands, seen, **more):
    boxes = {f"n_{design.pk}": strands, f"told_{design.pk}": "6.5", "seen": seen}
    return boxes | {"do": "pay:cash"} | more


def choices(answer) -> dict[str, dict]:
    """What the desk says can be done instead, by its words."""
    assert answer.status_code == 422
    rows = re.findall(
        r'<li data-boxes="([^"]*)" data-path="([^"]*)"\s*(data-look)?\s*>\s*(.*?)\s*</li>',
        answer.content.decode(),
        re.S,
    )
    return {
        html.unescape(label): {**json.loads(html.unescape(boxes)), "path": path, "look": bool(look)}
        for boxes, path, look, label in rows
    }


def chosen(boxes: dict, choice: dict) -> dict:
    return boxes | {name: value for name, value in choice.items() if name not in ("path", "look")}


def test_what_was_sold_yesterday_without_a_signal_is_in_the_book_of_yesterday(phone, shelf):
    assert send_late(phone, SELL, **sale_of(shelf, 2, "13")).status_code == 302
    sale = Sale.objects.get()
    assert sold(sale) == [("Harbour bracelet", 2)]
    day = timezone.localdate(YESTERDAY)
    assert sale.order.collected_on == sale.payment.on == day
    assert sale.invoice.issued_on == timezone.localdate(), "a paper is of the day it is written"
    [entry] = AuditEntry.objects.filter(act="sell from the shelf")
    assert entry.after["happened at"] == YESTERDAY.isoformat()


def test_of_two_phones_that_sold_the_same_beads_the_second_is_asked(phone, shelf):
    other = paired(person := make_person("counter", username="second"))
    sign_in(other, person.username)
    assert send_late(phone, SELL, **sale_of(shelf, 2, "13")).status_code == 302
    second = sale_of(shelf, 2, "13")
    answer = send_late(other, SELL, **second)
    assert "1 lie on the shelf and 2 were written" in html.unescape(answer.content.decode())
    assert Sale.objects.count() == 1, "never forced"
    found = choices(answer)
    less = found["Sell what is there: 1 × Harbour bracelet, for €6.50"]
    order = found["Take an order for it"]
    assert order["path"] == f"{ORDER}?design={shelf.pk}" and order["look"]
    assert (order["deposit"], order["deposit_how"]) == ("13", "cash")
    assert send_late(other, SELL, **chosen(second, less)).status_code == 302
    assert [sold(sale)[0][1] for sale in Sale.objects.order_by("pk")] == [2, 1]
    # Of a design that is gone altogether the phone is told too, and not merely less is sold.
    answer = send_late(phone, SELL, **sale_of(shelf, 1, "6.5"))
    assert "none lies on the shelf any more, and 1 were written" in html.unescape(
        answer.content.decode()
    )
    assert set(choices(answer)) == {"Take an order for it"}


@pytest.mark.parametrize(
    ("words", "sum"),
    [("Sell it for €14.00, as prices are now", "14"), ("Sell it for €13.00, as was told", "13")],
)
def test_a_price_that_changed_meanwhile_is_a_question(phone, shelf, words, sum):
    DesignPrice.objects.create(design=shelf, price=Decimal(7), valid_from=timezone.localdate())
    boxes = sale_of(shelf, 2, "13")
    answer = send_late(phone, SELL, **boxes)
    assert send_late(phone, SELL, **chosen(boxes, choices(answer)[words])).status_code == 302
    assert Sale.objects.get().invoice.total == Decimal(sum)


def test_a_customer_who_is_gone_is_a_question_for_sale_and_order(phone, shelf):
    gone = make_customer("Old Anders", in_use=False)
    boxes = sale_of(shelf, 1, "6.5", customer=gone.pk)
    choice = choices(send_late(phone, SELL, **boxes))["Sell it to nobody by name"]
    assert send_late(phone, SELL, **chosen(boxes, choice)).status_code == 302
    assert Sale.objects.get().order.customer.nameless

    boxes = {f"n_{shelf.pk}": 1, "customer": gone.pk, "who": "Old Anders", "new-group": "walk-in"}
    choice = choices(send_late(phone, ORDER, **boxes))["Take it for Old Anders as a new name"]
    assert send_late(phone, ORDER, **chosen(boxes, choice)).status_code == 302
    assert Order.objects.latest("pk").customer in Customer.objects.filter(in_use=True)


def test_an_order_with_a_deposit_is_promised_once_the_desk_is_back(phone, shelf):
    marisa = make_customer(group="walk-in")
    boxes = {f"n_{shelf.pk}": 2, f"told_{shelf.pk}": "6.5", "who": marisa.name.lower()}
    boxes |= {"deposit": "5", "deposit_how": "cash", "do": "take"}
    answer = send_late(phone, ORDER, **boxes)
    order = Order.objects.get()
    assert answer.url == reverse("orders:order_detail", args=[order.number])
    assert (order.state, order.customer, order.total) == ("confirmed", marisa, Decimal(13))
    assert order.taken_on == Payment.objects.get().on == timezone.localdate(YESTERDAY)
    page = phone.get(answer.url).content.decode()
    assert re.search(r'<li class="message success">[^<]*collect from', page), "the day is told"


def test_prices_told_and_a_day_wished_are_asked_about_where_they_do_not_hold(phone, shelf):
    DesignPrice.objects.create(design=shelf, price=Decimal(7), valid_from=timezone.localdate())
    soon = timezone.localdate().isoformat()
    boxes = {f"n_{shelf.pk}": 40, f"told_{shelf.pk}": "6.5", "who": "Rosa Quay", "due_on": soon}
    boxes |= {"new-group": "walk-in", "do": "take"}
    found = choices(send_late(phone, ORDER, **boxes))
    assert not Order.objects.exists()
    boxes = chosen(boxes, found["Take it at the prices that were told"])
    [later] = (each for words, each in found.items() if "to be collected from" in words)
    boxes = chosen(boxes, later)
    assert send_late(phone, ORDER, **boxes).status_code == 302
    assert Order.objects.get().lines.get().price == Decimal("6.50")


def test_without_a_name_or_a_design_an_order_asks_and_at_the_desk_there_is_no_such_page(
    phone, shelf, client
):
    answer = send_late(phone, ORDER, do="take")
    assert "Choose who the order is for" in answer.content.decode()
    sign_in(client, "counter")
    assert client.get(ORDER).url == reverse("workshop:phones")


def test_the_pages_that_are_kept_hold_the_prices_and_what_the_shelf_had(
    phone, shelf, django_assert_max_num_queries
):
    QuantityBreak.objects.create(from_strands=10, off=Decimal("0.1"), valid_from="2026-01-01")
    marisa = make_customer()
    DesignPrice.objects.create(
        design=shelf, customer=marisa, price=Decimal(5), from_strands=2, valid_from="2026-01-01"
    )
    with django_assert_max_num_queries(60):
        answers = [phone.get(path) for path in (SELL, ORDER)]
    told = []
    for answer in answers:
        page = answer.content.decode()
        assert "3 ready" in page
        told.append(json.loads(html.unescape(re.search(r'data-prices="([^"]*)"', page)[1])))
        assert answer["X-Keep"]
    steps = [[1, "6.5"], [10, "5.85"]]
    assert told[0]["steps"][str(shelf.pk)] == steps
    assert told[1]["lists"]["walk-in"][str(shelf.pk)] == steps
    [person] = told[1]["people"]
    assert (person["name"], person["own"]) == (marisa.name, {str(shelf.pk): [[2, "5"]]})


def test_an_hour_that_is_nearly_now_is_now_and_one_far_ahead_is_none(phone, shelf):
    soon = timezone.now() + timedelta(seconds=30)
    assert send_late(phone, SELL, at=soon, **sale_of(shelf, 1, "6.5")).status_code == 302
    assert (
        send_late(phone, SELL, at=soon + timedelta(hours=2), **sale_of(shelf, 1, "6.5")).status_code
        == 302
    )
    hours = [
        entry.after.get("happened at")
        for entry in AuditEntry.objects.filter(act="sell from the shelf")
    ]
    assert sorted(map(bool, hours)) == [False, True]
    assert all(sale.order.collected_on == timezone.localdate() for sale in Sale.objects.all())


def test_an_act_whose_answer_was_cut_off_says_its_sentence_when_it_is_sent_again(phone, shelf):
    boxes = sale_of(shelf, 2, "13") | {"key": str(uuid.uuid4())}
    first = send_late(phone, SELL, **boxes)
    assert first.status_code == 302
    phone.get(first.url)  # the sentence is told and gone, as if the phone had never heard it
    again = phone.post(SELL, boxes, headers={"X-Happened-At": YESTERDAY.isoformat()}, follow=True)
    assert "Sold for €13.00" in html.unescape(again.content.decode())
    assert Sale.objects.count() == 1


def test_a_page_fetched_to_be_kept_takes_no_sentence_away_from_whoever_looks(phone, shelf):
    first = send_late(phone, SELL, **sale_of(shelf, 2, "13"))
    kept = phone.get("/", headers={"X-Only-Kept": "yes"})
    assert "Sold for €13.00" not in html.unescape(kept.content.decode())
    assert "Sold for €13.00" in html.unescape(phone.get(first.url).content.decode())
