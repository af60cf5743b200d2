"""Bringing in customers, prices and opening balances from a spreadsheet, all or nothing.

A sheet is read in full and every bad row is named; nothing is written until there is none.
"""

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal, InvalidOperation
from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.models import Customer, CustomerGroup, DesignPrice, Document, Payment, StrandDesign
from orders.money.services.opening import open_balance
from orders.money.services.sheet_cells import MOST_ROWS, cells_of, said
from workshop.form_bounds import within_sense
from workshop.models import Business, Person
from workshop.money import round_half_up
from workshop.services.acts import record_act
from workshop.typed import whole_number

MOST_PLACES = 6  # as fine as the book keeps money


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
    head, *body = cells_of(name, data) or [[]]
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
            column: said(cell)
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


def _amount(text: str, column: str, *, least: Decimal | None = None) -> Decimal:
    plain = "".join(text.split())
    if re.fullmatch(r"-?\d{1,3},\d{3}", plain):
        raise ValidationError(
            _("“%(text)s” under %(column)s can be read two ways; write %(one)s or %(other)s.")
            % {
                "text": text,
                "column": column,
                "one": plain.replace(",", ""),
                "other": plain.replace(",", "."),
            }
        )
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
    if amount != round(amount, MOST_PLACES):
        raise ValidationError(
            _("“%(text)s” under %(column)s has more than six decimals; round it.")
            % {"text": text, "column": column}
        )
    if least is not None and amount < least:
        raise ValidationError(
            _("“%(text)s” under %(column)s is below %(least)s.")
            % {"text": text, "column": column, "least": least}
        )
    return amount


def _short(told: dict[str, str], column: str, most: int) -> str:
    text = told.get(column, "")
    if len(text) > most:
        raise ValidationError(
            _("%(column)s holds up to %(most)d letters and this has %(found)d; shorten it.")
            % {"column": column, "most": most, "found": len(text)}
        )
    return text


def _day(text: str, column: str) -> date:
    try:
        day = date.fromisoformat(text)
    except ValueError as error:
        raise ValidationError(
            _("“%(text)s” under %(column)s is no day; write one such as 2026-12-04.")
            % {"text": text, "column": column}
        ) from error
    within_sense(day)
    return day


def _one_of(text: str, column: str, choices: Iterable[str]) -> str:
    if text and text not in choices:
        raise ValidationError(
            _("“%(text)s” under %(column)s is unknown; write one of: %(known)s.")
            % {"text": text, "column": column, "known": ", ".join(choices)}
        )
    return text


def _customer_check() -> Callable[[dict[str, str]], dict[str, Any]]:
    known = {name.casefold() for name in Customer.objects.values_list("name", flat=True)}

    def check(told: dict[str, str]) -> dict[str, Any]:
        name = _short(told, "name", 120)
        if not name:
            raise ValidationError(_("A customer needs a name; write it under name."))
        if name.casefold() in known:
            raise ValidationError(_("%s is a customer already, or stands twice here.") % name)
        if email := _short(told, "email", 254):
            validate_email(email)
        country = told.get("country", "").upper()
        if country and (len(country) != 2 or not country.isalpha()):
            raise ValidationError(_("Write the country in two letters, such as PT."))
        limit = told.get("credit_limit", "")
        row = {
            "name": name,
            "group": _one_of(told.get("group", ""), "group", CustomerGroup.values)
            or CustomerGroup.TRADER,
            "phone": _short(told, "phone", 40),
            "email": email,
            "address": _short(told, "address", 500),
            "country": country,
            "tax_number": _short(told, "vat_number", 30),
            "credit_limit": _amount(limit, "credit_limit", least=Decimal(0)) if limit else None,
        }
        known.add(name.casefold())
        return row

    return check


def _price_check() -> Callable[[dict[str, str]], dict[str, Any]]:
    designs = {design.name: design for design in StrandDesign.objects.all()}
    designs |= {design.code: design for design in designs.values()}
    people = _people()
    taken = {
        (row.design_id, row.group, row.customer_id, row.from_strands, row.valid_from)
        for row in DesignPrice.objects.all()
    }

    def check(told: dict[str, str]) -> dict[str, Any]:
        design = _known(designs, told.get("design", ""), _("design"))
        name = told.get("customer", "")
        customer = _customer(people, name) if name else None
        said = told.get("from_strands", "") or "1"
        many = whole_number(said, 1_000_000)
        if not many:
            raise ValidationError(_("“%s” under from_strands is no whole number above 0.") % said)
        day = told.get("from", "")
        row = {
            "design": design,
            "group": _one_of(told.get("group", ""), "group", CustomerGroup.values),
            "customer": customer,
            "from_strands": many,
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
    people = _people()
    currency = Business.current().currency
    numbers = set(
        Document.objects.filter(kind=Document.Kind.OPENING).values_list("number", flat=True)
    ) | set(
        Payment.objects.filter(method=Payment.Method.OPENING).values_list("reference", flat=True)
    )
    today = timezone.localdate()

    def check(told: dict[str, str]) -> dict[str, Any]:
        customer = _customer(people, told.get("customer", ""))
        amount = _amount(told.get("amount", ""), "amount")
        if not amount or round_half_up(amount, currency) != amount:
            raise ValidationError(
                _("“%(text)s” under amount must not be 0, nor finer than %(currency)s has coins.")
                % {"text": told.get("amount", ""), "currency": currency}
            )
        number = _short(told, "number", 30)
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


def _people() -> dict[str, list[Customer]]:
    found: dict[str, list[Customer]] = {}
    for customer in Customer.objects.all():
        found.setdefault(customer.name, []).append(customer)
    return found


def _customer(people: dict[str, list[Customer]], name: str) -> Customer:
    namesakes = _known(people, name, _("customer"))
    if len(namesakes) > 1:
        raise ValidationError(
            _("%(count)d customers are called “%(name)s”. Give them names of their own first.")
            % {"count": len(namesakes), "name": name}
        )
    return namesakes[0]


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
