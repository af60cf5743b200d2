"""Signs that cannot be seen: they come in nowhere, and what was frozen with them goes out without.

Characters by XML 1.0 (fifth edition) 2.2 and the Unicode Standard 23.7. Ids are those of OWASP's
Application Security Verification Standard 5.0.0.
"""

import io
import json
from datetime import date
from decimal import Decimal
from xml.etree import ElementTree as ET

import pytest
from django.test import Client
from django.urls import reverse
from openpyxl import load_workbook

from orders.models import Customer, Document
from orders.money.papers.e_invoice import invoice_xml
from orders.money.services.papers import issue_invoice
from orders.moving_in.cells import read_file
from tests.builders import make_business, make_kiln, make_order, make_person, make_rate
from tests.hard.test_asvs_forms import boxes_of
from workshop.csv_export import safe_cell
from workshop.models import TaxRate
from workshop.typed import plain_text

pytestmark = pytest.mark.django_db
UNSEEN = "\x00\x01\x08\x0b\x1b\x1f\x7f\x9f\ufdd0\ufffe\uffff\U0001fffe\U0010ffff"


def signed_in(role: str = "owner") -> Client:
    client = Client()
    client.force_login(make_person(role))
    return client


def test_every_sign_that_xml_takes_stays_and_every_other_goes():
    """XML 1.0, 2.2: #x9 | #xA | #xD | [#x20-#xD7FF] | [#xE000-#xFFFD] | [#x10000-#x10FFFF]."""
    for sign in map(chr, [*range(0x3000), *range(0xD7F0, 0xE010), *range(0xFDC0, 0x10010)]):
        code = ord(sign)
        xml = code in {9, 10, 13} or 0x20 <= code <= 0xD7FF or 0xE000 <= code <= 0xFFFD
        if plain_text(sign):
            assert xml or code > 0xFFFF, f"{code:#x}"
        elif xml:  # kept out besides: the second control block and the noncharacters
            assert 0x7F <= code <= 0x9F or 0xFDD0 <= code <= 0xFDEF, f"{code:#x}"
    assert plain_text("Zoë Ångström, ключ\t12 °C\n💎") == "Zoë Ångström, ключ\t12 °C\n💎"


def test_v2_2_1_no_form_lets_them_in_and_the_rest_of_what_was_typed_stays():
    path = reverse("orders:customer_add")
    client = signed_in("counter")
    boxes = boxes_of(client.get(path).content.decode())
    sent = {**boxes, "name": f"Marisa{UNSEEN} Orlo", "note": f"comes{UNSEEN} on\nFridays"}
    assert client.post(path, sent).status_code == 302
    customer = Customer.objects.get()
    assert (customer.name, customer.note.split()) == ("Marisa Orlo", ["comes", "on", "Fridays"])


def test_no_sheet_brings_them_in():
    """A cell with such a sign is named, for nobody can see in the sheet what stands there."""
    table = f"name,phone\r\nMarisa{UNSEEN[1:]} Orlo,\r\n".encode()
    (row,) = read_file("people.csv", table).tables[0].rows
    assert "type it anew" in row.faults[0]
    assert plain_text(row.cells[0]) == row.cells[0]


def frozen_with(name: str) -> Document:
    """An invoice that was frozen before the door was shut to such signs."""
    make_business(
        country="PT", tax_registered=True, tax_number="PT501964843", e_invoice=True,
        address="Quay 1\n1000 Sant Orrel",
    )  # fmt: skip
    TaxRate.objects.create(
        name="VAT", category="S", rate=Decimal("0.23"), valid_from=date(2026, 1, 1), standard=True
    )
    make_kiln(), make_rate()
    order = make_order(2, price=Decimal(12))
    Customer.objects.filter(pk=order.customer_id).update(name=name, country="PT")
    order.customer.refresh_from_db()
    order.refresh_from_db()
    return issue_invoice(order, person=make_person("owner"))


def test_a_name_frozen_with_them_leaves_the_bookkeepers_workbook_whole():
    """The workbook of that period answered 500 ever after."""
    paper = frozen_with("Marisa\x01\x1b Orlo\ufffe")
    days = {"first_day": paper.issued_on.isoformat(), "last_day": paper.issued_on.isoformat()}
    answer = signed_in().get(reverse("orders:money_export"), days | {"as": "xlsx"})
    assert answer.status_code == 200
    book = load_workbook(io.BytesIO(answer.content))
    cells = [cell.value for row in book["papers"].iter_rows() for cell in row]
    assert "Marisa Orlo" in cells
    paper.refresh_from_db()
    assert "\\u0001" in json.dumps(paper.content), "what was frozen stays as it was"


def test_a_name_frozen_with_them_leaves_the_e_invoice_well_formed():
    root = ET.fromstring(invoice_xml(frozen_with("Marisa\x01\x1b Orlo\ufffe\uffff").content))
    assert "Marisa Orlo" in "".join(root.itertext())


def test_no_table_hands_them_on():
    assert safe_cell(f"Marisa{UNSEEN} Orlo") == "Marisa Orlo"
    assert safe_cell("\x01=1+1") == "'=1+1", "nor does one hide a formula"


@pytest.mark.parametrize("piece", ["%00", "a%00b", "a%01", "a%EF%BF%BE"])
def test_an_address_with_one_of_them_leads_nowhere_though_nobody_signed_in(piece):
    """On PostgreSQL a NUL in the address of a public page was an error of ours."""
    for path in (f"/firing/calendar/{piece}.ics", f"/stock/from/{piece}/"):
        assert Client().get(path).status_code == 404
