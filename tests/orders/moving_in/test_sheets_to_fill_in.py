"""The sheets to fill in: every head has its note, every list opens, and a row of its own reads."""

import io

import pytest
from openpyxl import load_workbook
from openpyxl.utils import range_boundaries

from orders.models import KeptSheet
from orders.moving_in.sheets import SHEETS
from orders.moving_in.words import plain
from stock.models import Balance, Bead
from stock.services.standard_beads import cost_of_bead
from tests.builders import make_business, make_person
from tests.orders.moving_in.filling import PAGE, bad_cells, bring, fetched, fill
from tests.orders.moving_in.test_whole_workshop import fill_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner(client):
    make_business()
    client.force_login(make_person("owner"))
    return client


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.key)
def test_no_two_heads_of_a_sheet_can_be_taken_for_each_other(db, sheet):
    named = [name for column in sheet.columns() for name in {plain(column.head)} | {
        plain(name) for name in column.other_names}]  # fmt: skip
    assert len(named) == len(set(named))


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.key)
def test_an_example_names_only_columns_there_are(db, sheet):
    names = {column.name for column in sheet.columns()}
    assert all(set(example) <= names for example in sheet.examples)
    assert len(sheet.key) <= KeptSheet._meta.get_field("kind").max_length


def listed(book, validation) -> list[str]:
    """The words of the list that opens, read where its formula points to."""
    title, __, cells = validation.formula1.rpartition("!")
    assert not title.startswith("="), "a formula of a list has no sign of equality in the file"
    left, top, right, bottom = range_boundaries(cells)
    page = book[title.strip("'").replace("''", "'")]
    values = page.iter_cols(left, right, top, bottom, values_only=True)
    return [value for column in values for value in column if value]


def test_every_head_has_a_note_and_every_list_its_words(owner):
    book = fetched(owner)
    assert [page.title for page in book][1:-1] == [str(sheet.title) for sheet in SHEETS]
    assert book["Lists"].sheet_state == "hidden"
    for sheet in SHEETS:
        page = book[str(sheet.title)]
        assert all(cell.comment and cell.comment.text for cell in page[1]), sheet.key
    lists = {
        (page.title, page[f"{str(each.sqref).split('2')[0]}1"].value): listed(book, each)
        for page in book
        for each in page.data_validations.dataValidation
    }
    assert lists["Customers", "Who"] == ["market trader", "shop", "walk-in"]
    assert lists["Beads", "Mould"] == ["Example mould"]  # the names written in another sheet
    assert lists["Working hours", "Day"][0] == "Monday"
    assert lists["Kilns", "In use"] == ["yes", "no"]
    assert (
        max(len(each.error) for page in book for each in page.data_validations.dataValidation)
        <= 225
    )


def test_a_telephone_number_is_kept_as_it_is_typed(owner):
    page = fetched(owner)["Customers"]
    place = next(cell.column_letter for cell in page[1] if cell.value == "Telephone")
    assert page.column_dimensions[place].number_format == "@"


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.key)
def test_each_sheet_comes_alone_too_as_workbook_and_as_csv(owner, sheet):
    alone = load_workbook(io.BytesIO(owner.get(f"{PAGE}{sheet.key}.xlsx").content))
    assert str(sheet.title) in alone.sheetnames
    answer = owner.get(f"{PAGE}{sheet.key}.csv")
    lines = b"".join(answer.streaming_content).decode("utf-8-sig").splitlines()
    assert lines[0].count(",") >= len(sheet.columns()) - 1
    assert len(lines) == 1 + len(sheet.examples)


@pytest.mark.parametrize("name", ["nothing.xlsx", "workshop.csv", "customers.pdf"])
def test_a_sheet_there_is_not_is_not_found(owner, name):
    assert owner.get(f"{PAGE}{name}").status_code == 404


def test_beads_that_lie_here_take_their_cost_of_making_where_nobody_says_it(owner):
    book = fetched(owner)
    fill_in(book)
    fill(book, "Opening stock", [{"Bead": "Tide", "How many beads": 1000}])
    looked = bring(owner, book)
    assert looked.status_code == 302, bad_cells(looked)
    each = cost_of_bead(Bead.objects.get())
    # Filling a mould of 25: 6.5 minutes and a tenth at 9.00 an hour is 1.0725, 0.0429 a bead.
    assert each is not None and each > 0.0429
    assert Balance.objects.get(item__batch__good=1000, inside=True).value == each * 1000
