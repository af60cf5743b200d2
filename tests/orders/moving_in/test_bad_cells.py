"""What is wrong is named by its cell, with what may stand there; until then nothing comes in."""

import pytest
from django.urls import reverse
from openpyxl import Workbook
from openpyxl.styles import numbers

from orders.models import Customer, DesignPrice, StrandDesign
from stock.models import Balance, Bead, GlassColour
from tests.builders import make_bead, make_business, make_colour, make_person
from tests.orders.money.setting import design, trader
from tests.orders.moving_in.filling import PAGE, bad_cells, bring, fetched, fill, heads, look_at
from tests.orders.moving_in.test_whole_workshop import fill_in
from workshop.models import Kiln

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner(client):
    make_business()
    client.force_login(make_person("owner"))
    return client


def sheet_of(title: str, *rows) -> Workbook:
    book = Workbook()
    book.active.title = title
    for row in rows:
        book.active.append(row)
    return book


def test_every_wrong_cell_of_every_sheet_is_named_at_once(owner):
    book = fetched(owner)
    fill_in(book)
    fill(book, "Customers", [{"Name": "Ana", "Who": "king", "E-mail": "not mail"}])
    fill(book, "Prices", [{"Design": "Weir bracelt", "Price each": "ten", "From": "4/12/26"}])
    row = {sheet.title: sheet.max_row for sheet in book}
    bad = bad_cells(look_at(owner, book))
    assert set(bad) == {
        f"Customers!B{row['Customers']}",
        f"Customers!D{row['Customers']}",
        f"Prices!A{row['Prices']}",
        f"Prices!E{row['Prices']}",
        f"Prices!F{row['Prices']}",
    }
    assert bad[f"Customers!B{row['Customers']}"].endswith("one of: market trader, shop, walk-in.")
    assert "no strand design called “Weir bracelt”" in bad[f"Prices!A{row['Prices']}"]
    assert "2026-12-04" in bad[f"Prices!F{row['Prices']}"]
    assert not Kiln.objects.exists() and not Customer.objects.exists()


def test_the_page_says_what_may_stand_in_a_wrong_cell(owner):
    words = look_at(owner, "name,group\nAna,king\n", "customers.csv").content.decode()
    assert "Customers!B2" in words and "king" in words
    assert "write one of: market trader, shop, walk-in." in words


def test_a_row_that_leans_on_a_wrong_one_says_so(owner):
    book = fetched(owner)
    fill_in(book)
    colours = book["Glass colours"]
    swatch = heads(book, "Glass colours")["Colour on screen"]
    cell = colours.cell(3, swatch)  # the swatch of green
    cell.value = "grass"
    bad = bad_cells(look_at(owner, book))
    assert bad[f"Glass colours!{cell.coordinate}"] == "Write a colour such as #2f6b4a."
    assert "“green” stands in this file too; put it right there first." in bad.values()


@pytest.mark.parametrize(
    ("head", "cell", "sentence"),
    [
        ("Rejects, first firing, %", 0.08, "write 8 % or 0.08 %"),
        ("Rejects, first firing, %", "150 %", "That is too much"),
        ("Diameter", "12 kg", "a length is needed here"),
        ("Diameter", "1,200 mm", "can be read as"),
        ("Mould", "Great", "no mould called “Great”"),
        ("Pierced by hand while hot", "perhaps", "Write yes or no"),
        ("Share, %", "90 %", "add up to 120 %"),
        ("Name", "Green\x07round", "a sign in it that no text has"),
        ("Bore", "20 mm", "bore"),
    ],
)
def test_a_bead_is_judged_as_on_its_page(owner, head, cell, sentence):
    book = fetched(owner)
    fill_in(book)
    page = book["Beads"]
    place = next(each.column for each in page[1] if each.value == head)
    if "\x07" in str(cell):
        csv = f"name,phone\n{cell},1\n"
        assert sentence in " ".join(bad_cells(look_at(owner, csv, "customers.csv")).values())
        return
    page.cell(4, place).value = cell
    told = bad_cells(look_at(owner, book))
    here = f"Beads!{page.cell(4, place).coordinate}"
    assert here in told or head == "Bore", told
    assert any(sentence in each for each in told.values()), told


def test_a_share_in_a_cell_of_per_cent_is_what_the_cell_shows(owner):
    make_colour("green")
    book = sheet_of("Glass colours", ["Name", "Colour on screen", "Left after washing, %"])
    book.active.append(["amber", "#9a5a14", 0.9])
    book.active["C2"].number_format = numbers.FORMAT_PERCENTAGE_00
    assert bring(owner, book).status_code == 302
    assert str(GlassColour.objects.get(name="amber").washing_yield) == "0.90000"


def test_a_formula_counts_as_what_it_came_to_and_one_never_worked_out_is_named(owner):
    bad = bad_cells(look_at(owner, sheet_of("Customers", ["name"], ["=A1"])))
    assert bad == {"Customers!A2": "There is a formula in it; copy it and paste its value."}


def test_an_error_that_the_spreadsheet_shows_is_named(owner):
    book = sheet_of("Customers", ["name"], ["Ana"])
    book.active["A3"] = "#REF!"
    book.active["A3"].data_type = "e"
    assert "shows an error" in bad_cells(look_at(owner, book))["Customers!A3"]


@pytest.mark.parametrize(
    ("price", "sentence"),
    [("1.500", "1500 or 1,5"), ("1,500", "can be read as 1.5 or as 1500"), ("12,5", "")],
)
def test_no_price_becomes_a_thousand_times_more_in_silence(owner, price, sentence):
    """A sheet with semicolons is written where the decimal mark is a comma."""
    design("Weir bracelet")
    looked = look_at(owner, f"design;price;from\nWeir bracelet;{price};2026-01-01\n", "prices.csv")
    told = bad_cells(looked) if looked.status_code == 422 else {}
    assert [sentence in each for each in told.values()] == ([True] if sentence else [])


def test_a_day_in_figures_only_is_not_guessed(owner):
    design("Weir bracelet")
    csv = "design,price,from\nWeir bracelet,5,04/12/2026\n"
    assert (
        "no day that can be read in one way"
        in bad_cells(look_at(owner, csv, "prices.csv"))["Prices!C2"]
    )
    csv = sheet_of("Prices", ["design", "price", "from"], ["Weir bracelet", 5, 46000])
    assert "Prices!C2" in bad_cells(look_at(owner, csv))


def test_a_name_twice_in_the_file_or_in_the_book_is_a_slip(owner):
    trader("Marisa Orlo")
    csv = "name\nmarisa orlo\nAna\nANA\n"
    bad = bad_cells(look_at(owner, csv, "customers.csv", "customers"))
    assert bad == {
        "Customers!A2": "This name is in the book already; take the row out, or write another.",
        "Customers!A4": "This name stands twice here, in Customers!A3 too; take one of them out.",
    }


def test_the_parts_of_a_design_are_named_where_they_stand(owner):
    make_bead("Tide")
    book = sheet_of(
        "Designs",
        ["Name", "Finished length", "Bead or spacer", "How many", "Laid"],
        ["Weir", "18 cm", "Tide", 1, "repeated to fill"],
        [None, None, "Tyde", 0, "twice"],
        ["Short", "18 cm", None, None, None],
    )
    bad = bad_cells(look_at(owner, book))
    assert set(bad) == {"Designs!C3", "Designs!D3", "Designs!E3", "Designs!C4"}
    assert "repeated to fill" in bad["Designs!E3"]
    assert not StrandDesign.objects.exists()


def test_the_next_row_of_a_thing_may_not_say_otherwise(owner):
    make_bead("Tide")
    book = sheet_of(
        "Designs",
        ["Name", "Finished length", "Bead or spacer"],
        ["Weir", "18 cm", "Tide"],
        ["Weir", "40 cm", "Tide"],
    )
    assert set(bad_cells(look_at(owner, book))) == {"Designs!B3"}


def test_beads_without_a_worth_are_asked_for_it(owner):
    make_bead("Tide")
    book = sheet_of("Opening stock", ["Bead", "How many beads", "Glass colour", "How much glass"],
                    ["Tide", 100, None, None], [None, None, "green", "5 kg"],
                    [None, None, "mixed", "5 kg"])  # fmt: skip
    bad = bad_cells(look_at(owner, book))
    assert sorted(bad) == ["Opening stock!2", "Opening stock!4"]
    assert "so that it is not sold for nothing" in bad["Opening stock!2"]
    assert not Balance.objects.filter(quantity__gt=0).exists()


def test_what_the_goods_of_a_sheet_are_put_into_the_book_at_is_told_before_they_come_in(owner):
    make_bead("Tide")
    worth = "Worth of a kilogram, or of one bead"
    book = sheet_of("Opening stock",
                    ["Bead", "How many beads", "Glass colour", "How much glass", worth],
                    ["Tide", 100, None, None, "0.20"],
                    [None, None, "green", "5 kg", "0.40"])  # fmt: skip
    assert look_at(owner, book).status_code == 302
    # 100 × 0.20 + 5 × 0.40
    assert "put into the book at €22.00:" in owner.get(PAGE).content.decode()
    assert not Balance.objects.filter(quantity__gt=0).exists()


def test_a_column_and_a_sheet_nobody_knows_are_told_before_anything_comes_in(owner):
    book = sheet_of("Customers", ["Name", "Fax"], ["Ana", "1"])
    book.create_sheet("Holiday plans").append(["When"])
    assert look_at(owner, book).status_code == 302
    words = owner.get(PAGE).content.decode()
    assert "Customers!B1 “Fax”" in words and "Holiday plans" in words


def test_examples_left_in_the_workbook_are_passed_over(owner):
    book = fetched(owner)
    fill(book, "Customers", [{"Name": "Ana"}])
    assert look_at(owner, book).status_code == 302
    assert "One row of examples is passed over" in owner.get(PAGE).content.decode()
    owner.post(PAGE, {"bring": "1"})
    assert [customer.name for customer in Customer.objects.all()] == ["Ana"]
    assert not Bead.objects.exists()


def test_only_examples_are_nothing_to_bring_in(owner):
    assert "Only examples stand in it" in look_at(owner, fetched(owner)).content.decode()


def test_more_rows_than_can_be_looked_at_are_refused_in_a_sentence(owner):
    csv = "name\n" + "".join(f"Name {n}\n" for n in range(3001))
    assert "more than 3,000 rows" in look_at(owner, csv, "customers.csv").content.decode()


def test_a_sheet_that_could_be_two_kinds_is_asked_about(owner):
    asked = look_at(owner, "name\nAna\n", "list.csv")
    assert "cannot be told what the sheet holds" in asked.content.decode()
    assert look_at(owner, "name\nAna\n", "list.csv", "customers").status_code == 302


@pytest.mark.parametrize("role", ["counter", "yard", "kiln", "bench"])
def test_only_the_owner_moves_anything_in(client, role):
    make_business()
    client.force_login(make_person(role))
    assert client.get(PAGE).status_code == 404
    assert client.get(f"{PAGE}workshop.xlsx").status_code == 404
    assert look_at(client, "name\nAna\n", "customers.csv").status_code == 404
    assert client.post(PAGE, {"bring": "1"}).status_code == 404
    assert not Customer.objects.exists()
    assert "moving-in" not in client.get("/").content.decode()


def test_each_list_leads_to_its_sheet(owner):
    make_colour("green")
    for page, kind in [
        ("orders:home", ""), ("workshop:facts", ""), ("stock:glass", ""),
        ("orders:customer_list", "customers"), ("stock:collector_list", "collectors"),
        ("stock:collector_price_list", "glass_prices"), ("stock:colour_list", "colours"),
        ("stock:beads", "beads"), ("orders:design_list", "designs"),
        ("orders:design_finding_list", "findings"), ("orders:design_price_list", "prices"),
        ("orders:design_break_list", "breaks"), ("workshop:kiln_list", "kilns"),
        ("workshop:programme_list", "programmes"), ("workshop:mould_list", "moulds"),
        ("workshop:hours_list", "hours"), ("workshop:closed_day_list", "closed_days"),
        ("workshop:rate_list", "rates"), ("workshop:tax_rate_list", "tax_rates"),
        ("workshop:standing_cost_list", "costs"),
        ("orders:money", "balances"),
    ]:  # fmt: skip
        words = owner.get(reverse(page)).content.decode()
        assert f"/moving-in/{f'?kind={kind}#{kind}' if kind else ''}" in words, page


def test_pressing_twice_brings_in_once(owner):
    look_at(owner, "name\nAna\n", "customers.csv", "customers")
    key = {"bring": "1", "key": "0d1f8b86-5f3a-4b60-9d6e-0f54a6a6c1d2"}
    assert owner.post(PAGE, key).status_code == 302
    assert owner.post(PAGE, key).status_code == 302
    assert Customer.objects.count() == 1


def test_a_price_twice_for_a_day_says_which(owner):
    design("Weir bracelet")
    csv = "design,price,from\nWeir bracelet,5,2026-01-01\nWeir bracelet,6,2026-01-01\n"
    (sentence,) = bad_cells(look_at(owner, csv, "prices.csv")).values()
    assert "already" in sentence and "Constraint" not in sentence
    assert not DesignPrice.objects.exists()
