"""A whole workshop moves in from one workbook, by pages alone, and then sells a strand."""

import re
from datetime import date
from decimal import Decimal

import pytest
from django.core.management import call_command

from orders.models import Customer, DesignPrice, Document, Order, StrandDesign
from orders.money.queries.month_account import goods_now
from stock.models import Balance, Bead, Collector, CollectorPrice, GlassColour
from tests.first_walk import sign_in_as_first_owner
from tests.orders.moving_in.filling import PAGE, bad_cells, fetched, fill, look_at
from tests.plain_pages import PlainPages
from workshop.models import Kiln, LabourRate, Mould, Programme, WorkingHours

pytestmark = pytest.mark.django_db
D = Decimal


def fill_in(book) -> None:
    """A small invented workshop, in the words of the screens."""
    fill(book, "Kilns", [{"Name": "Yard kiln", "Fuel": "bottled gas", "Fuel price": 1.9,
                          "Mould places": 12, "Highest temperature, °C": 950}])  # fmt: skip
    fill(book, "Firing programmes", [
        {"Name": "Powder", "For beads of kind": "Powder", "Temperature, °C": 740, "Minutes": 30},
    ])  # fmt: skip
    fill(book, "Moulds", [{"Name": "Round 10", "Bead shape": "round", "Bead size across": "10 mm",
                           "Cavities": 25, "How many owned": 8}])  # fmt: skip
    fill(book, "Working hours", [
        {"Day": day, "From": "08:00", "To": "16:00"} for day in ("Monday", "Tuesday", "Friday")
    ])  # fmt: skip
    since = date(2026, 1, 1)
    fill(book, "Labour rates", [
        {"Step": "filling moulds", "Skill": "moulding", "Basis": "per mould filled",
         "Minutes each": 6.5, "Pay by the hour": 9, "Allowance, %": "10 %", "From": since},
        {"Step": "stringing", "Skill": "stringing", "Basis": "per strand",
         "Minutes each": 5, "Pay by the hour": 9, "Allowance, %": "10 %", "From": since},
    ])  # fmt: skip
    fill(book, "Glass colours", [
        {"Name": "green", "Colour on screen": "#2f6b4a", "Price per kg, raw": 0.15},
        {"Name": "clear", "Colour on screen": "#cfe0de", "Price per kg, raw": 0.14},
    ])  # fmt: skip
    fill(book, "Collectors", [{"Name": "Ilse Brandt", "Telephone": "0048 22 5550123"}])
    fill(book, "Collectors' prices", [{"Colour": "green", "Collector": "Ilse Brandt",
                                       "Price per kg": "0,18", "From": since}])  # fmt: skip
    fill(book, "Beads", [
        {"Name": "Tide", "Kind": "powder", "Shape": "round", "Diameter": "10 mm", "Bore": "2 mm",
         "Mould": "round 10", "Firing": "Powder", "Rejects, first firing, %": "8 %",
         "Colour": "green", "Share, %": "70 %"},
        {"Colour": "clear", "Share, %": "30 %"},
    ])  # fmt: skip
    fill(book, "Clasps, cords, spacers", [
        {"Name": "Hook", "Kind": "clasp", "Length on the cord": "10 mm", "Price": 0.3},
        {"Name": "Cotton", "Kind": "cord, by the metre", "Price": 0.09},
    ])  # fmt: skip
    fill(book, "Designs", [
        {"Name": "Weir bracelet", "Finished length": "18 cm", "Clasp": "Hook", "Cord": "Cotton",
         "Bead or spacer": "Tide", "How many": 1, "Laid": "repeated to fill"},
    ])  # fmt: skip
    fill(book, "Customers", [
        {"Name": "Marisa Orlo", "Who": "Market Trader", "Country": "pt", "May owe up to": 400},
    ])  # fmt: skip
    fill(book, "Prices", [
        {"Design": "Weir bracelet", "Price each": 8.5, "From": since},
        {"Design": "weir-bracelet", "Who": "market trader", "From how many strands": 24,
         "Price each": 8, "From": since},
    ])  # fmt: skip
    fill(book, "Opening stock", [
        {"Glass colour": "green", "Form of the glass": "raw", "How much glass": "40 kg"},
        {"Glass colour": "clear", "Form of the glass": "powder", "How much glass": "6 kg",
         "Worth of a kilogram, or of one bead": 2},
        {"Bead": "Tide", "How many beads": 120, "Worth of a kilogram, or of one bead": 0.2},
    ])  # fmt: skip
    fill(book, "Opening balances", [
        {"Customer": "Marisa Orlo", "Amount": 120, "Number": "A-17", "Day of the invoice": since},
    ])  # fmt: skip


@pytest.mark.papers
def test_a_whole_workshop_moves_in_and_sells_its_first_strands(client):
    pages = PlainPages(client)
    sign_in_as_first_owner(pages)
    pages.follow("Go on: Your business")
    pages.fill("Name", "Saltmarsh Glass").fill("Address", "Weir Lane 3, Ambermouth")
    pages.fill("Country", "Portugal").fill("Time zone", "Europe/Lisbon").press("Save")
    book = fetched(client)
    fill_in(book)
    looked = look_at(client, book)
    assert looked.status_code == 302, bad_cells(looked)
    assert not Kiln.objects.exists()
    waiting = client.get(PAGE).content.decode()
    assert "24 rows, and all of them are right" in waiting
    assert "Tide" in waiting and "Weir bracelet" in waiting
    told = re.search(r"put into the book at\s+€([\d.,]+):", waiting)[1]
    assert client.post(PAGE, {"bring": "1"}).status_code == 302
    assert D(told.replace(",", "")) == round(goods_now(), 2) > 0
    check_the_book()
    sell(pages)
    invoice = Document.objects.get(kind=Document.Kind.INVOICE)
    assert (invoice.net, invoice.total) == (240, 240)  # 30 at the traders' 8.00 from 24 up


def sell(pages: PlainPages) -> None:
    """An order at the counter for somebody who moved in, and its invoice."""
    pages.open("/counter/").fill("Who is it for?", "Marisa").press("Find").press("Marisa Orlo")
    pages.first_line("Weir bracelet", "30").press("Take the order")
    assert Order.objects.exists(), pages.complaints or pages.words
    pages.open(f"/orders/{Order.objects.get().number}/").follow("Invoice")
    pages.press("Issue the invoice")
    assert Document.objects.filter(kind=Document.Kind.INVOICE).exists(), (
        pages.complaints or pages.words
    )


def check_the_book() -> None:
    """Every sheet has arrived, and what was left empty is as its page would have it."""
    kiln = Kiln.objects.get()
    assert (kiln.fuel, kiln.fuel_price, kiln.efficiency) == ("lpg", D("1.9"), D("0.22"))
    programme = Programme.objects.get()
    assert (programme.from_c, programme.to_c) == (720, 760)  # 20 °C either way
    assert Mould.objects.get().clay_g > 0
    assert WorkingHours.objects.count() == 3
    assert LabourRate.objects.filter(allowance=D("0.1"), hourly=9).count() == 2
    assert {each.name for each in GlassColour.objects.all()} == {"green", "clear"}
    assert Collector.objects.get().phone == "0048 22 5550123"
    assert CollectorPrice.objects.get().price_per_kg == D("0.18")
    bead = Bead.objects.get()
    assert (bead.mould, bead.programme) == (Mould.objects.get(), programme)
    shares = {part.colour.name: part.share for part in bead.colours.all()}
    assert shares == {"green": D("0.7"), "clear": D("0.3")}
    design = StrandDesign.objects.get()
    assert (design.clasp.name, design.cord.name, design.code) == ("Hook", "Cotton", "weir-bracelet")
    assert [str(part) for part in design.parts.all()] == ["1 × Tide"]
    customer = Customer.objects.get()
    assert (customer.group, customer.country, customer.credit_limit) == ("trader", "PT", 400)
    assert sorted(DesignPrice.objects.values_list("group", "from_strands", "price")) == [
        ("", 1, D("8.5")),
        ("trader", 24, 8),
    ]
    here = Balance.objects.filter(inside=True, quantity__gt=0)
    # 40 kg of bottles at 0.15 = 6.00; 6 kg of powder at 2 = 12; 120 beads at 0.20 = 24.00
    assert sorted(row.value for row in here) == [6, 12, 24]
    assert Document.objects.get().number == "A-17"
    call_command("check_book")
