"""The counter's page, as a browser without scripts sends it, and the parts that scripts fetch."""

import re
import uuid
from datetime import timedelta
from decimal import Decimal
from unittest import mock

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone

from orders.counter.services import ordering
from orders.counter.services.ordering import cancel_order, confirm_order
from orders.counter.services.reopening import reopen_order
from orders.models import Customer, Order, Payment, StockReservation
from orders.money.services.payments import PaymentDetails, record_payment
from tests.builders import make_bead, make_customer, make_design, make_order, make_person, put_beads
from workshop.models import Business, TaxRate

pytestmark = pytest.mark.django_db
COUNTER = "/counter/"


@pytest.fixture
def counter(client, workshop):
    client.force_login(make_person("counter"))
    return client


def sheet(response) -> dict[str, str]:
    """What a browser would send back: the hidden marks of the figures that were shown."""
    page = response.content.decode()
    return {
        name: re.search(rf'name="{name}"\s+value="([^"]*)"', page).group(1)
        for name in ("seen", "lines_seen")
    }


def lines(*wanted, **more) -> dict:
    data = {"key": str(uuid.uuid4()), "line": [str(design.pk) for design, _count in wanted]}
    for design, count in wanted:
        data[f"n_{design.pk}"] = str(count)
    return data | more


def take(client, data: dict, do: str = "take"):
    """Look at the figures first, as anybody would, then press the button."""
    looked = client.post(COUNTER, data | {"do": "work"})
    return client.post(COUNTER, data | sheet(looked) | {"do": do})


def test_an_order_is_taken_on_one_page(counter, workshop):
    marisa = make_customer()
    data = lines((workshop["design"], 30), customer=marisa.pk)
    response = take(counter, data)
    order = Order.objects.get()
    assert response.url == reverse("orders:order_detail", args=[order.number])
    assert order.state == Order.State.CONFIRMED
    assert order.lines.get().strands == 30
    assert order.taken_by == make_person("counter")


def test_taking_an_order_of_five_designs_costs_it_once_and_takes_at_most_90_statements(
    counter, workshop, django_assert_max_num_queries
):
    others = [
        make_design(f"Design {n}", beads=make_bead(f"Bead {n}"), code=f"d{n}") for n in range(4)
    ]
    put_beads(workshop["bead"], 20)
    wanted = [(design, 12) for design in (workshop["design"], *others)]
    data = lines(*wanted, customer=make_customer().pk)
    looked = counter.post(COUNTER, data | {"do": "work"})
    with (
        mock.patch.object(
            ordering, "cost_without_loads", side_effect=AssertionError("costed again")
        ),
        mock.patch.object(
            ordering, "cost_and_promise", side_effect=AssertionError("promised again")
        ),
        django_assert_max_num_queries(90),
    ):
        counter.post(COUNTER, data | sheet(looked) | {"do": "take"})
    order = Order.objects.get()
    assert order.state == Order.State.CONFIRMED
    assert StockReservation.objects.filter(order=order).count() == 1


def test_what_the_sheet_worked_out_is_what_costing_the_written_order_finds(counter, workshop):
    put_beads(workshop["bead"], 40)
    take(counter, lines((workshop["design"], 5), customer=make_customer().pk), do="draft")
    order = Order.objects.get()
    again = confirm_order(order, person=make_person("counter")).order
    first = (again.total, again.cost, again.likely_on, again.p90_on, again.bench_min)
    tree = again.working["tree"] | {"subject": ""}
    reopen_order(again, person=make_person("counter"))
    cancel_order(Order.objects.get(pk=order.pk), person=make_person("counter"))
    take(counter, lines((workshop["design"], 5), customer=make_customer().pk))
    taken = Order.objects.latest("number")
    assert first == (taken.total, taken.cost, taken.likely_on, taken.p90_on, taken.bench_min)
    assert taken.working["tree"]["subject"] == str(taken.number)
    assert taken.working["tree"] | {"subject": ""} == tree


def test_a_gross_is_understood(counter, workshop):
    take(counter, lines((workshop["design"], "1 gross"), customer=make_customer().pk))
    assert Order.objects.get().lines.get().strands == 144


def test_sent_twice_it_is_taken_once(counter, workshop):
    data = lines((workshop["design"], 2), customer=make_customer().pk)
    looked = counter.post(COUNTER, data | {"do": "work"})
    sent = data | sheet(looked) | {"do": "take"}
    first, second = counter.post(COUNTER, sent), counter.post(COUNTER, sent)
    assert first.url == second.url
    assert Order.objects.count() == 1


def test_the_figures_must_have_been_seen(counter, workshop):
    data = lines((workshop["design"], 2), customer=make_customer().pk)
    response = counter.post(COUNTER, data | {"do": "take"})
    assert response.status_code == 422
    assert "Look at the date and the price" in response.content.decode()
    assert not Order.objects.exists()


def test_when_the_shelf_changed_meanwhile_it_says_who_and_keeps_what_was_typed(counter, workshop):
    put_beads(workshop["bead"], 40)
    data = lines((workshop["design"], 2), customer=make_customer().pk, note="for the fair")
    looked = counter.post(COUNTER, data | {"do": "work"})
    make_order(1, design=workshop["design"], customer=make_customer("Tomas Reku"))
    response = counter.post(COUNTER, data | sheet(looked) | {"do": "take"})
    page = response.content.decode()
    assert response.status_code == 422
    assert "Tomas Reku" in page and "The figures are new" in page
    assert 'value="for the fair"' in page
    assert Order.objects.count() == 1
    # The page that came back shows the new figures; pressing again takes the order.
    counter.post(COUNTER, data | sheet(response) | {"do": "take"})
    assert Order.objects.count() == 2


def test_a_new_customer_is_written_down_with_the_order_and_not_before(counter, workshop):
    data = lines((workshop["design"], 1), adding="yes")
    data |= {"new-name": "Noor Wick", "new-group": "shop", "new-phone": "+351 200 000 123"}
    counter.post(COUNTER, data | {"do": "work"})
    assert not Customer.objects.exists()
    take(counter, data)
    assert Order.objects.get().customer == Customer.objects.get(name="Noor Wick", group="shop")


def test_a_name_that_is_on_the_list_already_is_not_added_twice(counter, workshop):
    make_customer("Noor Wick")
    data = lines((workshop["design"], 1), adding="yes")
    response = take(counter, data | {"new-name": "noor  wick", "new-group": "shop"})
    assert response.status_code == 422
    assert "on the list already" in response.content.decode()
    assert Customer.objects.count() == 1 and not Order.objects.exists()


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [("0", "too little"), ("-3", ""), ("twelve kg", ""), ("nan", ""), ("1e9", ""), ("", "")],
)
def test_a_count_that_cannot_be_is_kept_and_told_and_nothing_is_saved(
    counter, workshop, typed, sentence
):
    data = lines((workshop["design"], typed), customer=make_customer().pk)
    response = counter.post(COUNTER, data | {"do": "take", "seen": "x"})
    page = response.content.decode()
    assert response.status_code == 422
    assert f'value="{typed}"' in page or not typed
    assert "to put right" in page
    assert not Order.objects.exists()


def test_an_order_without_lines_says_what_to_add(counter):
    response = counter.post(COUNTER, {"do": "take", "customer": make_customer().pk})
    assert response.status_code == 422
    assert "no lines" in response.content.decode()


def test_an_order_for_nobody_asks_who_it_is_for(counter, workshop):
    response = take(counter, lines((workshop["design"], 1)))
    assert response.status_code == 422
    assert "Choose who the order is for" in response.content.decode()


def test_a_day_that_has_passed_is_told_at_its_box(counter, workshop):
    yesterday = (timezone.localdate() - timedelta(days=1)).isoformat()
    data = lines((workshop["design"], 1), customer=make_customer().pk, due_on=yesterday)
    response = take(counter, data)
    assert response.status_code == 422
    assert "has passed" in response.content.decode()
    assert yesterday in response.content.decode()


def test_buttons_work_without_scripts(counter, workshop):
    design, other = workshop["design"], make_design("Choker")
    page = counter.post(COUNTER, lines((design, 4), do=f"add:{other.pk}"))
    assert f'name="n_{other.pk}" value="1"' in page.content.decode()
    page = counter.post(COUNTER, lines((design, 4), do=f"more:{design.pk}"))
    assert f'name="n_{design.pk}" value="5"' in page.content.decode()
    page = counter.post(COUNTER, lines((design, 1), do=f"less:{design.pk}"))
    assert f'name="n_{design.pk}" value="1"' in page.content.decode()  # never below one
    page = counter.post(COUNTER, lines((design, 4), do=f"drop:{design.pk}"))
    assert f'name="n_{design.pk}"' not in page.content.decode()
    assert not Order.objects.exists()


def test_more_of_a_gross_is_one_more(counter, workshop):
    pk = workshop["design"].pk
    page = counter.post(COUNTER, lines((workshop["design"], "1 gross"), do=f"more:{pk}"))
    assert f'name="n_{pk}" value="145"' in page.content.decode()


def test_same_again_fills_the_lines_at_todays_prices(counter, workshop):
    before = make_order(7, design=workshop["design"], price=Decimal("99"))
    page = counter.get(f"{COUNTER}?again={before.number}").content.decode()
    assert f'name="n_{workshop["design"].pk}" value="7"' in page
    assert 'value="99' not in page


def test_a_price_written_by_hand_is_kept_as_that(counter, workshop):
    pk = workshop["design"].pk
    data = lines((workshop["design"], 2), customer=make_customer().pk)
    take(counter, data | {f"p_{pk}": "41,50"})
    line = Order.objects.get().lines.get()
    assert (line.price, line.price_from) == (Decimal("41.50"), "line")


def test_below_cost_a_counter_hand_is_stopped(counter, workshop):
    pk = workshop["design"].pk
    data = lines((workshop["design"], 2), customer=make_customer().pk, owner_word="last of it")
    response = take(counter, data | {f"p_{pk}": "0.01"})
    assert response.status_code == 422
    assert "let the owner confirm" in response.content.decode()
    assert not Order.objects.exists()


def test_below_cost_the_owners_word_passes(client, workshop):
    client.force_login(make_person("owner"))
    pk = workshop["design"].pk
    data = lines((workshop["design"], 2), customer=make_customer().pk, owner_word="last of it")
    take(client, data | {f"p_{pk}": "0.01"})
    assert Order.objects.get().below_cost_by == make_person("owner")


def test_a_deposit_is_booked_with_the_order(counter, workshop):
    data = lines((workshop["design"], 2), customer=make_customer().pk)
    take(counter, data | {"deposit": "15.00", "deposit_how": "cash"})
    payment = Payment.objects.get()
    assert (payment.amount, payment.order) == (Decimal("15.00"), Order.objects.get())


def test_a_deposit_that_is_refused_leaves_no_order_behind(counter, workshop):
    data = lines((workshop["design"], 2), customer=make_customer().pk)
    # Mobile money without its reference cannot be booked.
    response = take(counter, data | {"deposit": "15.00", "deposit_how": "mobile"})
    assert response.status_code == 422
    assert not Order.objects.exists() and not Payment.objects.exists()


def test_a_balance_brought_forward_is_no_way_to_pay_a_deposit(counter, workshop):
    """It was taken, and stood in no drawer and on no bank account."""
    data = lines((workshop["design"], 2), customer=make_customer().pk)
    response = take(counter, data | {"deposit": "15.00", "deposit_how": "opening"})
    assert response.status_code == 422
    assert not Order.objects.exists() and not Payment.objects.exists()
    with pytest.raises(ValidationError, match="Money does not move that way"):
        record_payment(
            make_customer(),
            Decimal(15),
            person=make_person("counter"),
            way=PaymentDetails("opening"),
        )


def test_an_order_can_be_kept_without_promising(counter, workshop):
    take(counter, lines((workshop["design"], 2), customer=make_customer().pk), do="draft")
    order = Order.objects.get()
    assert order.state == Order.State.DRAFT and not order.jobs.exists()
    page = counter.get(reverse("orders:order_change", args=[order.number]))
    assert f'name="n_{workshop["design"].pk}" value="2"' in page.content.decode()


def test_a_kept_order_is_changed_and_confirmed_on_the_same_page(counter, workshop):
    order = make_order(1, design=workshop["design"])
    order = Order.objects.get(pk=order.pk)
    url = reverse("orders:order_change", args=[order.number])
    assert counter.get(url).status_code == 404  # confirmed: no draft any more


def test_the_panel_follows_the_typing_without_writing(counter, workshop):
    url = reverse("orders:counter_panel")
    page = counter.post(url, lines((workshop["design"], 30)), headers={"HX-Request": "true"})
    text = page.content.decode()
    assert "Collect from" in text and "so that 540 come good" in text  # 30 × 18
    assert not Order.objects.exists()


def boxes_in(answer) -> list[str]:
    """Names of the boxes of an answer that somebody could be typing into."""
    page = answer.content.decode()
    boxes = re.findall(r"<(?:input|select|textarea)\b[^>]*>", page)
    return [re.search(r'name="([^"]*)"', box).group(1) for box in boxes if "hidden" not in box]


def test_no_answer_brings_a_box_that_is_on_the_page_already(counter, workshop):
    """A box that is never replaced cannot lose what is typed while an answer is on its way."""
    design, other = workshop["design"], make_design("Choker")
    marisa = make_customer()
    data = lines((design, 3), customer=marisa.pk, deposit="5", note="for the fair")
    assert boxes_in(counter.post(reverse("orders:counter_panel"), data)) == []
    asked = [f"as{other.pk}-{name}" for name in ("length", "where", "around", "old", "new")]
    own_boxes = [f"n_{other.pk}", f"p_{other.pk}", *asked]
    for act, brought in (
        (f"add:{other.pk}", own_boxes),  # the new line alone
        (f"drop:{design.pk}", []),
        (f"pick:{marisa.pk}", []),
        ("forget", ["who"]),  # asked for anew
    ):
        answer = counter.post(reverse("orders:counter_change"), data | {"do": act})
        assert boxes_in(answer) == brought, act


def test_the_large_day_is_the_careful_one(counter, workshop):
    """Without firings on record each of them gets a day to spare."""
    url = reverse("orders:counter_panel")
    text = counter.post(url, lines((workshop["design"], 30))).content.decode()
    days = re.search(r'answer-value">([^<]+)</span>.*?likely ([^<,]+)[,<]', text, re.S)
    assert days and "Nine times in ten by then" in text
    assert days.group(1) != days.group(2)


def test_a_day_wanted_before_the_careful_one_is_told(counter, workshop):
    tomorrow = timezone.localdate() + timedelta(days=1)
    data = lines((workshop["design"], 3000), due_on=tomorrow.isoformat())
    text = counter.post(reverse("orders:counter_panel"), data).content.decode()
    assert "earlier than can be promised" in text


def test_what_a_buyer_may_owe_is_told_with_the_new_order_and_vat(counter, workshop):
    Business.objects.update(tax_registered=True, tax_number="PT000000000")
    TaxRate.objects.create(
        name="usual", rate=Decimal(23), standard=True, valid_from=timezone.localdate()
    )
    pk = workshop["design"].pk
    reku = make_customer("Tomas Reku", credit_limit=Decimal(122))
    data = lines((workshop["design"], 2), customer=reku.pk) | {f"p_{pk}": "50"}
    url = reverse("orders:counter_panel")
    # 2 × 50.00 and 23 % of it are 123.00.
    assert "it would be €123.00" in counter.post(url, data).content.decode()
    # A deposit of 1.00 brings it down to what was agreed.
    assert "may owe up to" not in counter.post(url, data | {"deposit": "1"}).content.decode()


def test_every_figure_opens_its_working(counter, workshop):
    for figure in ("date", "start", "glass", "kiln", "labour", "lowest", "price"):
        url = reverse("orders:counter_working", args=[figure])
        page = counter.post(url, lines((workshop["design"], 3)), headers={"HX-Request": "true"})
        assert page.status_code == 200
        assert "term-value" in page.content.decode() or "promise-steps" in page.content.decode()


def test_customers_are_found_by_part_of_a_name_or_number(counter):
    make_customer("Marisa Orlo", phone="+351 210 000 777")
    make_customer("Tomas Reku")
    for typed in ("orlo", "mar or", "777"):
        page = counter.get(reverse("orders:counter_people"), {"who": typed}).content.decode()
        assert "Marisa Orlo" in page and "Tomas Reku" not in page


@pytest.mark.parametrize("role", ["yard", "kiln", "bench"])
def test_the_counter_is_closed_to_those_who_see_no_money(client, workshop, role):
    client.force_login(make_person(role))
    assert client.get(COUNTER).status_code == 404
    assert client.post(COUNTER, lines((workshop["design"], 1))).status_code == 404
    assert client.post(reverse("orders:counter_panel"), {}).status_code == 404


@pytest.mark.parametrize("role", ["kiln", "bench"])
def test_kiln_and_bench_read_an_order_without_its_money(client, workshop, role):
    order = make_order(2, design=workshop["design"], price=Decimal("77.77"))
    client.force_login(make_person(role))
    page = client.get(reverse("orders:order_detail", args=[order.number])).content.decode()
    assert "Harbour bracelet" in page
    assert "77.77" not in page and "155.54" not in page
    listed = client.get(reverse("orders:order_list")).content.decode()
    assert "155.54" not in listed
