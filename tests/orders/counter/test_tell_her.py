"""Short texts to a customer, sent by the telephone's own sheet and noted when they were."""

from datetime import timedelta
from decimal import Decimal
from urllib.parse import unquote

import pytest
from django.urls import reverse

from orders.counter.services.ordering import confirm_order, draft_order
from orders.counter.services.selling import sell
from orders.counter.services.telling import sms_address, texts_for, was_told
from orders.models import Order, WantedLine
from orders.money.services.papers import issue_quote
from orders.money.services.payments import PaymentDetails, record_payment
from tests.builders import make_customer, make_order, make_person
from tests.orders.counter.selling import ready_strands
from workshop.formats import date_short
from workshop.models import Business


@pytest.fixture
def ready(workshop):
    """An order of two strands that lie ready, for somebody with a telephone."""
    design = ready_strands(strands=4)
    marisa = make_customer(phone="+351 912 345 678")
    order = draft_order(
        marisa, [WantedLine(design.pk, 2, Decimal(9))], person=make_person("counter")
    )
    return confirm_order(order, person=make_person("owner"), owner_word=True).order


def kinds(order, **given):
    return {each.kind: each.text for each in texts_for(order, Business.current(), **given)}


def test_it_is_ready_with_the_sum(ready):
    text = kinds(ready)["ready"]
    assert f"order {ready.number} (2 × Harbour bracelet) is ready to collect" in text
    assert "To pay: €18.00" in text
    assert len(text) <= 160  # one message, 3GPP TS 23.038 (from memory)


def test_what_was_paid_is_no_longer_asked_for(ready):
    record_payment(
        ready.customer, Decimal(18), order=ready, person=make_person("counter"),
        way=PaymentDetails(),
    )  # fmt: skip
    told = kinds(ready)
    assert "To pay" not in told["ready"]
    assert "received €18.00" in told["receipt"] and "Receipt R-" in told["receipt"]


def test_a_quote_is_told_once_it_is_issued(workshop):
    draft = draft_order(
        make_customer(), [WantedLine(workshop["design"].pk, 3, Decimal(90))],
        person=make_person("counter"),
    )  # fmt: skip
    assert kinds(draft) == {}
    paper = issue_quote(draft, person=make_person("counter"))
    draft.refresh_from_db()
    text = kinds(draft)["quote"]
    assert paper.number in text and "€270.00" in text and "good until" in text


def test_late_names_the_day_told_before_and_the_new_one(monday):
    order = make_order(1, design=monday["design"])
    later = order.told_on + timedelta(days=3)
    text = kinds(order, late_until=later)["late"]
    assert f"will be ready on {date_short(later)}, not on {date_short(order.told_on)}" in text


def test_the_message_sheet_is_opened_with_number_and_words(workshop):
    # RFC 5724: sms:+15105550101?body=hello%20there
    address = sms_address("+1 510 555 0101", "hello there", Business.current())
    assert address == "sms:+15105550101?body=hello%20there"
    assert sms_address("ask at the market", "hello", Business.current()) == ""


def test_by_pages_alone_and_noted_when_it_was_sent(client, ready):
    client.force_login(make_person("counter"))
    order = client.get(reverse("orders:order_detail", args=[ready.number])).content.decode()
    url = reverse("orders:order_tell", args=[ready.number])
    assert url in order
    page = client.get(url).content.decode()
    assert "is ready to collect" in unquote(page) and "sms:+351912345678?body=" in page
    sent = {"kind": "ready", "to": "+351 912 345 678", "text": "It is ready, come by."}
    assert client.post(url, sent).url == url
    assert "It is ready, come by." in client.get(url).content.decode()
    [entry] = was_told(ready)
    assert entry.after == {
        "what": "ready", "to": "+351 912 345 678", "text": "It is ready, come by.",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("text", "sentence"),
    [("", "The text is empty"), ("x" * 481, "480 signs at most")],
)
def test_bad_input_is_a_sentence_and_notes_nothing(client, ready, text, sentence):
    client.force_login(make_person("counter"))
    url = reverse("orders:order_tell", args=[ready.number])
    answer = client.post(url, {"kind": "ready", "to": "ask her", "text": text})
    told = answer.content.decode()
    assert answer.status_code == 422 and sentence in told and "ask her" in told
    assert "This is no telephone number" in told
    assert was_told(ready) == []


def test_without_a_telephone_it_says_so_and_the_text_can_be_copied(client, ready):
    ready.customer.phone = ""
    ready.customer.save()
    client.force_login(make_person("counter"))
    told = client.get(reverse("orders:order_tell", args=[ready.number])).content.decode()
    assert "No telephone is written down." in told and "is ready to collect" in told


@pytest.mark.parametrize("days", [-400, 0])
def test_a_day_that_is_not_later_is_refused_at_its_box(client, monday, days):
    order = make_order(1, design=monday["design"])
    client.force_login(make_person("counter"))
    day = (order.told_on + timedelta(days=days)).isoformat()
    url = reverse("orders:order_tell", args=[order.number])
    told = client.get(url, {"late-day": day}).content.decode()
    assert "write a later day" in told and day in told


def test_the_receipt_of_a_sale_without_a_name(client, workshop):
    design = ready_strands(strands=2)
    sale = sell(
        [WantedLine(design.pk, 1, Decimal(9))], person=make_person("counter"), way=PaymentDetails()
    )
    client.force_login(make_person("counter"))
    url = reverse("orders:order_tell", args=[sale.number])
    assert url in client.get(reverse("orders:sale", args=[sale.number])).content.decode()
    told = client.get(url).content.decode()
    assert "received €9.00" in told and "No telephone is written down" not in told


@pytest.mark.parametrize("role", ["yard", "kiln", "bench"])
def test_others_tell_nobody(client, ready, role):
    client.force_login(make_person(role))
    assert client.get(reverse("orders:order_tell", args=[ready.number])).status_code == 404
    assert Order.objects.get(pk=ready.pk)
