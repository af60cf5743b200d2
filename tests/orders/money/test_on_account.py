"""Payments on account: an invoice with VAT of their own, taken off by the final one.

Figures: the rows VAT-* of true_cost_checks.csv. Source of the rules: Directive 2006/112/EC,
articles 65 (VAT falls due on what comes in), 93, 203, 219, 220 and 226; EN 16931 BR-CO-10 to 17;
UNTDID 1001, code 386. Each electronic invoice is put before the official rules (`assert_valid`).
"""

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal as D

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from orders.models import Document, DocumentLine, OrderLine
from orders.money.papers.e_invoice import invoice_xml
from orders.money.queries.accounts import balance_of, order_money
from orders.money.queries.to_pay import to_pay
from orders.money.services.compensation import keep_as_compensation
from orders.money.services.papers import issue_credit_note, issue_invoice
from orders.money.services.payments import (
    PaymentDetails,
    record_payment,
    refund,
    reverse_payment,
    undo_share,
)
from orders.papers.pages import page as page_of
from tests.builders import make_business, make_person
from tests.costing.checks import ROWS, agrees, expected
from tests.orders.money.setting import order_of, registered, trader
from tests.orders.papers.test_e_invoice import assert_valid
from workshop.models import Business, TaxRate

pytestmark = pytest.mark.django_db

IN_CURRENCY = {
    "EUR": {"currency": "EUR", "smallest_coin": D("0.05"), "e_invoice": True, "country": "PT"},
    "XOF": {"currency": "XOF", "smallest_coin": D(1), "e_invoice": True, "country": "SN"},
}


@dataclass(frozen=True)
class Case:
    """One column of the table: lines, who buys, the rate and the currency."""

    check: str
    lines: tuple[tuple[int, str], ...]
    rate: int = 23
    currency: str = "EUR"
    group: str = "trader"
    low: bool = False

    def order(self):
        registered(**IN_CURRENCY[self.currency], deposit_share=D("0.30"))
        TaxRate.objects.filter(standard=True).update(rate=self.rate)
        customer = trader(f"Buyer {self.check}", group=self.group, country="PT")
        order = order_of(*self.lines, customer=customer)
        if self.low:
            TaxRate.objects.create(name="Low", rate=6, category="S", valid_from="2020-01-01")
            order.lines.filter(position=1).update(tax_name="Low")
        return order


CASES = [
    Case("VAT-NET", ((12, "18.00"), (30, "6.50"))),
    Case("VAT-GROSS", ((1, "22.90"), (3, "8.00")), group="walk-in"),
    Case("VAT-XOF", ((7, "8475"),), rate=18, currency="XOF"),
    Case("VAT-TWO", ((10, "10.00"), (2, "12.50")), low=True),
]


@pytest.fixture(params=CASES, ids=lambda case: case.check)
def case(request):
    return request.param


def the_invoice_on_account(order) -> Document:
    return Document.objects.get(order=order, on_account=True)


def test_order_deposit_and_final_invoice_come_out_to_the_unit(case):
    order = case.order()
    row = case.check
    whole = to_pay(order).whole
    agrees(f"{row}-TOTAL", whole.due)
    agrees(f"{row}-VAT", whole.tax)

    record_payment(order.customer, expected(f"{row}-DEP"), person=None, order=order)
    paper = the_invoice_on_account(order)
    agrees(f"{row}-DEP", paper.total)
    agrees(f"{row}-DEP-NET", paper.net)
    agrees(f"{row}-DEP-VAT", paper.tax)
    agrees(f"{row}-DEP-114", paper.rounding)
    assert paper.is_settled
    agrees(f"{row}-TOPAY", to_pay(order).left)

    final = issue_invoice(order, person=None)
    agrees(f"{row}-FIN-NET", final.net)
    agrees(f"{row}-FIN-VAT", final.tax)
    agrees(f"{row}-TOPAY", final.total)
    agrees(f"{row}-TOPAY", to_pay(order).left)
    for each in (paper, final):
        assert_valid(invoice_xml(each.content))


@pytest.mark.parametrize("row", ["VAT-NET", "VAT-XOF"])
def test_the_usual_deposit_is_a_share_of_the_sum_with_vat_in_coins(row):
    order = next(case for case in CASES if case.check == row).order()
    agrees(f"{row}-DEP", order_money(order).usual_deposit)


def test_walk_in_in_a_currency_without_decimals():
    """3 × 10 000 with 18 % included: 25 424 + 4 576; 9 000 down: 7 627 + 1 373; 17 797 + 3 203.

    Source: worked by hand: 30 000 × 100 ÷ 118 = 25 423.7, 9 000 × 100 ÷ 118 = 7 627.1.
    """
    order = Case("XOF walk-in", ((3, "10000"),), 18, "XOF", "walk-in").order()
    whole = to_pay(order).whole
    assert (whole.without_tax, whole.tax, whole.due) == (25424, 4576, 30000)
    record_payment(order.customer, D(9000), person=None, order=order)
    paper = the_invoice_on_account(order)
    assert (paper.net, paper.tax, paper.rounding) == (7627, 1373, 0)
    final = issue_invoice(order, person=None)
    assert (final.net, final.tax, final.rounding, final.total) == (17797, 3203, 0, 21000)
    assert_valid(invoice_xml(final.content))


def test_a_currency_of_three_decimals_comes_out_to_its_unit():
    """1 × 10.000 TND with 19 %: 11.900; 1.000 down: 0.840 + 0.160; then 9.160 + 1.740 = 10.900.

    Source: worked by hand: 1 ÷ 1.19 = 0.8403; 0.840 × 0.19 = 0.1596; 9.160 × 0.19 = 1.7404.
    """
    registered(currency="TND", smallest_coin=D("0.005"), country="TN")
    TaxRate.objects.update(rate=19)
    order = order_of((1, "10.000"))
    record_payment(order.customer, D("1.000"), person=None, order=order)
    paper = the_invoice_on_account(order)
    assert (paper.net, paper.tax, paper.rounding) == (D("0.840"), D("0.160"), 0)
    final = issue_invoice(order, person=None)
    assert (final.net, final.tax, final.total) == (D("9.160"), D("1.740"), D("10.900"))


def test_a_cent_over_goes_into_the_rounding():
    order = Case("cent", ((1, "5.00"),)).order()
    Business.objects.update(smallest_coin=D("0.01"))
    record_payment(order.customer, D("1.04"), person=None, order=order)
    paper = the_invoice_on_account(order)
    told = " ".join(f"{amount:.2f}" for amount in (paper.net, paper.tax, paper.rounding))
    assert told == ROWS["VAT-CENT"]["expected"]
    assert_valid(invoice_xml(paper.content))


def test_the_invoice_on_account_says_what_the_law_asks():
    order = Case("law", ((12, "18.00"), (30, "6.50"))).order()
    day = timezone.localdate() - timedelta(days=2)
    record_payment(order.customer, D(100), person=None, order=order, on=day)
    paper = the_invoice_on_account(order)
    xml = invoice_xml(paper.content).decode()
    assert "<ram:TypeCode>386</ram:TypeCode>" in xml
    assert "12 × Harbour bracelet, 30 × Design 1" in xml
    # BT-7: the day the money came in, on which its VAT fell due.
    assert f'<udt:DateString format="102">{day:%Y%m%d}</udt:DateString>' in xml
    assert "<ram:DuePayableAmount>0.00<" in xml
    assert paper.number.startswith("INV-")


def test_the_final_invoice_names_every_payment_on_account_and_takes_it_off_below_0():
    order = Case("two deposits", ((12, "18.00"), (30, "6.50"))).order()
    for amount in ("100.00", "51.65"):
        record_payment(order.customer, D(amount), person=None, order=order)
    final = issue_invoice(order, person=None)
    papers = Document.objects.filter(order=order, on_account=True).order_by("id")
    xml = invoice_xml(final.content).decode()
    for paper in papers:
        assert f"<ram:IssuerAssignedID>{paper.number}</ram:IssuerAssignedID>" in xml  # BT-25
    assert xml.count("<ram:InvoiceReferencedDocument>") == 2
    assert xml.count('unitCode="C62">-1<') == 2
    assert final.total == expected("VAT-NET-TOPAY")
    assert "<ram:TotalPrepaidAmount>0.00<" in xml  # BT-113: no money without a paper of its own
    assert_valid(xml.encode())


def test_a_rate_that_changed_meanwhile_stands_as_it_was_on_the_payment(client):
    """246.00 down at 23 % is 200 + 46; the goods, 1 000, go out at 25 %: 1 250 − 246 = 1 004."""
    registered(e_invoice=True)
    today = timezone.localdate()
    order = order_of((10, "100.00"))
    record_payment(order.customer, D(246), person=None, order=order, on=today - timedelta(days=10))
    TaxRate.objects.create(
        name="VAT", rate=25, standard=True, category="S", valid_from=today - timedelta(days=1)
    )
    client.force_login(make_person("owner"))
    page = client.get(reverse("orders:invoice_issue", args=[order.number])).content.decode()
    assert "was taxed at 23%, and its line keeps that rate" in page
    final = issue_invoice(order, person=None)
    taxes = {D(tax["rate"]): (D(tax["base"]), D(tax["tax"])) for tax in final.content["taxes"]}
    assert taxes == {D(25): (D(1000), D(250)), D(23): (D(-200), D(-46))}
    assert final.total == 1004
    assert_valid(invoice_xml(final.content))


def test_a_deposit_above_what_the_order_comes_to_is_held_as_credit_by_a_note():
    order = Case("more", ((2, "100.00"),)).order()
    record_payment(order.customer, D("200.00"), person=None, order=order)
    final = issue_invoice(order, person=None, discount=D("100.00"))
    assert (final.total, final.net) == (0, 0)
    note = Document.objects.get(kind="credit")
    paper = the_invoice_on_account(order)
    assert note.names == paper
    assert note.total == 77  # 200 − 123: 100.00 and 23 % are what is left of the order
    assert balance_of(order.customer).balance == -77
    for each in (final, note):
        assert_valid(invoice_xml(each.content))
    refund(order.customer, D(77), person=None)
    assert balance_of(order.customer).balance == 0


def test_money_above_the_order_is_no_payment_on_account():
    order = Case("above", ((1, "100.00"),)).order()
    taken = record_payment(order.customer, D(150), person=None, order=order)
    assert the_invoice_on_account(order).total == 123
    assert taken.unused == 27


def test_a_cancelled_order_gives_the_deposit_back_with_its_vat():
    order = Case("off", ((12, "18.00"),)).order()
    record_payment(order.customer, D(100), person=None, order=order)
    paper = the_invoice_on_account(order)
    order.state = "cancelled"
    order.save()
    note = issue_credit_note(paper, person=None, reason="The order is cancelled")
    assert (note.net, note.tax, note.total) == (paper.net, paper.tax, 100)
    assert_valid(invoice_xml(note.content))
    refund(order.customer, D(100), person=None)
    assert balance_of(order.customer).balance == 0
    with pytest.raises(ValidationError):
        issue_credit_note(paper, person=None, reason="Once more")


@pytest.mark.parametrize("agrees_too", [True, False])
def test_money_is_kept_as_compensation_without_vat_only_where_an_adviser_agrees(client, agrees_too):
    """123.00 at 23 % is 100.00 and 23.00 of VAT; kept, 123.00 bears none. Source: C-277/05."""
    order = Case("kept", ((12, "18.00"),)).order()
    record_payment(order.customer, D(123), person=None, order=order)
    paper = the_invoice_on_account(order)
    order.state = "cancelled"
    order.save()
    client.force_login(make_person("owner"))
    page = client.get(reverse("orders:order_detail", args=[order.number])).content.decode()
    assert "Keep it as compensation" in page and "Give the deposit back" in page
    sent = {"reason": "Called off too late"} | ({"adviser_agrees": "on"} if agrees_too else {})
    answer = client.post(reverse("orders:compensation_keep", args=[paper.pk]), sent)
    papers = Document.objects.filter(order=order)
    taxes = sum(p.tax if p.kind == "invoice" else -p.tax for p in papers.exclude(kind="receipt"))
    if not agrees_too:
        assert answer.status_code == 422 and "Ask your tax adviser" in answer.content.decode()
        assert taxes == 23
        return
    assert answer.status_code == 302 and taxes == 0
    kept = papers.get(kind="invoice", on_account=False)
    assert (kept.total, kept.tax, kept.is_settled) == (123, 0, True)
    assert balance_of(order.customer).balance == 0
    assert "Not subject to VAT" in page_of(kept.content)


def test_only_the_owner_keeps_a_payment(client):
    order = Case("not kept", ((12, "18.00"),)).order()
    record_payment(order.customer, D(123), person=None, order=order)
    paper = the_invoice_on_account(order)
    client.force_login(make_person("counter"))
    assert client.get(reverse("orders:compensation_keep", args=[paper.pk])).status_code == 404
    with pytest.raises(ValidationError, match="cancelled order"):
        keep_as_compensation(paper, person=make_person("owner"), reason="x", adviser_agrees=True)


def test_a_final_invoice_credited_in_full_lets_the_deposit_wait_again():
    order = Case("again", ((12, "18.00"), (30, "6.50"))).order()
    record_payment(order.customer, D("151.65"), person=None, order=order)
    first = issue_invoice(order, person=None)
    note = issue_credit_note(first, person=None, reason="Wrong address")
    assert (note.net, note.tax, note.total) == (first.net, first.tax, first.total)
    assert_valid(invoice_xml(note.content))
    assert to_pay(order).left == first.total
    second = issue_invoice(order, person=None)
    assert (second.net, second.tax, second.total) == (first.net, first.tax, first.total)


def test_no_more_is_credited_than_the_final_invoice_asked_the_rest_waits_on_account():
    """All but one bracelet come back, 404.50 and VAT; the invoice asked 353.88 of 505.53."""
    order = Case("nearly all", ((12, "18.00"), (30, "6.50"))).order()
    record_payment(order.customer, D("151.65"), person=None, order=order)
    final = issue_invoice(order, person=None)
    goods = list(final.lines.filter(role="goods"))
    wanted = {goods[0].pk: 12, goods[1].pk: 29}
    note = issue_credit_note(final, person=None, reason="Came back", quantities=wanted)
    assert note.total == final.total == D("353.88")
    assert_valid(invoice_xml(note.content))
    # 404.50 × 1.23 = 497.54 came back (half-up of 497.535), so 143.66 of the deposit is free again.
    assert to_pay(order).on_account == D("497.54") - D("353.88")
    last = issue_credit_note(final, person=None, reason="That one too")
    assert last.total == 0
    assert to_pay(order).on_account == D("151.65")


def test_what_came_back_after_the_hand_over_is_not_asked_for_again():
    order = Case("came back", ((12, "18.00"), (30, "6.50"))).order()
    order.state, order.collected_on = "collected", timezone.localdate()
    order.save()
    final = issue_invoice(order, person=None)
    record_payment(order.customer, final.total, person=None, order=order)
    line = final.lines.get(position=1)
    issue_credit_note(final, person=None, reason="Came back", quantities={line.pk: 1})
    assert to_pay(order).left == to_pay(order).to_charge == 0
    over = record_payment(order.customer, D(5), person=None, order=order)
    assert (over.unused, balance_of(order.customer).held) == (5, 0), "credit, and nobody's deposit"


def test_prices_told_with_vat_are_credited_as_they_were_told():
    order = Case("gross", ((1, "22.90"), (3, "8.00")), group="walk-in").order()
    final = issue_invoice(order, person=None)
    line = final.lines.get(position=2)
    one = issue_credit_note(final, person=None, reason="Came back", quantities={line.pk: 1})
    assert one.total == 8
    assert_valid(invoice_xml(one.content))
    rest = issue_credit_note(final, person=None, reason="All of it")
    assert one.total + rest.total == final.total


def test_a_deposit_that_bounced_has_its_invoice_credited():
    order = Case("bounced", ((12, "18.00"),)).order()
    taken = record_payment(
        order.customer, D(100), person=None, order=order, way=PaymentDetails("bank")
    )
    reverse_payment(taken, person=None, reason="Bounced")
    note = Document.objects.get(kind="credit")
    assert (note.names, note.total) == (the_invoice_on_account(order), 100)
    assert balance_of(order.customer).balance == 0
    assert to_pay(order).held == 0


def test_one_that_bounced_after_the_final_invoice_is_owed():
    order = Case("bounced late", ((12, "18.00"),)).order()
    taken = record_payment(
        order.customer, D(100), person=None, order=order, way=PaymentDetails("bank")
    )
    final = issue_invoice(order, person=None)
    reverse_payment(taken, person=None, reason="Bounced")
    assert to_pay(order).left == final.total + 100 == D("265.68")


def test_money_is_not_taken_off_the_invoice_issued_for_it():
    order = Case("own", ((12, "18.00"),)).order()
    taken = record_payment(order.customer, D(100), person=None, order=order)
    with pytest.raises(ValidationError, match="very money"):
        undo_share(taken.shares.get(), person=None)


def test_the_database_refuses_to_take_off_more_than_was_received():
    order = Case("refused", ((12, "18.00"),)).order()
    record_payment(order.customer, D(100), person=None, order=order)
    line = DocumentLine.objects.get(role="account")
    for wrong in (D("100.01"), D("-0.01")):
        with pytest.raises(IntegrityError), transaction.atomic():
            DocumentLine.objects.filter(pk=line.pk).update(credited_gross=wrong)
    for name in ("gross", "net"):
        with pytest.raises(IntegrityError), transaction.atomic():
            DocumentLine.objects.filter(pk=line.pk).update(**{name: D(1)})
    with pytest.raises(IntegrityError), transaction.atomic():
        Document.objects.filter(pk=line.paper_id).update(on_account=False)


@pytest.mark.parametrize(
    ("group", "to", "issued"),
    [("walk-in", "business", 0), ("walk-in", "all", 1), ("shop", "business", 1)],
)
def test_the_owner_chooses_who_gets_an_invoice_on_account(group, to, issued):
    registered(account_invoices=to)
    order = order_of((1, "50.00"), customer=trader(f"{group} {to}", group=group))
    taken = record_payment(order.customer, D(20), person=None, order=order)
    assert Document.objects.filter(on_account=True).count() == issued
    assert taken.unused == (0 if issued else 20)
    final = issue_invoice(order, person=None)
    assert final.open_amount == to_pay(order).left
    if not issued:  # money without a paper with VAT is taken off what is paid (BT-113)
        assert final.content["sums"]["prepaid"] == "20"


def test_a_business_that_is_not_registered_gives_a_plain_receipt():
    make_business()
    order = order_of((1, "50.00"))
    record_payment(order.customer, D(20), person=None, order=order)
    assert list(Document.objects.values_list("kind", flat=True)) == ["receipt"]
    assert to_pay(order).left == 30


def test_the_rate_of_the_day_of_the_payment_holds_for_it():
    registered()
    today = timezone.localdate()
    TaxRate.objects.create(name="VAT", rate=25, standard=True, category="S", valid_from=today)
    order = order_of((1, "100.00"))
    record_payment(order.customer, D(10), person=None, order=order, on=today - timedelta(days=3))
    assert D(the_invoice_on_account(order).content["taxes"][0]["rate"]) == 23
    assert OrderLine.objects.get(order=order).tax_name == ""


def test_deposits_are_asked_for_in_a_fixed_number_of_queries(django_assert_num_queries):
    from orders.money.queries.to_pay import still_to_pay

    registered()
    orders = [order_of((n, "10.00")) for n in range(1, 6)]
    for order in orders:
        record_payment(order.customer, D(1), person=None, order=order)
    business = Business.current()
    for some in (orders[:1], orders):
        with django_assert_num_queries(6):
            still_to_pay(some, business)


def test_a_day_before_any_rate_is_refused_and_no_money_is_booked():
    registered()
    order = order_of((1, "10.00"))
    with pytest.raises(ValidationError, match="no standard rate"):
        record_payment(order.customer, D(1), person=None, order=order, on=date(2019, 1, 1))
    assert not Document.objects.exists()
