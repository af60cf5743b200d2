"""Printed papers: handsome is looked at, the rest is checked here."""

import hashlib
import http.server
import io
import re
import threading
from datetime import date
from decimal import Decimal
from unittest import mock

import pypdf
import pytest
from django.urls import reverse

from orders.counter.papers import order_slip_html
from orders.designs.papers import order_pieces, price_list_html, strand_tags_html
from orders.models import Customer, DesignPrice, Document, DocumentFile, Order, StrandDesign
from orders.money.papers.files import paper_pdf
from orders.money.papers.statements import statement_html
from orders.money.queries.statements import statement_of, usual_first_day
from orders.money.services.papers import issue_credit_note, issue_invoice, issue_quote
from orders.money.services.payments import record_payment, refund
from orders.papers import press
from orders.papers.pages import page
from orders.papers.press import FileChanged, PressMissing, to_pdf, to_roll
from tests.builders import make_bead, make_business, make_design, make_person
from tests.orders.money.setting import order_of, registered, trader

pytestmark = [pytest.mark.django_db, pytest.mark.papers]


def words_of(pdf: bytes) -> str:
    return "\n".join(sheet.extract_text() for sheet in pypdf.PdfReader(io.BytesIO(pdf)).pages)


def pages_of(pdf: bytes):
    return pypdf.PdfReader(io.BytesIO(pdf)).pages


def test_an_invoice_says_who_whom_what_and_how_much():
    registered()
    customer = trader(address="Market Hall, stall 14", country="PT")
    words = words_of(
        paper_pdf(issue_invoice(order_of((30, "6.50"), customer=customer), person=None))
    )
    # Particulars of Directive 2006/112/EC, Art. 226: 1 to 8.
    for expected in (
        "INV-",
        "Tidewrack Beads",
        "3 Quay Lane",
        "PT501964843",
        "Marisa Orlo",
        "Market Hall, stall 14",
        "Portugal",
        "Harbour bracelet",
        "30",
        "€6.50",
        "VAT 23 %, on €195.00",
        "€44.85",
        "€239.85",
    ):
        assert expected in words, expected


@pytest.mark.parametrize("kind", ["quote", "invoice", "credit", "receipt"])
def test_a_business_that_is_not_registered_prints_no_tax_word(kind):
    make_business()
    customer = trader(tax_number="PT123456789")
    if kind == "quote":
        paper = issue_quote(order_of((3, "6.50"), customer=customer, state="draft"), person=None)
    else:
        order = order_of((3, "6.50"), customer=customer)
        payment = record_payment(customer, Decimal(5), person=None, order=order)
        paper = issue_invoice(order, person=None)
        if kind == "credit":
            paper = issue_credit_note(paper, person=None, reason="Came back")
        elif kind == "receipt":
            paper = payment.paper
    words = words_of(paper_pdf(paper))
    assert "VAT" not in words
    assert "%" not in words


def test_without_registration_no_paper_from_the_book_has_a_tax_word_either(client):
    business = make_business(with_tax_trader=True)
    customer = trader(tax_number="PT123456789", country="PT")
    order = order_of((3, "6.50"), customer=customer)
    paid = record_payment(customer, Decimal(30), person=None, order=order)
    given = refund(customer, Decimal(2), person=None, order=order)
    account = statement_of(customer, usual_first_day())
    pages = {
        "statement": statement_html(account, business),
        "order slip": order_slip_html(order, business),
        "order slip on the roll": order_slip_html(order, business, roll=True),
        "price list": price_list_html(business),
        "strand tags": strand_tags_html(order_pieces(order, str), business, order.customer),
        "receipt on the roll": page(paid.paper.content, roll=True),
        "refund on the roll": page(given.paper.content, roll=True),
        "refund": page(given.paper.content),
    }
    for name, html in pages.items():
        assert "VAT" not in html and "PT123456789" not in html, name


def test_a_paper_is_printed_once_and_served_unchanged():
    make_business()
    paper = issue_invoice(order_of((3, "6.50")), person=None)
    first = paper_pdf(paper)
    make_business(name="Another name", address="Elsewhere")
    with mock.patch(
        "orders.money.papers.files.to_pdf", side_effect=AssertionError("printed again")
    ):
        assert paper_pdf(paper) == first
    kept = DocumentFile.objects.get(paper=paper)
    assert kept.sha256 == hashlib.sha256(first).hexdigest()


def test_a_paper_printed_later_still_speaks_of_the_day_it_was_issued():
    make_business()
    paper = issue_invoice(order_of((3, "6.50")), person=None)
    make_business(name="Another name", currency="GBP")
    Customer.objects.update(name="Somebody else")
    words = words_of(paper_pdf(Document.objects.get(pk=paper.pk)))
    assert "Tidewrack Beads" in words and "Marisa Orlo" in words and "€19.50" in words


def test_stored_bytes_that_were_altered_are_not_served():
    make_business()
    paper = issue_invoice(order_of((3, "6.50")), person=None)
    paper_pdf(paper)
    kept = DocumentFile.objects.get(paper=paper)
    kept.pdf = bytes(kept.pdf)[:-1] + b"!"
    with (
        mock.patch.object(DocumentFile.objects, "filter") as found,
        pytest.raises(FileChanged, match="hash differs"),
    ):
        found.return_value.first.return_value = kept
        paper_pdf(paper)


def test_without_pango_the_paper_is_issued_and_a_sentence_says_what_is_missing(client):
    make_business()
    order = order_of((3, "6.50"))
    client.force_login(make_person("counter"))
    with mock.patch.object(press, "_press", side_effect=PressMissing):
        client.post(
            reverse("orders:invoice_issue", args=[order.number]), {"supplied_on": "2026-01-01"}
        )
        paper = Document.objects.get()
        answer = client.get(reverse("orders:paper_pdf", args=[paper.pk]))
    assert answer.status_code == 503
    assert "apt-get install" in answer.content.decode()
    assert client.get(reverse("orders:paper_pdf", args=[paper.pk])).status_code == 200


@pytest.fixture
def listener():
    """Something on this machine that would be asked if a paper fetched anything."""
    hits: list[str] = []

    class Handler(http.server.BaseHTTPRequestHandler):
        def do_GET(self):
            hits.append(self.path)
            self.send_response(200)
            self.end_headers()

        def log_message(self, *args):
            pass

    server = http.server.HTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}", hits
    server.shutdown()
    server.server_close()


def test_no_word_on_a_paper_reaches_the_network_or_a_file(listener, tmp_path):
    address, hits = listener
    secret = tmp_path / "secret.txt"
    secret.write_text("do not print")
    evil = (
        f'<img src="{address}/img"><link rel="stylesheet" href="{address}/css">'
        f'<link rel="attachment" href="file://{secret}">'
        f'<p style="background:url({address}/bg)">x</p>'
        f'<img src="file:///proc/self/environ"><img src="data:text/plain,hello">'
        f'<svg xmlns="http://www.w3.org/2000/svg"><image href="{address}/svg"/></svg>'
    )
    pdf = to_pdf(f"<html><body>{evil}</body></html>")
    assert hits == []
    assert b"/EmbeddedFile" not in pdf and b"do not print" not in pdf


def test_markup_in_names_is_printed_as_it_was_written(listener):
    address, hits = listener
    registered(name=f'<img src="{address}/a">', paper_words=f'<img src="{address}/b">')
    customer = trader(f'<link rel=attachment href="{address}/c">')
    order = order_of((3, "6.50"), customer=customer, note=f"<img src={address}/d>")
    words = words_of(paper_pdf(issue_invoice(order, person=None)))
    assert "<link rel=attachment" in words.replace("\n", " ")
    assert hits == []


def test_two_hundred_lines_run_over_pages_with_their_head_and_numbers():
    make_business()
    order = order_of(*[(n + 1, "1.25") for n in range(200)])
    paper = issue_invoice(order, person=None)
    assert paper.content["drawings"] == {}  # a long list is read by its names
    sheets = pages_of(paper_pdf(paper))
    assert len(sheets) > 5
    words = [sheet.extract_text() for sheet in sheets]
    assert all("How many" in each for each in words)
    assert all(f"{n} / {len(sheets)}" in each for n, each in enumerate(words, start=1))
    # 1.25 × (1 + 2 + … + 200) = 1.25 × 20100 = 25125
    assert "€25,125.00" in words[-1]


def test_totals_never_stand_alone_on_a_page():
    make_business()
    paper = issue_invoice(order_of((1, "1.25")), person=None)
    line = {**paper.content["lines"][0], "design": 0}
    for lines in (14, 17, 20, 23):
        content = {**paper.content, "drawings": {}, "lines": [line] * lines}
        last = pages_of(to_pdf(page(content)))[-1].extract_text()
        assert "To pay" in last
        assert last.count("Harbour bracelet") >= 2, f"{lines} lines"


@pytest.mark.parametrize(("size", "width_pt"), [("A4", 595), ("Letter", 612)])
def test_the_owner_chooses_the_paper(size, width_pt):
    make_business(paper_size=size)
    sheet = pages_of(paper_pdf(issue_invoice(order_of((3, "6.50")), person=None)))[0]
    assert round(float(sheet.mediabox.width)) == width_pt


def test_letters_of_other_languages_are_in_the_font():
    make_business()
    name = "Żaneta Wójcik-Łęcka, Çağrı Öztürk, Ņikita Šķēle"
    words = words_of(
        paper_pdf(issue_invoice(order_of((1, "2"), customer=trader(name)), person=None))
    )
    assert name in words.replace("\n", " ")


def test_a_roll_is_as_long_as_what_stands_on_it():
    make_business()
    order = order_of((30, "6.50"))
    payment = record_payment(order.customer, Decimal(50), person=None, order=order)
    sheets = pages_of(to_roll(page(payment.paper.content, roll=True)))
    assert len(sheets) == 1
    assert round(float(sheets[0].mediabox.width) / 72 * 25.4) == 80
    assert 40 < float(sheets[0].mediabox.height) / 72 * 25.4 < 140


def test_slips_lists_and_tags_of_an_order_are_printed(client):
    make_business()
    order = order_of((30, "6.50"))
    issue_invoice(order, person=None)
    client.force_login(make_person("counter"))
    for name in ("order_slip", "order_slip_roll", "strand_tags"):
        answer = client.get(reverse(f"orders:{name}", args=[order.number]))
        assert answer["Content-Type"] == "application/pdf", name
    assert client.get(reverse("orders:price_list"))["Content-Type"] == "application/pdf"


def test_strands_of_the_price_list_are_drawn_to_one_scale_and_none_stands_alone():
    business, bead = make_business(), make_bead()
    for n in range(14):
        length = Decimal(180 if n % 2 else 420)
        design = make_design(f"Strand {n}", beads=bead, finished_mm=length)
        DesignPrice.objects.create(design=design, price=Decimal(6), valid_from=date(2020, 1, 1))
    html = price_list_html(business)
    drawn = re.findall(r'width="([\d.]+)" height="[\d.]+" viewBox="0 -\S+ ([\d.]+) ', html)
    # The longest fills 640 px: 42 beads of sqrt(96) mm and 7 mm of knot at both ends, 425.5 mm.
    assert {round(float(wide) / float(mm), 2) for wide, mm in drawn} == {1.5}
    designs = list(StrandDesign.objects.with_findings())
    for many in range(10, 15):
        sheets = pages_of(to_pdf(price_list_html(business, "", designs[:many])))
        rows = [sheet.extract_text().count("Strand ") for sheet in sheets]
        assert sum(rows) == many and min(rows) > 1, rows


def test_a_packing_list_weighs_boxes_and_agrees_with_the_invoice(client):
    make_business()
    order = order_of((30, "6.50"))
    line = issue_invoice(order, person=None).lines.get()
    client.force_login(make_person("counter"))
    url = reverse("orders:packing_list", args=[order.number])
    said = {"print": "1", "boxes": "2", "kind_1": "carton", "tare_1": "250 g", "kind_2": "bag"}
    said |= {"tare_2": "50 g", f"n_1_{line.pk}": "20", f"n_2_{line.pk}": "9"}
    refused = client.get(url, said)
    assert refused.status_code == 422
    assert "the invoice says 30 and 29 are in the boxes" in refused.content.decode()
    words = words_of(client.get(url, said | {f"n_2_{line.pk}": "10"}).content)
    # A 10 mm round bead of 2 mm bore: π/6 × (10² − 2²)^1.5 = 492.5 mm³ × 2.5 g/cm³ = 1.231 g.
    # sqrt(96) = 9.798 mm each on 180 mm: 18 beads, 22.16 g a strand, 30 strands 0.665 kg,
    # and 0.300 kg of boxes.
    assert "0.665" in words and "0.300" in words and "0.965" in words


def test_money_given_back_has_its_slip():
    make_business()
    order = order_of((3, "6.50"))
    record_payment(order.customer, Decimal(30), person=None, order=order)
    slip = refund(order.customer, Decimal(30), person=None, order=order).paper
    assert "Given back" in words_of(paper_pdf(slip))


def test_a_quote_says_until_when_its_prices_stand():
    make_business(quote_days=30)
    quote = issue_quote(order_of((3, "6.50"), state="draft"), person=None)
    assert (quote.due_on - quote.issued_on).days == 30
    assert "These prices stand until" in words_of(paper_pdf(quote))
    assert Order.objects.get().state == Order.State.QUOTED


def test_the_cost_sheet_prints_the_kept_working_term_by_term():
    from orders.models import KeptWorking
    from orders.reckoning.papers import cost_sheet_html

    business = make_business()
    order = order_of((3, "6.50"))
    glass = {"name": "Glass", "value": "1.25", "unit": "EUR", "how": "given", "source": "rate"}
    fuel = {"name": "Fuel", "value": "0.5", "unit": "EUR", "how": "given", "source": "measured"}
    cost = {"name": "Cost of making", "value": "1.75", "unit": "EUR", "how": "sum"}
    cost |= {"formula": "a + b + …", "source": "worked out", "children": [glass, fuel]}
    KeptWorking.keep(order, {"tree": cost, "promise": {}})
    words = words_of(to_pdf(cost_sheet_html(Order.objects.get(pk=order.pk), business)))
    for expected in ("Cost of making", "€1.75", "a + b + …", "Glass", "€1.25", "rate", "measured"):
        assert expected in words
