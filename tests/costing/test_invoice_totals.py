"""Invoices add up to the cent by EN 16931, against its official samples."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.costing.errors import CostingError
from orders.money.totals import (
    DocumentAdjustment,
    InvoiceLine,
    InvoiceTotals,
    Settling,
    credited_allowance,
    invoice_totals,
    line_amount,
)
from workshop.money import minor_digits, round_half_up

D = Decimal


def line(quantity: str, price: str, rate: str = "0", **changes) -> InvoiceLine:
    category = "S" if D(rate) else changes.pop("category", "Z")
    return InvoiceLine(D(quantity), D(price), category=category, rate=D(rate), **changes)


# Source: EN 16931 validation artefacts (CEN/TC 434, release 1.3.16, 2026), file
# CII_business_example_01.xml (= ubl-tc434-example2), NOK.
EXAMPLE_A = (
    line("1", "1273.00", "25", allowance=D(12), charge=D(12)),
    line("-1", "3.96", "15"),
    line("1", "4.96", "15"),
    line("-1", "25.00", category="E", reason="exempt by law"),
    line("250", "0.75", "25"),
)
ADJUSTMENTS_A = (
    DocumentAdjustment(D(100), category="S", rate=D(25)),
    DocumentAdjustment(D(100), charge=True, category="S", rate=D(25)),
)


def test_the_official_business_example():
    found = invoice_totals("NOK", EXAMPLE_A, ADJUSTMENTS_A, settling=Settling(paid=D(1000)))
    assert found.line_nets == (D("1273.00"), D("-3.96"), D("4.96"), D("-25.00"), D("187.50"))
    assert found.lines_total == D("1436.50")
    assert (found.allowances, found.charges) == (D("100.00"), D("100.00"))
    assert found.without_tax == D("1436.50")
    taxes = {(share.category, share.rate): (share.base, share.tax) for share in found.breakdown}
    assert taxes == {
        # 1460.50 × 25 % = 365.125: the tie goes half-up
        ("S", D(25)): (D("1460.50"), D("365.13")),
        ("S", D(15)): (D("1.00"), D("0.15")),
        ("E", D(0)): (D("-25.00"), D("0.00")),
    }
    assert found.tax == D("365.28")
    assert found.with_tax == D("1801.78")
    assert found.due == D("801.78")


def test_an_official_example_with_two_rates():
    # Source: same release, CII_example1.xml (= ubl-tc434-example10), EUR: 6 % and 21 %
    found = invoice_totals("EUR", (line("1", "183.23", "6"), line("1", "46.37", "21")))
    assert found.lines_total == D("229.60")
    assert [share.tax for share in found.breakdown] == [D("10.99"), D("9.74")]
    assert found.tax == D("20.73")
    assert found.with_tax == D("250.33")


def test_prices_with_five_decimals_and_per_twelve():
    # Source: same release, CII_example8.xml, EUR; the other lines of the sample in one sum
    lines = [
        line("16000", "0.00880", "21"),
        line("1", "441", "21", base_quantity=D(12)),
        line("132", "15.24", "21", base_quantity=D(12)),
    ]
    assert [line_amount(one, 2) for one in lines] == [D("140.80"), D("36.75"), D("167.64")]
    lines.append(line("1", "563.72", "21"))
    found = invoice_totals("EUR", lines)
    assert found.lines_total == D("908.91")
    assert found.tax == D("190.87")  # 190.8711
    assert found.with_tax == D("1099.78")


def test_half_paid_in_advance():
    # Source: same release, ubl-tc434-example5.xml, DKK: 4675.00 with tax, half paid
    half = Settling(paid=D("2337.50"))
    found = invoice_totals("DKK", (line("1", "3740.00", "25"),), settling=half)
    assert found.with_tax == D("4675.00")
    assert found.due == D("2337.50")


def test_a_unit_price_with_four_decimals():
    # Source: same release, sample-discount-price.xml, EUR
    found = invoice_totals("EUR", (line("100", "0.1212", "25"),))
    assert (found.without_tax, found.tax, found.with_tax) == (D("12.12"), D("3.03"), D("15.15"))


def test_a_currency_invoiced_in_whole_units():
    # Source: same release, huf_example_cii.xml: 69180 × 27 % = 18678.6
    found = invoice_totals("HUF", (line("1", "69180", "27"),), settling=Settling(digits=0))
    assert found.tax == 18679
    assert found.with_tax == 87859


# Source: computed by the rule text; the XML so made passes the Factur-X 1.09 EN 16931 schema and
# schematron without a failed assertion.
EXAMPLE_C = (
    line("37", "4.35", "20", allowance=D("8.05")),
    line("2.335", "18.90", "20"),
    line("1000", "21.60", "20", base_quantity=D(144)),
    line("3", "1.15"),
)
ADJUSTMENTS_C = (
    DocumentAdjustment(D("15.00"), category="S", rate=D(20)),
    DocumentAdjustment(D("7.50"), charge=True, category="S", rate=D(20)),
)


def test_strands_loose_beads_beads_by_the_gross_and_a_leaflet():
    found = invoice_totals("GBP", EXAMPLE_C, ADJUSTMENTS_C, settling=Settling(paid=D("100.00")))
    assert found.line_nets == (D("152.90"), D("44.13"), D("150.00"), D("3.45"))
    assert found.lines_total == D("350.48")
    assert found.without_tax == D("342.98")
    assert [(share.base, share.tax) for share in found.breakdown] == [
        (D("339.53"), D("67.91")),
        (D("3.45"), D("0.00")),
    ]
    assert found.with_tax == D("410.89")
    assert found.due == D("310.89")


def test_a_credit_note_gives_back_its_part_of_the_line_s_allowance():
    # Source: computed, passes the same checks: 5 × 4.35 − 8.05 × 5 ÷ 37
    off = credited_allowance(D("8.05"), D(5), D(37), "GBP")
    assert off == D("1.09")
    found = invoice_totals("GBP", (line("5", "4.35", "20", allowance=off),))
    assert (found.lines_total, found.tax, found.due) == (D("20.66"), D("4.13"), D("24.79"))


def test_tax_is_rounded_once_on_the_category_and_cash_on_what_is_due():
    # Source: computed, passes the same checks: 0.99 at 19 %; rounding each line would give 0.18
    lines = [line("1", "0.33", "19")] * 3
    found = invoice_totals("EUR", lines, settling=Settling(coin=D("0.05")))
    assert found.tax == D("0.19")
    assert found.with_tax == D("1.18")
    assert found.rounding == D("0.02")
    assert found.due == D("1.20")
    assert sum(round_half_up(D("0.33") * 19 / 100, 2) for _line in lines) == D("0.18")


# -- prices that carry tax -----------------------------------------------------------------


def test_prices_with_tax_in_them_are_paid_to_the_cent():
    # 3 × 4.99 = 14.97 with 21 %: 14.97 × 100 ÷ 121 = 12.3719 → 12.37, tax 2.5977 → 2.60
    found = invoice_totals("EUR", (line("3", "4.99", "21"),), prices_include_tax=True)
    assert (found.without_tax, found.tax, found.due) == (D("12.37"), D("2.60"), D("14.97"))
    assert found.rounding == 0


def test_the_cent_that_the_tax_rule_leaves_over_is_the_rounding_amount():
    # 0.03 with 20 %: 0.025 → 0.03 half-up, and 20 % of 0.03 is 0.006 → 0.01; together 0.04
    found = invoice_totals("EUR", (line("1", "0.03", "20"),), prices_include_tax=True)
    assert (found.without_tax, found.tax) == (D("0.03"), D("0.01"))
    assert (found.rounding, found.due) == (D("-0.01"), D("0.03"))


# -- rules that hold for every invoice -------------------------------------------------------

kinds = st.sampled_from((("S", D(20)), ("S", D("5.5")), ("Z", D(0)), ("E", D(0)), ("G", D(0))))
cents = st.integers(0, 50_000).map(lambda n: D(n) / 100)


@st.composite
def lines_of_an_invoice(draw: st.DrawFn) -> InvoiceLine:
    category, rate = draw(kinds)
    return InvoiceLine(
        quantity=D(draw(st.integers(-3000, 9000))) / draw(st.sampled_from((1, 10, 1000))),
        price=D(draw(st.integers(0, 90_000))) / draw(st.sampled_from((1, 100, 100_000))),
        base_quantity=D(draw(st.sampled_from((1, 12, 144)))),
        allowance=draw(cents),
        charge=draw(cents),
        category=category,
        rate=rate,
        reason="a reason" if category == "E" else "",
    )


@st.composite
def adjustments(draw: st.DrawFn) -> DocumentAdjustment:
    category, rate = draw(kinds)
    return DocumentAdjustment(draw(cents), draw(st.booleans()), category, rate, "a reason")


invoices = st.tuples(
    st.sampled_from(("EUR", "XOF", "TND")),
    st.lists(lines_of_an_invoice(), min_size=1, max_size=6),
    st.lists(adjustments(), max_size=3),
    st.booleans(),
    st.sampled_from((None, D("0.05"), D(1))),
)


def check(found: InvoiceTotals) -> None:
    digits = minor_digits(found.currency)
    shares = found.breakdown
    assert found.lines_total == sum(found.line_nets)  # BR-CO-10
    assert found.without_tax == found.lines_total - found.allowances + found.charges  # BR-CO-13
    assert found.tax == sum(share.tax for share in shares)  # BR-CO-14
    assert found.with_tax == found.without_tax + found.tax  # BR-CO-15
    assert found.due == found.with_tax - found.paid + found.rounding  # BR-CO-16
    assert sum(share.base for share in shares) == found.without_tax  # BR-S-08 over all
    for share in shares:
        assert share.tax == round_half_up(share.base * share.rate / 100, digits)  # BR-CO-17
    for amount in (found.lines_total, found.without_tax, found.tax, found.with_tax, found.due):
        assert amount == round_half_up(amount, digits)  # BR-DEC


@given(invoices)
def test_every_invoice_keeps_the_rules_exactly(invoice):
    currency, lines, adjusted, with_tax, coin = invoice
    paying = Settling(coin=coin)
    found = invoice_totals(currency, lines, adjusted, paying, prices_include_tax=with_tax)
    check(found)
    if coin is not None:
        assert found.due % coin == 0
    elif not with_tax:
        assert found.rounding == 0


@given(st.lists(lines_of_an_invoice(), min_size=1, max_size=6))
def test_prices_with_tax_in_them_come_to_what_the_labels_say(lines):
    found = invoice_totals("EUR", lines, prices_include_tax=True)
    assert found.due == sum(line_amount(one, 2) for one in lines)


# -- refusals ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("lines", "field", "sentence"),
    [
        ((), "lines", "The invoice has no lines."),
        ((line("1", "-2"),), "price", "A unit price cannot be below 0."),
        ((line("1", "2", category="X"),), "category", "“X” is not a VAT category."),
        ((line("1", "2", category="S"),), "rate", "needs a rate of VAT above 0 %."),
        (
            (InvoiceLine(D(1), D(2), category="Z", rate=D(5)),),
            "rate",
            "its rate must be 0 %; it is 5 %.",
        ),
        ((line("1", "2", category="E"),), "reason", "needs the reason for it"),
        ((line("1", "2", category="O"), line("1", "2", "20")), "category", "Make two invoices."),
        ((line("NaN", "2", "20"),), "quantity", "is not a number"),
        ((line("1", "2", "20", base_quantity=D(0)),), "quantity", "must be more than 0"),
        ((line("1", "2", "120"),), "tax_rate", "can be no more than 100"),
    ],
)
def test_an_invoice_that_no_rule_allows_is_refused(lines, field, sentence):
    with pytest.raises(CostingError) as refused:
        invoice_totals("EUR", lines)
    assert refused.value.field == field
    assert sentence in refused.value.sentence


def test_a_payment_finer_than_a_cent_is_refused():
    with pytest.raises(CostingError, match="finer than the smallest unit of EUR"):
        invoice_totals("EUR", (line("1", "2", "20"),), settling=Settling(paid=D("0.001")))


def test_what_is_exempt_says_so():
    found = invoice_totals("EUR", (line("1", "2", category="AE"),))
    assert found.breakdown[0].reason == "Reverse charge"
