"""From an empty book to the first printed invoice, by pages alone.

One walk for whoever can open a page, fill a box by its label and press a button: a browser with
scripts (`tests/browser/pages.py`) and one without (`tests/plain_pages.py`). Nothing is written
into the book but by its pages; the first owner comes from the command line, as the README says.
"""

import io
import re
from decimal import Decimal
from typing import Any

import pypdf
from babel.numbers import format_decimal
from django.core.management import call_command
from django.test import Client
from django.utils import translation
from django.utils.translation import gettext as _

from orders.models import Document, Finding, Order, StrandDesign
from stock.models import Balance, Bead, GlassColour
from workshop.models import (
    Business,
    Kiln,
    LabourRate,
    Mould,
    Person,
    Programme,
    TaxRate,
    WorkingHours,
)

MOST_PAGES, MOST_ANSWERS = 12, 40  # to the first printed invoice


def sign_in_as_first_owner(pages: Any) -> None:
    """The owner that `first_owner` writes into an empty book, with the password it shows."""
    told = io.StringIO()
    call_command("first_owner", stdout=told)
    password = told.getvalue().strip().rsplit(" ", 1)[1]
    pages.open("/").fill("Username", "owner").fill("Password", password).press("Sign in")
    pages.saved.clear()
    pages.answers = 0


def set_up(pages: Any) -> None:
    """The first steps, one after the other; each saved page leads to the next."""
    pages.follow("Go on: Your business")
    at(pages, "Your business")
    pages.fill("Name", "Saltmarsh Glass").fill("Address", "Weir Lane 3, Ambermouth")
    pages.fill("Country", "Portugal").fill("Time zone", "Europe/Lisbon")
    pages.fill("Registered for VAT").fill("VAT number", "PT999999990").fill("Usual rate", "23")
    pages.press("Save")
    at(pages, "Hours of the week").press("Save")
    at(pages, "New kiln").fill("Bottled gas").fill("Fuel price", "1.90")
    pages.fill("Mould places", "12").fill("Highest temperature", "950").press("Save")
    at(pages, "New firing programme").fill("Temperature", "740").fill("Minutes", "30")
    pages.press("Save")
    at(pages, "New mould").fill("Bead size across", "10 mm").fill("Cavities", "25")
    pages.fill("How many owned", "8").press("Save")
    at(pages, "The usual steps").fill("Pay by the hour", "9").press("Save")
    at(pages, "The usual colours").fill("Paid for a kilogram", "0.15")
    pages.fill("green").fill("green: Bottles here", "40 kg").fill("green: Powder here", "6 kg")
    pages.fill("amber").press("Save")
    at(pages, "New bead").fill("Name", "Green round").fill("Colour", "green")
    pages.fill("How many lie here", "120").fill("What one of them cost", "0.20").press("Save")
    at(pages, "Clasps and cord").fill("Waxed cotton").fill("Waxed cotton: price", "0.09")
    pages.fill("Hook clasp").fill("Hook clasp: price", "0.30").press("Save")
    at(pages, "New design").fill("Name", "Weir bracelet").fill("Finished length", "18 cm")
    pages.fill("Price each", "8.50").press("Save the design")
    at(pages, "New order")


def sell(pages: Any) -> None:
    """The first order, for somebody new at the counter, and its invoice."""
    pages.first_customer("Marisa Orlo")
    pages.first_line("Weir bracelet", "30")
    pages.press("Take the order")
    assert Order.objects.exists(), pages.complaints or pages.words
    order = Order.objects.get()
    pages.open(f"/orders/{order.number}/").follow("Invoice")
    pages.press("Issue the invoice")


def at(pages: Any, heading: str) -> Any:
    assert pages.is_at(heading), f"{pages.heading}: {pages.complaints or pages.words}"
    return pages


def check_the_book(language: str = "en") -> None:
    """Every thing stands in the book, with what was not asked filled in as is usual.

    What the pages propose bears the names of the language in which they were read.
    """
    with translation.override(language):
        _check_the_book(language)


def _check_the_book(language: str) -> None:
    business = Business.objects.get()
    assert (business.name, business.currency, business.time_zone) == (
        "Saltmarsh Glass",
        "EUR",
        "Europe/Lisbon",
    )
    assert (business.tax_name, business.paper_size) == ("IVA", "A4")
    assert business.language == language
    assert TaxRate.objects.get().rate == 23
    assert WorkingHours.objects.count() == 10  # five days, morning and afternoon
    kiln = Kiln.objects.get()
    assert (kiln.fuel, kiln.places, str(kiln.efficiency)) == ("lpg", 12, "0.22000")
    programme = Programme.objects.get()
    assert (programme.from_c, programme.to_c) == (720, 760)  # 20 °C either way
    assert (programme.from_min, programme.to_min) == (25, 35)  # 5 minutes either way
    assert Mould.objects.get().name == f"{_('round').capitalize()} 10"
    assert {rate.hourly for rate in LabourRate.objects.all()} == {9}
    assert {colour.name for colour in GlassColour.objects.all()} == {_("green"), _("amber")}
    assert Bead.objects.get().mould == Mould.objects.get()
    assert Finding.objects.count() == 2
    design = StrandDesign.objects.get()
    assert (design.clasp.name, design.cord.name) == (
        _("Hook clasp"),
        _("Waxed cotton"),
    )
    here = Balance.objects.filter(inside=True, quantity__gt=0)
    # 40 kg of bottles at 0.15 = 6.00; a kilogram of powder 0.15 ÷ (0.97 × 0.90) = 0.171821 of
    # bottles and (10 + 25) × 1.10 = 38.5 minutes at 9 ÷ 60 = 5.775, 6 × 5.946821 = 35.680926;
    # 120 beads at 0.20 = 24.00
    assert sorted(row.value for row in here) == [6, 24, Decimal("35.680926")]


def check_the_invoice(language: str = "en") -> None:
    """30 × 8.50 = 255.00, and 23 % of it, 58.65: 313.65 in all, on paper."""
    invoice = Document.objects.get(kind=Document.Kind.INVOICE)
    assert (invoice.net, invoice.tax, invoice.total) == (255, Decimal("58.65"), Decimal("313.65"))
    client = Client()
    client.force_login(Person.objects.get(username="owner"))
    answer = client.get(f"/money/papers/{invoice.pk}/paper.pdf")
    pdf = b"".join(answer.streaming_content) if answer.streaming else answer.content
    text = "\n".join(sheet.extract_text() for sheet in pypdf.PdfReader(io.BytesIO(pdf)).pages)
    total = format_decimal(Decimal("313.65"), locale=language)
    for words in ("Saltmarsh Glass", "Marisa Orlo", "IVA", total):
        assert words in re.sub(r"\s+", " ", text), words
