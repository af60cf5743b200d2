"""Goods credited come back on the shelf or to the rejects, with the value they left with.

8.00 without VAT at 23 % is 9.84 a strand.
"""

from decimal import Decimal as D

import pytest
from django.core.exceptions import ValidationError
from django.db.models import Sum
from django.urls import reverse

from orders.counter.services.collecting import collect_order
from orders.money.queries.to_pay import to_pay
from orders.money.services.goods_back import credit_goods
from orders.money.services.papers import issue_invoice
from stock.models import Balance, ItemKind, LocationKind, Posting, PostingKind
from stock.services.check import MORE_CHECKS, first_difference
from stock.services.undo import take_back
from tests.builders import make_customer, make_order, make_person, put_beads
from workshop.models import AuditEntry, Business, TaxRate

pytestmark = pytest.mark.django_db


@pytest.fixture
def order(workshop):
    """Four strands handed over and invoiced."""
    Business.objects.update(tax_registered=True, tax_number="PT501964843")
    TaxRate.objects.create(name="VAT", rate=23, standard=True, valid_from="2020-01-01")
    put_beads(workshop["bead"], 80)
    customer = make_customer("Tomas Reed", group="trader")
    order = make_order(4, design=workshop["design"], customer=customer, price=D(8))
    collect_order(order, person=make_person())
    issue_invoice(order, person=None)
    return order


def credit(order, back, **given):
    invoice = order.papers.get(kind="invoice")
    line = invoice.lines.get()
    given = {"quantities": {line.pk: sum(back)}} | given
    return credit_goods(
        invoice, {line.pk: back}, person=make_person("counter"), reason="Came loose", **given
    )


def at(kind: str, item: str = ItemKind.STRANDS) -> tuple[int, D]:
    rows = Balance.objects.filter(place__kind=kind, item__kind=item)
    found = rows.aggregate(n=Sum("quantity"), worth=Sum("value"))
    return found["n"] or 0, found["worth"] or D(0)


def sound() -> None:
    assert first_difference() is None
    assert [line for check in MORE_CHECKS for line in check.differences()] == []


def test_good_strands_lie_on_the_shelf_again_with_a_share_of_what_they_left_with(order):
    worth = -at(LocationKind.SOLD)[1] if at(LocationKind.SOLD)[1] < 0 else at(LocationKind.SOLD)[1]
    note = credit(order, (1, 0))
    assert note.total == D("9.84")
    assert at(LocationKind.STRAND_SHELF) == (1, (worth / 4).quantize(D("0.000001")))
    assert (order.lines.get().came_back, to_pay(order).left) == (1, D("29.52"))
    sound()


def test_broken_ones_go_to_the_rejects_as_glass(order):
    before = at(LocationKind.GLASS_SHELF, ItemKind.GLASS)[0]
    credit(order, (0, 1))
    assert at(LocationKind.STRAND_SHELF)[0] == 0
    # 18 beads of 1200 mg each are on a strand.
    assert at(LocationKind.GLASS_SHELF, ItemKind.GLASS)[0] - before == 18 * 1200
    sound()


def test_a_credit_of_the_price_alone_moves_no_goods(order):
    credit(order, (0, 0), quantities={order.papers.get().lines.get().pk: 1})
    assert not Posting.objects.filter(kind=PostingKind.RETURN).exists()
    assert order.lines.get().came_back == 0


def test_all_that_is_left_is_credited_and_some_of_it_came_back(order):
    note = credit(order, (2, 1), quantities=None)
    assert note.total == D("39.36") and order.lines.get().came_back == 3
    assert AuditEntry.objects.get(act="take goods back").after["note"] == note.number
    sound()


@pytest.mark.parametrize("back", [(4, 1), (5, 0)])
def test_more_than_the_customer_has_is_told_and_nothing_is_done(order, back):
    with pytest.raises(ValidationError, match="at most 4|and the customer has 4"):
        credit(order, back)
    assert not order.papers.filter(kind="credit").exists()
    assert not Posting.objects.filter(kind=PostingKind.RETURN).exists()


def test_what_was_never_handed_over_cannot_come_back(workshop):
    order = make_order(2, design=workshop["design"], price=D(8))
    issue_invoice(order, person=None)
    with pytest.raises(ValidationError, match="the customer has 0"):
        credit(order, (1, 0))
    assert not order.papers.filter(kind="credit").exists()


def test_what_came_back_is_taken_back_before_the_hand_over_is(order):
    credit(order, (2, 0))
    gone = Posting.objects.get(kind=PostingKind.COLLECTION)
    with pytest.raises(ValidationError, match="2 strands of order .* came back since"):
        take_back(gone, person=make_person(), why="wrong")
    take_back(Posting.objects.get(kind=PostingKind.RETURN), person=make_person(), why="not ours")
    assert order.lines.get().came_back == 0
    sound()
    take_back(gone, person=make_person(), why="wrong")
    assert order.lines.get().handed == 0
    sound()


def test_the_page_asks_beside_each_line_what_came_back(client, order):
    client.force_login(make_person("counter"))
    line = order.papers.get().lines.get()
    url = reverse("orders:credit_issue", args=[order.papers.get().pk])
    assert "Of them back on the shelf" in client.get(url).content.decode()
    typed = {"reason": "Came loose", f"n_{line.pk}": "1", f"good_{line.pk}": "9"}
    refused = client.post(url, typed)
    assert refused.status_code == 422 and 'value="9"' in refused.content.decode()
    done = client.post(url, typed | {f"good_{line.pk}": "1", f"broken_{line.pk}": "1"})
    assert done.status_code == 302
    assert order.papers.get(kind="credit").total == D("19.68")  # two came back, so two
    assert order.lines.get().came_back == 2
