"""Bringing in customers, prices and opening balances from a spreadsheet, all or nothing.

A sheet is read in full and every bad row is named; nothing is written until there is none.
"""

import csv
import io
import zipfile
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from itertools import islice
from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.models import Customer, CustomerGroup, DesignPrice, Paper, Payment, StrandDesign
from orders.services.opening import open_balance
from workshop.models import Business, Person
from workshop.money import round_half_up
from workshop.services.acts import record_act

MOST_ROWS, MOST_COLUMNS = 20_000, 60
MOST_BYTES, MOST_UNPACKED = 5_000_000, 100_000_000


@dataclass(frozen=True)
class BadRow:
    """What is wrong with one row, by its number in the sheet."""

    number: int
    sentence: str


@dataclass
class Brought:
    """What a sheet holds: the rows that are right, and those that are not."""

    kind: str
    rows: list[dict[str, Any]] = field(default_factory=list)
    bad: list[BadRow] = field(default_factory=list)

    @property
    def clean(self) -> bool:
        return bool(self.rows) and not self.bad


COLUMNS: dict[str, tuple[str, ...]] = {
    "customers": (
        "name",
        "group",
        "phone",
        "email",
        "address",
        "country",
        "vat_number",
        "credit_limit",
    ),
    "prices": ("design", "group", "customer", "from_strands", "price", "from"),
    "balances": ("customer", "number", "day", "due", "amount"),
}
NEEDED: dict[str, tuple[str, ...]] = {
    "customers": ("name",),
    "prices": ("design", "price"),
    "balances": ("customer", "amount"),
}


def read_sheet(kind: str, name: str, data: bytes) -> Brought:
    """Read and check a CSV or XLSX sheet; nothing is written."""
    if len(data) > MOST_BYTES:
        raise ValidationError(_("The file is larger than 5 MB. Split it into smaller sheets."))
    cells = _xlsx_cells(data) if name.lower().endswith(".xlsx") else _csv_cells(data)
    head, *body = cells or [[]]
    columns = [str(cell or "").strip().lower().replace(" ", "_") for cell in head]
    missing = [column for column in NEEDED[kind] if column not in columns]
    if missing:
        raise ValidationError(
            _(
                "The first row must name the columns. Missing: %(missing)s. "
                "Known columns are: %(known)s."
            )
            % {"missing": ", ".join(missing), "known": ", ".join(COLUMNS[kind])}
        )
    if len(body) > MOST_ROWS:
        raise ValidationError(_("The sheet has more than 20,000 rows. Split it into smaller ones."))
    brought = Brought(kind)
    check = _CHECKS[kind]()
    for number, row in enumerate(body, start=2):
        told = {
            column: _said(cell)
            for column, cell in zip(columns, row, strict=False)
            if column in COLUMNS[kind]
        }
        if not any(told.values()):
            continue
        try:
            brought.rows.append(check(told))
        except ValidationError as error:
            brought.bad.append(BadRow(number, " ".join(error.messages)))
    if not brought.rows and not brought.bad:
        raise ValidationError(_("The sheet has no rows below its head. Add the rows to bring in."))
    return brought


@transaction.atomic
def bring_in(brought: Brought, *, by: Person | None) -> int:
    """Write every row of a clean sheet; gives how many."""
    if not brought.clean:
        raise ValidationError(_("Nothing is brought in until every row is right."))
    for row in brought.rows:
        if brought.kind == "customers":
            Customer.objects.create(**row)
        elif brought.kind == "prices":
            DesignPrice.objects.create(**row)
        else:
            open_balance(**row, by=by)
    record_act(by, "bring in", Business.current(), after={brought.kind: len(brought.rows)})
    return len(brought.rows)


def _csv_cells(data: bytes) -> list[list[Any]]:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise ValidationError(
            _("The file is not written in UTF-8. Save it as “CSV UTF-8” and choose it again.")
        ) from error
    first = text.split("\n", 1)[0]
    delimiter = max(";,\t", key=first.count)
    return list(csv.reader(io.StringIO(text), delimiter=delimiter))


def _xlsx_cells(data: bytes) -> list[list[Any]]:
    from openpyxl import load_workbook

    try:
        # A few megabytes can unpack to gigabytes; the archive says so before it is opened.
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            unpacked = sum(part.file_size for part in archive.infolist())
        if unpacked > MOST_UNPACKED:
            raise ValidationError(
                _("The workbook unpacks to more than 100 MB. Keep only the sheet to bring in.")
            )
        book = load_workbook(io.BytesIO(data), read_only=True, data_only=True)
        rows = book.worksheets[0].iter_rows(values_only=True, max_col=MOST_COLUMNS)
        return [list(row) for row in islice(rows, MOST_ROWS + 2)]
    except ValidationError:
        raise
    except Exception as error:
        raise ValidationError(
            _("The file cannot be read as a workbook. Save it as XLSX or CSV and choose it again.")
        ) from error


def _said(cell: Any) -> str:
    if cell is None:
        return ""
    if isinstance(cell, (date, datetime)):
        return cell.isoformat()[:10]
    text = str(cell).strip()
    # A sheet of our own disarms a risky beginning with an apostrophe.
    return text[1:] if text[:1] == "'" else text


def _amount(text: str, column: str, *, least: Decimal | None = None) -> Decimal:
    plain = text.replace("\u00a0", "").replace(" ", "")
    if "," in plain and "." not in plain:
        plain = plain.replace(",", ".")
    try:
        amount = Decimal(plain)
    except InvalidOperation as error:
        raise ValidationError(
            _("“%(text)s” under %(column)s is no amount; write one such as 12.50.")
            % {"text": text, "column": column}
        ) from error
    if not amount.is_finite() or abs(amount) > Decimal("1e9"):
        raise ValidationError(
            _("“%(text)s” under %(column)s is too large to be true.")
            % {"text": text, "column": column}
        )
    if least is not None and amount < least:
        raise ValidationError(
            _("“%(text)s” under %(column)s is below %(least)s.")
            % {"text": text, "column": column, "least": least}
        )
    return amount


def _day(text: str, column: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise ValidationError(
            _("“%(text)s” under %(column)s is no day; write one such as 2026-12-04.")
            % {"text": text, "column": column}
        ) from error


def _one_of(text: str, column: str, choices: Iterable[str]) -> str:
    if text and text not in choices:
        raise ValidationError(
            _("“%(text)s” under %(column)s is unknown; write one of: %(known)s.")
            % {"text": text, "column": column, "known": ", ".join(choices)}
        )
    return text


def _customer_check() -> Callable[[dict[str, str]], dict[str, Any]]:
    known = set(Customer.objects.values_list("name", flat=True))

    def check(told: dict[str, str]) -> dict[str, Any]:
        name = told.get("name", "")
        if not name or len(name) > 120:
            raise ValidationError(_("A customer needs a name of up to 120 letters."))
        if name in known:
            raise ValidationError(_("%s is a customer already, or stands twice here.") % name)
        if email := told.get("email", ""):
            validate_email(email)
        country = told.get("country", "").upper()
        if country and (len(country) != 2 or not country.isalpha()):
            raise ValidationError(_("Write the country in two letters, such as PT."))
        limit = told.get("credit_limit", "")
        row = {
            "name": name,
            "group": _one_of(told.get("group", ""), "group", CustomerGroup.values)
            or CustomerGroup.TRADER,
            "phone": told.get("phone", "")[:40],
            "email": email,
            "address": told.get("address", ""),
            "country": country,
            "tax_number": told.get("vat_number", "")[:30],
            "credit_limit": _amount(limit, "credit_limit", least=Decimal(0)) if limit else None,
        }
        known.add(name)
        return row

    return check


def _price_check() -> Callable[[dict[str, str]], dict[str, Any]]:
    designs = {design.name: design for design in StrandDesign.objects.all()}
    designs |= {design.code: design for design in designs.values()}
    people = {customer.name: customer for customer in Customer.objects.all()}
    taken = {
        (row.design_id, row.group, row.customer_id, row.from_strands, row.valid_from)
        for row in DesignPrice.objects.all()
    }

    def check(told: dict[str, str]) -> dict[str, Any]:
        design = _known(designs, told.get("design", ""), _("design"))
        name = told.get("customer", "")
        customer = _known(people, name, _("customer")) if name else None
        many = told.get("from_strands", "") or "1"
        if not many.isdigit() or not 1 <= int(many) <= 1_000_000:
            raise ValidationError(_("“%s” under from_strands is no whole number above 0.") % many)
        day = told.get("from", "")
        row = {
            "design": design,
            "group": _one_of(told.get("group", ""), "group", CustomerGroup.values),
            "customer": customer,
            "from_strands": int(many),
            "price": _amount(told.get("price", ""), "price", least=Decimal(0)),
            "valid_from": _day(day, "from") if day else timezone.localdate(),
        }
        key = (
            design.pk,
            row["group"],
            customer.pk if customer else None,
            row["from_strands"],
            row["valid_from"],
        )
        if key in taken:
            raise ValidationError(
                _("%s has a price for this day and quantity already, or twice here.") % design
            )
        taken.add(key)
        return row

    return check


def _balance_check() -> Callable[[dict[str, str]], dict[str, Any]]:
    people = {customer.name: customer for customer in Customer.objects.all()}
    currency = Business.current().currency
    numbers = set(
        Paper.objects.filter(kind=Paper.Kind.OPENING).values_list("number", flat=True)
    ) | set(
        Payment.objects.filter(method=Payment.Method.OPENING).values_list("reference", flat=True)
    )
    today = timezone.localdate()

    def check(told: dict[str, str]) -> dict[str, Any]:
        customer = _known(people, told.get("customer", ""), _("customer"))
        amount = _amount(told.get("amount", ""), "amount")
        if not amount or round_half_up(amount, currency) != amount:
            raise ValidationError(
                _("“%(text)s” under amount must not be 0, nor finer than %(currency)s has coins.")
                % {"text": told.get("amount", ""), "currency": currency}
            )
        number = told.get("number", "")[:30]
        if number and number in numbers:
            raise ValidationError(
                _("%s was brought forward already, or stands twice here.") % number
            )
        if number:
            numbers.add(number)
        day, due = told.get("day", ""), told.get("due", "")
        issued = _day(day, "day") if day else today
        if issued > today:
            raise ValidationError(_("A balance cannot come from a day still ahead."))
        return {
            "customer": customer,
            "amount": amount,
            "number": number,
            "issued_on": issued,
            "due_on": _day(due, "due") if due else issued,
        }

    return check


def _known(found: dict[str, Any], name: str, what: str) -> Any:
    if name not in found:
        raise ValidationError(
            _("There is no %(what)s called “%(name)s”. Write the name as it stands in the book.")
            % {"what": what, "name": name}
        )
    return found[name]


_CHECKS: dict[str, Callable[[], Callable[[dict[str, str]], dict[str, Any]]]] = {
    "customers": _customer_check,
    "prices": _price_check,
    "balances": _balance_check,
}
