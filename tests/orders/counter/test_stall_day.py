"""A day at a market stall: out, sold, home; or counted afterwards."""

import uuid
from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.core.management import call_command
from django.urls import reverse
from django.utils import timezone

from orders.counter.services.ordering import confirm_order, draft_order
from orders.counter.services.sale_returns import take_sale_back
from orders.counter.services.selling import ShelfShort, sell
from orders.counter.services.stall import Home, carry_out, come_home
from orders.making.services.to_stock import beads_each, string_to_stock
from orders.models import Sale, StallDay, WantedLine
from orders.money.services.drawers import through_drawer
from orders.money.services.goods_back import CameBack
from orders.money.services.payments import PaymentDetails
from stock.models import LocationKind
from stock.services.stringing import beads_on, take_apart
from stock.trail import Tracker
from tests.builders import make_customer, make_person, put_beads
from tests.orders.counter.selling import at, ready_strands

SHELF, STALL, SOLD = LocationKind.STRAND_SHELF, LocationKind.STALL, LocationKind.SOLD
CASH = PaymentDetails("cash", drawer="market stall")


@pytest.fixture
def bracelet(workshop):
    """Ten bracelets worth 3.00 each; two of them are held for an order."""
    design = ready_strands("Harbour bracelet", 10)
    lines = [WantedLine(design.pk, 2, Decimal(9))]
    order = draft_order(make_customer(), lines, person=make_person("counter"))
    confirm_order(order, person=make_person("owner"), owner_word="agreed")
    return design


def out(design, count=6, **given) -> StallDay:
    return carry_out({design.pk: count}, person=make_person("counter"), **given)


def test_what_goes_out_is_still_ours_and_promised_to_nobody(bracelet):
    out(bracelet)
    assert at(bracelet, SHELF) == (4, Decimal(12))
    assert at(bracelet, STALL) == (6, Decimal(18))
    order = draft_order(
        make_customer(), [WantedLine(bracelet.pk, 3, Decimal(9))], person=make_person("counter")
    )
    costing = confirm_order(order, person=make_person("owner"), owner_word="agreed").costing
    [line] = costing.lines
    assert line.ready_taken == 2  # the two that are free on the shelf, and none of the stall's
    call_command("check_book")


def test_what_is_held_for_an_order_does_not_go_out(bracelet):
    with pytest.raises(ShelfShort, match="8 lie free on the shelf and 9 were written; 2 more"):
        out(bracelet, 9)
    assert not StallDay.objects.exists() or at(bracelet, STALL)[0] == 0


def test_a_whole_day_sold_one_by_one_and_the_rest_brought_home(bracelet):
    counter = make_person("counter")
    day = out(bracelet)
    line = [WantedLine(bracelet.pk, 2, Decimal("6.50"))]
    sale = sell(line, person=counter, way=CASH, day=day)
    assert at(bracelet, STALL) == (4, Decimal(12))
    assert sale.stall_day == day
    assert come_home(day, [Home(bracelet.pk, home=4)], person=counter, way=CASH) is None
    assert at(bracelet, SHELF) == (8, Decimal(24))
    assert at(bracelet, STALL)[0] == 0 and at(bracelet, SOLD)[0] == 2
    assert through_drawer("market stall", timezone.localdate())[0] == Decimal("13.00")
    call_command("check_book")


def test_a_day_written_down_afterwards_as_counts(bracelet):
    yesterday = timezone.localdate() - timedelta(days=1)
    day = out(bracelet, on=yesterday)
    counted = [Home(bracelet.pk, home=1, missing=1, price=Decimal(7))]
    sale = come_home(day, counted, person=make_person("counter"), way=CASH)
    assert sale.invoice.total == Decimal(28)  # six went out; four were sold at 7.00
    assert sale.posting.on == sale.payment.on == yesterday
    assert at(bracelet, SHELF)[0] == 5 and at(bracelet, SOLD)[0] == 4
    assert at(bracelet, LocationKind.DIFFERENCE)[0] == 1
    assert not StallDay.objects.get().is_open
    call_command("check_book")


def test_more_cannot_come_home_than_is_out(bracelet):
    day = out(bracelet)
    with pytest.raises(ShelfShort, match="6 are out at market stall and 7 were written"):
        come_home(day, [Home(bracelet.pk, home=7)], person=make_person("counter"), way=CASH)
    assert StallDay.objects.get().is_open


def test_what_is_not_at_the_stall_is_not_sold_there(bracelet):
    day = out(bracelet, 1)
    line = [WantedLine(bracelet.pk, 2, Decimal(9))]
    with pytest.raises(ShelfShort, match="1 are out at market stall"):
        sell(line, person=make_person("counter"), way=CASH, day=day)


def test_of_two_who_bring_it_home_the_second_is_told(bracelet):
    day = out(bracelet)
    counter = make_person("counter")
    come_home(day, [Home(bracelet.pk, home=6)], person=counter, way=CASH)
    with pytest.raises(ValidationError, match="is home already"):
        come_home(day, [Home(bracelet.pk, home=6)], person=counter, way=CASH)
    assert at(bracelet, SHELF)[0] == 10


def test_one_stall_is_out_once_and_another_beside_it(bracelet):
    out(bracelet, 2)
    with pytest.raises(ValidationError, match="is not home yet"):
        out(bracelet, 2)
    other = out(bracelet, 2, stall="Harbour steps")
    assert at(bracelet, STALL)[0] == 4
    assert other.place.kind == STALL and other.place.name == "Harbour steps"


def test_a_strand_sold_at_the_stall_comes_back_to_the_shelf(client, bracelet):
    day = out(bracelet)
    counter = make_person("counter")
    line = [WantedLine(bracelet.pk, 2, Decimal(9))]
    sale = sell(line, person=counter, way=CASH, day=day)
    back = [CameBack(sale.order.lines.get().pk, good=1)]
    take_sale_back(sale, back, person=counter, reason="Too short", way=CASH)
    assert at(bracelet, SHELF)[0] == 5 and at(bracelet, STALL)[0] == 4
    call_command("check_book")
    client.force_login(counter)
    told = client.get(reverse("orders:stall", args=[day.pk])).content.decode()
    assert "Given back" in told and "came back" in told
    [listed] = client.get(reverse("orders:stall_list")).context["out"]
    assert listed.taken == Decimal(9)


def test_what_went_out_and_came_home_can_still_be_cut_open(workshop):
    """Home from the stall, and back from a customer: the book knows what is on the cord."""
    design, counter = workshop["design"], make_person("counter")
    [(bead, each)] = beads_each(design).items()
    put_beads(bead, 3 * each)
    strung = string_to_stock(design, 3, person=make_person("bench"))
    design.refresh_from_db()
    day = out(design, 3)
    sale = sell([WantedLine(design.pk, 1, Decimal(900))], person=counter, way=CASH, day=day)
    come_home(day, [Home(design.pk, home=2)], person=counter, way=CASH)
    back = [CameBack(sale.order.lines.get().pk, good=1)]
    take_sale_back(sale, back, person=counter, reason="Too short", way=CASH)
    [found] = beads_on(design.item, 3)
    assert (found.item.batch.bead, found.pieces) == (bead, 3 * each)
    [came] = sale.returns.get().posting.movements.all()
    assert strung.pk in Tracker().back(came).by_posting
    take_apart(design.item, 3, person=make_person("bench"))
    assert at(design, SHELF)[0] == 0
    call_command("check_book")


# --- by pages alone -----------------------------------------------------------------------------


def test_a_day_from_nothing_by_pages_alone(client, bracelet):
    client.force_login(make_person("counter"))
    sell_page = reverse("orders:sell")
    assert reverse("orders:stall_list") in client.get(sell_page).content.decode()
    sent = {f"n_{bracelet.pk}": "5", "on": timezone.localdate().isoformat(), "stall": ""}
    assert client.get(reverse("orders:stall_out")).status_code == 200
    gone = client.post(reverse("orders:stall_out"), sent)
    day = StallDay.objects.get()
    assert gone.url == reverse("orders:stall", args=[day.pk])
    assert "5 there" in client.get(gone.url).content.decode()

    form = {f"n_{bracelet.pk}": "1", "stall": str(day.pk), "key": str(uuid.uuid4())}
    panel = client.post(reverse("orders:sell_panel"), form)
    form |= {"do": "pay:cash", "seen": panel.context["stand"].seen, "drawer": "market stall"}
    assert client.post(sell_page, form).status_code == 302
    assert Sale.objects.get().stall_day == day

    home = reverse("orders:stall_home", args=[day.pk])
    assert "4 are out" in client.get(home).content.decode()
    counts = {f"home_{bracelet.pk}": "3", "method": "cash", "do": "look"}
    looked = client.post(home, counts)
    assert "Sold by the count" in looked.content.decode()
    counts |= {"do": "home", "seen": looked.context["seen"]}
    assert client.post(home, counts).url == reverse("orders:stall", args=[day.pk])
    assert at(bracelet, SHELF)[0] == 8 and at(bracelet, SOLD)[0] == 2
    told = client.get(reverse("orders:stall", args=[day.pk])).content.decode()
    assert told.count("1 × Harbour bracelet") == 2


def test_what_was_sold_is_looked_at_before_it_is_written_down(client, bracelet):
    day = out(bracelet)
    client.force_login(make_person("counter"))
    counts = {f"home_{bracelet.pk}": "3", "method": "cash", "do": "home", "seen": "1"}
    answer = client.post(reverse("orders:stall_home", args=[day.pk]), counts)
    assert answer.status_code == 422
    assert "Look at what was sold" in answer.content.decode()
    assert StallDay.objects.get().is_open and not Sale.objects.exists()


def test_a_stall_that_went_home_meanwhile_sells_nothing_by_mistake(client, bracelet):
    day = out(bracelet)
    come_home(day, [Home(bracelet.pk, home=6)], person=make_person("counter"), way=CASH)
    client.force_login(make_person("counter"))
    form = {f"n_{bracelet.pk}": "1", "stall": str(day.pk), "do": "pay:cash", "seen": "1"}
    answer = client.post(reverse("orders:sell"), form)
    assert "That stall is home by now" in answer.content.decode()
    assert not Sale.objects.exists()


@pytest.mark.parametrize("role", ["yard", "kiln", "bench"])
def test_others_carry_nothing_out(client, bracelet, role):
    client.force_login(make_person(role))
    assert client.get(reverse("orders:stall_out")).status_code == 404
