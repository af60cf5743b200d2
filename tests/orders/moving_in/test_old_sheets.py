"""Sheets with the heads of before: customers, prices and opening balances, all or nothing."""

import io
import zipfile
from datetime import date, timedelta
from decimal import Decimal

import pytest
import time_machine
from django.core.exceptions import ValidationError
from django.utils import timezone
from openpyxl import Workbook

from orders.models import Customer, DesignPrice, Document, KeptSheet, Payment
from orders.money.queries.accounts import balance_of
from orders.moving_in.cells import read_file
from orders.moving_in.services import keep_sheet, kept_sheet
from tests.builders import make_business, make_person
from tests.orders.money.setting import design, trader
from tests.orders.moving_in import filling
from tests.orders.moving_in.filling import PAGE, bad_cells

pytestmark = pytest.mark.django_db
D = Decimal


@pytest.fixture
def owner(client):
    make_business()
    client.force_login(make_person("owner"))
    return client


def look_at(client, kind: str, data: str | bytes, name: str = "sheet.csv"):
    return filling.look_at(client, data, name, kind)


def bring(client, kind: str, data: str | bytes, name: str = "sheet.csv"):
    return filling.bring(client, data, name, kind)


def test_customers_are_brought_in_from_a_sheet(owner):
    sheet = "name;phone;country;credit_limit\nIlse Brandt;+49 30 123456;de;250,50\n"
    answer = bring(owner, "customers", sheet)
    assert answer.status_code == 302
    made = Customer.objects.get(name="Ilse Brandt")
    assert (made.country, made.credit_limit) == ("DE", Decimal("250.50"))


def test_a_dry_run_names_every_bad_row_and_brings_in_nothing(owner):
    trader("Marisa Orlo")
    sheet = (
        "name,group,email,credit_limit\nGood One,trader,,\nMarisa Orlo,,,\n"
        "Other,king,,\nThird,,not-mail,\nFourth,,,-5\nGood One,,,\n"
    )
    page = bring(owner, "customers", sheet)
    assert page.status_code == 422
    assert sorted(bad_cells(page)) == [
        "Customers!A3",
        "Customers!A7",
        "Customers!B4",
        "Customers!C5",
        "Customers!D6",
    ]
    assert "one of: market trader, shop, walk-in" in page.content.decode()
    assert Customer.objects.count() == 1


def test_every_bad_row_is_named_however_many_there_are(owner):
    sheet = "name,credit_limit\n" + "".join(f"Name {n},-1\n" for n in range(1000))
    words = look_at(owner, "customers", sheet).content.decode()
    assert "1000 cells to put right" in words
    assert all(f"Customers!B{n}<" in words for n in range(2, 1002))


def test_a_clean_sheet_waits_for_its_person_and_is_chosen_once(owner, client):
    assert look_at(owner, "customers", "name\nIlse Brandt\n").status_code == 302
    assert "one row, and it is right" in owner.get(PAGE).content.decode()
    assert not Customer.objects.exists()
    client.force_login(make_person("owner", username="second"))
    assert "sheet.csv" not in client.get(PAGE).content.decode()
    client.post(PAGE, {"bring": "1"})
    assert not Customer.objects.exists()
    client.force_login(make_person("owner"))
    client.post(PAGE, {"bring": "1"})
    assert Customer.objects.get().name == "Ilse Brandt"
    assert not KeptSheet.objects.exists()
    client.post(PAGE, {"bring": "1"})
    assert Customer.objects.count() == 1


def test_a_sheet_is_put_away_after_an_hour_or_when_told(owner):
    look_at(owner, "customers", "name\nIlse Brandt\n")
    with time_machine.travel(timezone.now() + timedelta(minutes=61), tick=False):
        assert kept_sheet(make_person("owner")) is None
        keep_sheet("x", b"", kind="", rows=1, person=make_person("owner", username="second"))
    assert [kept.name for kept in KeptSheet.objects.all()] == ["x"]
    KeptSheet.objects.all().delete()
    look_at(owner, "customers", "name\nIlse Brandt\n")
    owner.post(PAGE, {"forget": "1"})
    assert not KeptSheet.objects.exists() and not Customer.objects.exists()


def test_a_sheet_is_looked_at_again_before_it_is_brought_in(owner):
    look_at(owner, "customers", "name\nIlse Brandt\nAna\n")
    trader("Ilse Brandt")
    page = owner.post(PAGE, {"bring": "1"})
    assert page.status_code == 422
    assert bad_cells(page).keys() == {"Customers!A2"}
    assert not Customer.objects.filter(name="Ana").exists()


def test_a_workbook_says_numbers_and_days_as_a_person_would(owner):
    design("Harbour bracelet")
    book = Workbook()
    book.active.append(["design", "price", "from_strands", "from"])
    book.active.append(["Harbour bracelet", 0.1 + 0.2, 10.0, date(2026, 1, 1)])
    out = io.BytesIO()
    book.save(out)
    assert bring(owner, "prices", out.getvalue(), name="prices.xlsx").status_code == 302
    made = DesignPrice.objects.get()
    assert (made.price, made.from_strands, made.valid_from) == (D("0.3"), 10, date(2026, 1, 1))


@pytest.mark.parametrize(
    ("kind", "sheet", "sentence"),
    [
        ("prices", 'design,price\nHarbour bracelet,"1,234"\n', "can be read as 1.234 or as 1234"),
        ("prices", "design,price\nHarbour bracelet,1.0000001\n", "no more than 4 decimal places"),
        (
            "customers",
            "name,phone\nAna," + "1" * 41 + "\n",
            "Only 40 letters fit here; shorten the 41 written",
        ),
        ("customers", "name\nANA\nAna\n", "stands twice here"),
        ("balances", "customer,amount\nTwin,5\n", "2 customers are called “Twin”"),
        ("customers", "name\nA\0na\n", "signs that no text has"),
        ("customers", "name\n" + "x" * 140_000, "cannot be read as CSV"),
    ],
)
def test_nothing_is_cut_or_guessed(owner, kind, sheet, sentence):
    design("Harbour bracelet")
    trader("Twin"), Customer.objects.create(name="Twin")
    page = look_at(owner, kind, sheet)
    assert page.status_code == 422
    assert sentence in page.content.decode()


def test_prices_are_brought_in_for_designs_that_exist(owner):
    design("Harbour bracelet")
    head = "design,price,from_strands,from\n"
    refused = bring(owner, "prices", head + "No such,1.00,,\n")
    assert "no strand design called “No such”" in refused.content.decode()
    bring(owner, "prices", head + "Harbour bracelet,6.50,10,2026-01-01\n")
    price = DesignPrice.objects.get()
    assert (price.price, price.from_strands) == (Decimal("6.50"), 10)


def test_opening_balances_are_owed_or_in_credit(owner):
    owes, has = trader("Owes"), trader("Has")
    sheet = "customer,number,day,due,amount\nOwes,A-17,2026-01-05,2026-01-19,120.00\nHas,,,,-30\n"
    assert bring(owner, "balances", sheet).status_code == 302
    paper = Document.objects.get()
    assert (paper.kind, paper.number, str(paper.due_on)) == ("opening", "A-17", "2026-01-19")
    assert balance_of(owes).balance == 120
    assert balance_of(has).balance == -30
    assert Payment.objects.get().on == timezone.localdate()


def test_balances_brought_in_twice_are_refused(owner):
    trader("Owes")
    sheet = "customer,number,amount\nOwes,A-17,120.00\n"
    bring(owner, "balances", sheet)
    assert "brought forward already" in bring(owner, "balances", sheet).content.decode()
    assert Document.objects.count() == 1


@pytest.mark.parametrize(
    ("name", "data", "sentence"),
    [
        ("sheet.csv", b"nothing,here\n1,2\n", "Missing: Name"),
        ("sheet.csv", b"name\n\xff\xfe", "not written in UTF-8"),
        ("sheet.xlsx", b"PK no workbook", "cannot be read as a workbook"),
        ("sheet.csv", b"name\n", "no rows below its head"),
    ],
)
def test_a_sheet_that_cannot_be_read_is_refused_in_a_sentence(owner, name, data, sentence):
    page = bring(owner, "customers", data, name=name)
    assert page.status_code == 422
    assert sentence in page.content.decode()


def test_what_is_exported_can_be_brought_in_again(owner):
    trader("=Risky & Sons", phone="+351 912 345 678")
    head = "name,phone\n"
    from workshop.csv_export import csv_lines

    sheet = head + "".join(csv_lines([["=Equal & Sons", "+351 912"]]))
    assert bring(owner, "customers", sheet).status_code == 302
    assert Customer.objects.filter(name="=Equal & Sons", phone="+351 912").exists()


def test_a_small_file_that_unpacks_to_a_flood_is_refused_unopened():
    flood = io.BytesIO()
    with zipfile.ZipFile(flood, "w", zipfile.ZIP_DEFLATED) as archive:
        for part in range(3):
            archive.writestr(f"xl/worksheets/sheet{part}.xml", b" " * 40_000_000)
    assert len(flood.getvalue()) < 1_000_000
    with pytest.raises(ValidationError, match="unpacks to more than 12 MB"):
        read_file("names.xlsx", flood.getvalue())


def test_a_file_that_only_says_it_is_a_workbook_is_refused_in_a_sentence():
    with pytest.raises(ValidationError, match="cannot be read as a workbook"):
        read_file("names.xlsx", b"name,group\nAna,trader\n")
