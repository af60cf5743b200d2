"""Strands lent to a shop: ours until sold, invoiced less the shop's share, the rest comes back.

Ten bracelets at 12.00 to buyers without VAT; the shop keeps 30 %: of three sold 36.00 - 10.80 =
25.20, and 5.80 VAT at 23 % (5.796), 31.00 to pay.
"""

from decimal import Decimal as D

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from orders.counter.queries import lying_at
from orders.counter.services.consigning import There, count_at_shop, lend
from orders.counter.services.ordering import confirm_order
from orders.counter.services.sale_returns import take_sale_back
from orders.models import Consignment, Document, Sale
from orders.money.queries.accounts import balance_of
from orders.money.services.goods_back import CameBack
from orders.money.services.payments import PaymentDetails, record_payment
from stock.models import Balance, LocationKind, Posting
from stock.services.check import MORE_CHECKS, first_difference
from stock.services.undo import take_back
from tests.builders import make_customer, make_draft, make_person
from tests.orders.counter.selling import ready_strands
from tests.orders.money.setting import registered
from workshop.models import AuditEntry

pytestmark = pytest.mark.django_db
NAME = "Harbour bracelet"


@pytest.fixture
def bracelet(monday):
    from datetime import date

    from orders.models import DesignPrice

    registered(with_tax_trader=False)
    design = ready_strands(NAME, 10)
    DesignPrice.objects.create(design=design, price=D(12), valid_from=date(2020, 1, 1))
    return design


@pytest.fixture
def goods(bracelet):
    """Eight of ten lent to a shop that keeps 30 %."""
    shop = make_customer("Lantern House", group="shop")
    return lend(shop, {bracelet.pk: 8}, person=make_person("owner"), share=D("0.3"))


def at(kind: str) -> int:
    rows = Balance.objects.filter(place__kind=kind, item__kind="strands")
    return sum(rows.values_list("quantity", flat=True))


def count(goods, bracelet, **given):
    there = There(bracelet.pk, **given)
    return count_at_shop(goods, [there], person=make_person("owner"), owner_word="agreed")


def sound() -> None:
    assert first_difference() is None
    assert [line for check in MORE_CHECKS for line in check.differences()] == []


def test_what_is_lent_leaves_the_shelf_stays_ours_and_is_promised_to_nobody(goods, bracelet):
    assert (at(LocationKind.STRAND_SHELF), at(LocationKind.SHOP)) == (2, 8)
    assert Balance.objects.get(place=goods.place).value > 0
    order = confirm_order(
        make_draft(5, design=bracelet, price=D(9)), person=make_person("owner"), owner_word="x"
    ).order
    assert order.lines.get().strung == 2  # those on the shelf; the others are made
    sound()


def test_what_is_sold_is_invoiced_less_the_share_and_the_rest_stays_or_comes_back(goods, bracelet):
    sale = count(goods, bracelet, still=3, back=2)
    paper = sale.invoice
    assert (paper.net, paper.tax, paper.total) == (D("25.20"), D("5.80"), D("31.00"))
    (charge,) = paper.content["charges"]
    assert (charge["words"], charge["net"]) == ("Share of the shop, 30%", "10.8")
    assert (at(LocationKind.SHOP), at(LocationKind.STRAND_SHELF), at(LocationKind.SOLD)) == (
        3,
        4,
        3,
    )
    assert (sale.payment, balance_of(goods.shop).owed) == (None, D("31.00"))
    sound()


def test_it_is_paid_later_like_any_invoice(goods, bracelet):
    sale = count(goods, bracelet, still=5)
    record_payment(goods.shop, D("31.00"), person=None, way=PaymentDetails("bank"))
    sale.invoice.refresh_from_db()
    assert sale.invoice.is_settled


def test_what_is_missing_is_a_difference_of_the_count(goods, bracelet):
    assert count(goods, bracelet, still=6, missing=2) is None
    assert (at(LocationKind.SHOP), at(LocationKind.DIFFERENCE)) == (6, 2)
    assert not Document.objects.exists()
    sound()


@pytest.mark.parametrize("given", [{"still": 9}, {"still": 5, "back": 4}, {"still": -1}])
def test_more_than_was_lent_is_told_and_nothing_is_done(goods, bracelet, given):
    before = Posting.objects.count()
    with pytest.raises(ValidationError, match="8 are out at Lantern House and"):
        count(goods, bracelet, **given)
    assert Posting.objects.count() == before and not Sale.objects.exists()


def test_more_than_lies_free_is_not_lent(goods, bracelet):
    with pytest.raises(ValidationError, match="2 lie on the shelf and 3 were written"):
        lend(goods.shop, {bracelet.pk: 3}, person=make_person("counter"))


def test_the_share_is_the_owners_word(bracelet):
    other = make_customer("Tide Shop", group="shop")
    with pytest.raises(ValidationError, match="no share agreed yet"):
        lend(other, {bracelet.pk: 1}, person=make_person("counter"), share=D("0.9"))
    lend(other, {bracelet.pk: 1}, person=make_person("owner"), share=D("0.4"))
    lend(other, {bracelet.pk: 1}, person=make_person("counter"), share=D("0.9"))
    assert Consignment.objects.get().share == D("0.4")


def test_the_floors_are_held_to_what_is_left_of_the_price(goods, bracelet):
    with pytest.raises(ValidationError, match="let the owner confirm"):
        count_at_shop(
            goods, [There(bracelet.pk, still=7, price=D("0.10"))], person=make_person("counter")
        )


def test_lending_is_taken_back_and_what_a_shop_sold_comes_back(goods, bracelet):
    sale = count(goods, bracelet, still=5)
    back = CameBack(sale.order.lines.get().pk, good=1)
    take_sale_back(sale, [back], person=make_person(), reason="A clasp", way=PaymentDetails("cash"))
    # A third of 25.20 and its VAT: 8.40 + 1.93 = 10.33.
    assert Document.objects.get(kind="credit").total == D("10.33")
    assert at(LocationKind.STRAND_SHELF) == 3
    lend(goods.shop, {bracelet.pk: 1}, person=make_person())
    take_back(Posting.objects.filter(kind="move").latest("pk"), person=make_person(), why="not yet")
    assert (at(LocationKind.SHOP), at(LocationKind.STRAND_SHELF)) == (5, 3)
    sound()


def test_of_two_who_count_the_second_is_told(goods, bracelet):
    count(goods, bracelet, still=5)
    with pytest.raises(ValidationError, match="5 are out at"):
        count(goods, bracelet, still=6)
    assert Sale.objects.count() == 1


def test_the_log_tells_what_was_counted(goods, bracelet):
    count(goods, bracelet, still=5, back=1, missing=1)
    told = AuditEntry.objects.get(act="count at a shop").after
    assert told == {
        "still there": {NAME: 5},
        "back": {NAME: 1},
        "missing": {NAME: 1},
        "sold": {NAME: 1},
    }


def test_what_lies_there_is_priced_and_stated(goods, bracelet, client):
    (row,) = lying_at(goods)
    assert (row.there, row.each, row.sum, row.ours) == (8, D(12), D(96), D("67.2"))
    client.force_login(make_person("counter"))
    answer = client.get(reverse("orders:goods_statement", args=[goods.pk]))
    assert answer["Content-Type"] == "application/pdf" and answer.content[:5] == b"%PDF-"


def test_the_pages_lend_count_and_invoice(bracelet, client, django_assert_max_num_queries):
    client.force_login(make_person("owner"))
    shop = make_customer("Lantern House", group="shop")
    box, sent = f"n_{bracelet.pk}", {"shop": shop.pk, "on": "2027-03-01"}
    refused = client.post(reverse("orders:goods_lend"), sent | {box: "4"})
    assert refused.status_code == 422 and 'value="4"' in refused.content.decode()
    lent = client.post(reverse("orders:goods_lend"), sent | {box: "4", "share": "30"})
    goods = Consignment.objects.get()
    assert lent.url == reverse("orders:goods", args=[goods.pk])
    assert "Lantern House" in client.get(reverse("orders:goods_list")).content.decode()
    with django_assert_max_num_queries(45):
        assert "to buyers" in client.get(lent.url).content.decode()
    url = reverse("orders:goods_count", args=[goods.pk])
    much = client.post(url, {"on": "2027-03-01", f"still_{bracelet.pk}": "5", "look": "1"})
    assert much.status_code == 422 and f"still_{bracelet.pk}" in much.context["form"].errors
    typed = {"on": "2027-03-01", f"still_{bracelet.pk}": "1", "owner_word": "agreed"}
    looked = client.post(url, typed | {"look": "1"})
    assert "Share of the shop, 30%" in looked.content.decode()
    assert "€31.00" in looked.content.decode() and not Sale.objects.exists()
    done = client.post(url, typed | {"do": "do", "seen": looked.context["looked"].mark})
    assert done.url == lent.url and Sale.objects.get().invoice.total == D("31.00")


def test_the_shops_page_leads_to_what_lies_there(client, goods):
    client.force_login(make_person("counter"))
    page = client.get(reverse("orders:customer_detail", args=[goods.shop_id])).content.decode()
    assert reverse("orders:goods", args=[goods.pk]) in page
    assert "8 strands there" in page
