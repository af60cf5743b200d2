"""Part of an order leaves and is charged; the rest stays promised.

8.00 without VAT at 23 % is 9.84; two strands are 19.68, five 49.20.
"""

from decimal import Decimal as D

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from orders.counter.services.collecting import (
    NotPaid,
    collect_order,
    hand_over_part,
    look_at_part,
)
from orders.counter.services.ordering import cancel_order
from orders.models import Document, Order, Payment, StockReservation
from orders.money.queries.to_pay import to_pay
from orders.money.services.papers import issue_invoice
from orders.money.services.payments import PaymentDetails, record_payment
from stock.models import Balance, LocationKind, Posting, PostingKind
from stock.services.check import MORE_CHECKS, first_difference
from stock.services.undo import take_back
from tests.builders import make_customer, make_order, make_person, put_beads
from workshop.models import AuditEntry, Business, TaxRate

pytestmark = pytest.mark.django_db
CASH = PaymentDetails("cash")


@pytest.fixture
def order(workshop):
    """Five strands at 8.00 without VAT, whose 90 beads lie ready to be strung."""
    Business.objects.update(tax_registered=True, tax_number="PT501964843")
    TaxRate.objects.create(name="VAT", rate=23, standard=True, valid_from="2020-01-01")
    put_beads(workshop["bead"], 90)
    customer = make_customer("Tomas Reed", group="trader")
    return make_order(5, design=workshop["design"], customer=customer, price=D(8))


def part(order, strands: int, **given):
    given = {"person": make_person("counter"), "way": CASH} | given
    order.refresh_from_db()
    return hand_over_part(order, {order.lines.get().pk: strands}, **given)


def sold() -> int:
    rows = Balance.objects.filter(place__kind=LocationKind.SOLD, item__kind="strands")
    return sum(rows.values_list("quantity", flat=True))


def book_is_right() -> None:
    assert first_difference() is None
    assert [line for check in MORE_CHECKS for line in check.differences()] == []


def test_two_of_five_leave_are_charged_and_paid_and_three_stay_promised(order):
    gone = part(order, 2)
    assert (gone.invoice.total, gone.payment.amount) == (D("19.68"), D("19.68"))
    order.refresh_from_db()
    line = order.lines.get()
    assert (order.state, line.handed, line.strung, sold()) == (Order.State.CONFIRMED, 2, 2, 2)
    assert sum(StockReservation.objects.values_list("quantity", flat=True)) == 3 * 18  # beads
    assert to_pay(order).left == D("29.52")  # three more
    book_is_right()
    assert AuditEntry.objects.get(act="hand over part").after == {"Harbour bracelet": 2}


def test_the_last_part_collects_the_order_and_all_of_it_is_charged_once(order):
    part(order, 2)
    gone = part(order, 3)
    assert gone.order.state == Order.State.COLLECTED
    totals = Document.objects.filter(kind="invoice").values_list("total", flat=True)
    assert sorted(totals) == [D("19.68"), D("29.52")]
    assert to_pay(order).left == 0
    book_is_right()


def test_what_was_paid_on_account_is_taken_off_the_part_first_and_what_is_left_off_the_rest(order):
    """30.00 on account: 19.68 of it for the part, 10.32 wait; 49.20 - 30.00 = 19.20 to pay."""
    record_payment(order.customer, D(30), person=None, order=order)
    gone = part(order, 2, way=None)
    assert (gone.left, gone.invoice.total, gone.payment) == (0, 0, None)
    assert [off.gross for off in gone.invoice.lines.filter(role="off")] == [D("19.68")]
    asks = to_pay(order)
    assert (asks.on_account, asks.left) == (D("10.32"), D("19.20"))
    rest = part(order, 3)
    assert (rest.invoice.total, to_pay(order).left) == (D("19.20"), 0)
    assert not Document.objects.filter(kind="credit").exists()


def test_more_on_account_than_the_order_is_given_back_with_the_last_part_only(order):
    record_payment(order.customer, D("49.20"), person=None, order=order)
    part(order, 2, way=None)
    assert not Document.objects.filter(kind="credit").exists()
    part(order, 3, way=None)
    assert to_pay(order).left == 0 and not Document.objects.filter(kind="credit").exists()


def test_an_order_invoiced_before_asks_for_what_leaves_and_not_for_the_rest(order):
    issue_invoice(order, person=None)
    assert look_at_part(order, {order.lines.get().pk: 2}, person=make_person()).left == D("19.68")
    gone = part(order, 2)
    assert gone.invoice is None and gone.payment.amount == D("19.68")
    assert part(order, 3).payment.amount == D("29.52")


@pytest.mark.parametrize("fails", ["not paid", "more than is left", "nothing", "of another order"])
def test_what_is_refused_leaves_everything_as_it_was(order, fails):
    line = order.lines.get().pk
    before = (Posting.objects.count(), Document.objects.count(), AuditEntry.objects.count())
    wanted = {
        "more than is left": {line: 6},
        "nothing": {line: 0},
        "of another order": {line + 9: 1},
    }
    words = {
        "not paid": r"19\.68 is still to pay for order",
        "more than is left": "6 were written and 5 are still to be handed over. Write 5 or fewer",
        "nothing": "Write how many strands are handed over",
        "of another order": "not of this order",
    }
    with pytest.raises(ValidationError, match=words[fails]):
        hand_over_part(order, wanted.get(fails, {line: 2}), person=make_person("counter"))
    assert before == (
        Posting.objects.count(),
        Document.objects.count(),
        AuditEntry.objects.count(),
    )
    assert Order.objects.get().state == Order.State.CONFIRMED


def test_looking_writes_nothing_and_takes_no_number(order):
    seen = look_at_part(order, {order.lines.get().pk: 2}, person=make_person())
    assert seen.left == D("19.68")
    assert not Document.objects.exists() and sold() == 0
    assert order.lines.get().handed == 0


def test_only_the_owner_lets_a_part_go_on_account(order):
    with pytest.raises(NotPaid):
        part(order, 2, way=None, on_account=True)
    gone = part(order, 2, way=None, on_account=True, person=make_person("owner"))
    assert gone.payment is None and gone.invoice.open_amount == D("19.68")
    assert AuditEntry.objects.get(act="hand over on account").after == {"to pay": "19.68"}


def test_of_two_who_hand_over_the_same_part_the_second_is_told(order):
    stale = Order.objects.get(pk=order.pk)
    part(order, 2)
    with pytest.raises(ValidationError, match="changed by counter meanwhile"):
        hand_over_part(stale, {order.lines.get().pk: 2}, person=make_person("counter"), way=CASH)
    assert sold() == 2


def test_a_part_can_be_taken_back_and_the_order_holds_it_again(order):
    part(order, 2)
    posting = Posting.objects.get(kind=PostingKind.COLLECTION)
    take_back(posting, person=make_person(), why="wrong bag")
    line = order.lines.get()
    assert (line.handed, line.strung, sold()) == (0, 2, 0)
    book_is_right()
    order.refresh_from_db()
    collect_order(order, person=make_person())
    assert order.lines.get().handed == 5


def test_the_first_part_can_be_taken_back_after_the_last(order):
    part(order, 2)
    part(order, 3)
    take_back(
        Posting.objects.filter(kind="collection").earliest("pk"), person=make_person(), why="x"
    )
    order.refresh_from_db()
    assert (order.state, order.lines.get().handed, sold()) == (Order.State.CONFIRMED, 3, 3)
    book_is_right()


def test_an_order_of_which_a_part_left_is_not_cancelled(order):
    part(order, 2)
    order.refresh_from_db()
    with pytest.raises(ValidationError, match="2 strands of order .* are handed over already"):
        cancel_order(order, person=make_person())


def test_the_page_shows_the_sum_first_and_does_it_after(client, order):
    client.force_login(make_person("counter"))
    url, box = reverse("orders:order_part", args=[order.number]), f"n_{order.lines.get().pk}"
    assert "Hand over a part" in client.get(url).content.decode()
    looked = client.post(url, {box: "2", "method": "cash", "look": "look"})
    page = looked.content.decode()
    assert looked.status_code == 422 and "€19.68" in page and 'value="2"' in page
    assert "later, on account" not in page  # the owner's word
    sent = {box: "2", "method": "cash", "do": "do", "seen": looked.context["seen_sum"]}
    assert client.post(url, sent).url == reverse("orders:order_detail", args=[order.number])
    page = client.get(reverse("orders:order_detail", args=[order.number])).content.decode()
    assert "2 handed over" in page and "Hand over the rest" in page
    assert Payment.objects.get().amount == D("19.68")


def test_a_sum_that_changed_since_it_was_shown_is_shown_anew(client, order):
    client.force_login(make_person("counter"))
    url, box = reverse("orders:order_part", args=[order.number]), f"n_{order.lines.get().pk}"
    stale = client.post(url, {box: "3", "method": "cash", "do": "do", "seen": "19.68"})
    assert stale.status_code == 422 and "€29.52" in stale.content.decode() and sold() == 0


def test_the_pages_queries_do_not_grow_with_the_lines(client, order, django_assert_max_num_queries):
    client.force_login(make_person("counter"))
    with django_assert_max_num_queries(24):
        client.get(reverse("orders:order_part", args=[order.number]))
