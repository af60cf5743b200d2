"""Rows looked at and brought in, each through the form and the act of its page; all or nothing."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import timedelta
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.forms import BaseForm
from django.utils import timezone
from django.utils.text import slugify
from django.utils.translation import gettext as _

from orders.models import KeptSheet
from orders.money.queries.month_account import goods_now
from orders.moving_in.cells import Row
from orders.moving_in.reading import Entry, ReadFile, ReadSheet
from orders.moving_in.sheet import PART, Told
from orders.moving_in.words import allowed, is_list, plain, sent, typed
from workshop.formats import typed_with
from workshop.models import Business, Person
from workshop.services.acts import record_act
from workshop.services.trying import taken_back

KEPT_FOR = timedelta(hours=1)
ZERO = Decimal(0)


@dataclass(frozen=True)
class BadCell:
    """One cell that cannot be brought in: where, under which head, what stands there, and why."""

    address: str
    head: str
    text: str
    sentence: str
    allowed: str = ""


@dataclass
class Look:
    """What a file would bring, and what has to be put right first."""

    counts: dict[str, int] = field(default_factory=dict)
    bad: list[BadCell] = field(default_factory=list)
    worth: Decimal = ZERO  # of the goods it brings, as told or as making them costs

    @property
    def clean(self) -> bool:
        return not self.bad and sum(self.counts.values()) > 0


def look_at(file: ReadFile, *, person: Person) -> Look:
    """Bring every row in and take it all back again: whatever would be refused is known then."""
    with taken_back():
        before = goods_now()
        look = _carry_out(file, person)
        look.worth = goods_now() - before
    return look


@transaction.atomic
def bring_in(file: ReadFile, *, person: Person) -> Look:
    """Write every row of a file, or none where a single cell is wrong."""
    look = _carry_out(file, person)
    if look.clean:
        record_act(person, "bring in", Business.current(), after=look.counts)
    else:
        transaction.set_rollback(True)
    return look


@typed_with(".")  # cells were read by the file's own habit; boxes follow
def _carry_out(file: ReadFile, person: Person) -> Look:
    look = Look()
    spoilt: set[str] = set()  # names of things that are in the file, and wrong there
    for sheet in file.sheets:
        writer = _Writer(sheet, person, file.decimal_comma, spoilt)
        for entry in sheet.entries:
            bad = writer.write(entry)
            look.bad += bad
            if bad and sheet.sheet.named:
                name = sheet.told(entry.row).get(sheet.sheet.named, "")
                spoilt |= {plain(name), slugify(name)}
        if sheet.entries:
            look.counts[str(sheet.sheet.title)] = len(sheet.entries)
    return look


class _Writer:
    """Writes the rows of one sheet, and collects what is wrong with each."""

    def __init__(
        self, sheet: ReadSheet, person: Person, decimal_comma: bool, spoilt: set[str]
    ) -> None:
        self.sheet, self.person, self.spoilt = sheet, person, spoilt
        self.decimal_comma = decimal_comma
        # Asked for now, for their lists hold what the sheets before have brought.
        self.boxes = {column.name: column for column in sheet.sheet.columns()}
        self.rows_by_name = self._names_in_the_book()
        self._untouched: dict[str, dict[str, Any]] = {}
        self.bad: list[BadCell] = []

    def _names_in_the_book(self) -> dict[str, int]:
        named, model = self.sheet.sheet.named, self.sheet.sheet.model
        if not named:
            return {}
        return {plain(name): 0 for name in model._default_manager.values_list(named, flat=True)}

    def write(self, entry: Entry) -> list[BadCell]:
        """Bring one thing in; nothing of it stays where a cell is wrong."""
        self.bad = []
        for row in entry.rows:
            self._faults(row)
        told = self._own(entry)
        self._once(entry, told)
        data = self._typed(told, entry.row.number)
        parts = self._parts(entry)
        form = self._form(data)
        if form.is_valid() and not self.bad:
            try:
                with transaction.atomic():
                    self.sheet.sheet.save(form, parts, person=self.person)
            except ValidationError as error:
                self._refused(error, entry)
        else:
            self._errors(form, entry)
        return self.bad

    def _form(self, data: Mapping[str, Any]) -> BaseForm:
        """The form as the page would send it: every box as it opens, but for what the row says."""
        filled = self._blank(data) | data
        # A tick that is not set is not sent.
        said = {name: value for name, value in filled.items() if value not in (None, False)}
        return self.sheet.sheet.filled(said, data)

    def _blank(self, data: Mapping[str, Any]) -> dict[str, Any]:
        """What the page would send if nobody touched it; only the shape of a bead changes it."""
        shape = str(data.get("shape", ""))
        if shape not in self._untouched:
            blank = self.sheet.sheet.blank(data)
            self._untouched[shape] = {name: sent(blank[name]) for name in blank.fields}
        return self._untouched[shape]

    def _faults(self, row: Row) -> None:
        for place, sentence in row.faults.items():
            if place in self.sheet.columns:
                self._add(self.sheet.columns[place].name, row.number, row.cells[place], sentence)

    def _own(self, entry: Entry) -> dict[str, str]:
        """What the first row says of the thing itself; other rows may only say the same."""
        told = self.sheet.told(entry.row)
        for row in entry.rows[1:]:
            for name, text in self.sheet.told(row).items():
                if name.startswith(PART) or plain(text) == plain(told.get(name, "")):
                    continue
                self._add(
                    name,
                    row.number,
                    text,
                    _("This row goes on with the one above, so it stands there; empty it here."),
                )
        return {name: text for name, text in told.items() if not name.startswith(PART)}

    def _once(self, entry: Entry, told: Told) -> None:
        """The same name twice is a slip: two things of one name cannot be told apart."""
        named = self.sheet.sheet.named
        name = plain(told.get(named, ""))
        if not name:
            return
        if name in self.rows_by_name:
            row = self.rows_by_name[name]
            where = self.sheet.address(named, row)
            sentence = (
                _("This name stands twice here, in %s too; take one of them out.") % where
                if row
                else _("This name is in the book already; take the row out, or write another.")
            )
            self._add(named, entry.row.number, told[named], sentence)
        else:
            self.rows_by_name[name] = entry.row.number

    def _typed(self, told: Mapping[str, str], row: int) -> dict[str, Any]:
        """What each box gets; a cell that cannot be read goes in as it is, and is named."""
        data: dict[str, Any] = {}
        for name, text in told.items():
            try:
                data[name] = typed(self.boxes[name].box, text, decimal_comma=self.decimal_comma)
            except ValidationError as error:
                data[name] = text
                # The sentence itself says what may stand there, but for names of things.
                known = allowed(self.boxes[name].box) if self.boxes[name].refers_to else ""
                self._add(name, row, text, self._sentence(name, text, error), known)
        return data

    def _sentence(self, name: str, text: str, error: ValidationError) -> str:
        if is_list(self.boxes[name].box) and plain(text) in self.spoilt:
            return _("“%s” stands in this file too; put it right there first.") % text
        return " ".join(error.messages)

    def _parts(self, entry: Entry) -> Any:
        blank = self.sheet.sheet.blank_part()
        if blank is None:
            return None
        untouched = {
            name: "" if self.boxes[PART + name].needed else sent(blank[name]) or ""
            for name in blank.fields
        }
        rows = []
        for row in entry.parts or (entry.row,):
            told = {n: text for n, text in self.sheet.told(row).items() if n.startswith(PART)}
            given = self._typed(told, row.number)
            rows.append(untouched | {n.removeprefix(PART): value for n, value in given.items()})
        try:
            return self.sheet.sheet.read_parts(rows)
        except ValidationError as error:
            self._refused(error, entry)
            return None

    def _errors(self, form: BaseForm, entry: Entry) -> None:
        for name, sentences in form.errors.items():
            # Where a cell cannot be read, what holds between several cells says nothing yet.
            if name in form.fields or not self.bad:
                self._name(name, entry.row, list(map(str, sentences)))

    def _refused(self, error: ValidationError, entry: Entry) -> None:
        """What an act refused, at the cell it names: `part.share@2` is the third part's share."""
        if not hasattr(error, "error_dict"):
            self._name("", entry.row, error.messages)
            return
        for name, sentences in error.message_dict.items():
            box, __, number = name.partition("@")
            row = entry.parts[int(number)] if number and entry.parts else entry.row
            self._name(box, row, sentences)

    def _name(self, box: str, row: Row, sentences: list[str]) -> None:
        """Name a cell, unless it was named before with the reason itself."""
        known = box if box in self.boxes else ""
        address = self.sheet.address(known, row.number)
        if not any(each.address == address for each in self.bad):
            text = self.sheet.told(row).get(known, "")
            may = allowed(self.boxes[known].box) if known else ""
            self._add(known, row.number, text, " ".join(sentences), may)

    def _add(self, name: str, row: int, text: str, sentence: str, known: str = "") -> None:
        head = self.boxes[name].head if name in self.boxes else ""
        address = self.sheet.address(name, row)
        self.bad.append(BadCell(address, head, text, sentence, known))


def keep_sheet(
    name: str, data: bytes, *, kind: str, rows: int, worth: Decimal = ZERO, person: Person
) -> KeptSheet:
    """Keep a clean file for its person in the place of any before; old ones of anybody go."""
    forget_old_sheets()
    forget_sheet(person)
    return KeptSheet.objects.create(
        person=person, kind=kind, name=name[:200], data=data, rows=rows, worth=worth
    )


def kept_sheet(person: Person) -> KeptSheet | None:
    """The file this person looked at within the hour; nobody else ever gets it."""
    return KeptSheet.objects.filter(person=person, kept_at__gt=timezone.now() - KEPT_FOR).first()


def forget_sheet(person: Person) -> None:
    """Put a person's file away."""
    KeptSheet.objects.filter(person=person).delete()


def forget_old_sheets() -> None:
    """Put away whatever nobody brought in within the hour."""
    KeptSheet.objects.filter(kept_at__lte=timezone.now() - KEPT_FOR).delete()


__all__ = [
    "BadCell",
    "Look",
    "bring_in",
    "forget_old_sheets",
    "forget_sheet",
    "keep_sheet",
    "kept_sheet",
    "look_at",
]
