"""Sheets to fill in, and the book's own facts in the same sheets: XLSX or CSV.

Whatever a sheet shows comes from its description: heads, notes, lists of words, example rows.
"""

import io
from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from openpyxl import Workbook
from openpyxl.comments import Comment
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.utils import get_column_letter, quote_sheetname
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet

from orders.moving_in.reading import HELPING
from orders.moving_in.sheet import PART, Column, Sheet
from orders.moving_in.words import Names, allowed, is_list, list_words, written
from workshop.csv_export import csv_lines

LISTED_ROWS = 2_000  # rows below the head in which a list opens
HEAD = PatternFill("solid", fgColor="E4DCCB")
NEEDED_HEAD = PatternFill("solid", fgColor="C9D8CC")


def head_of(columns: Iterable[Column]) -> list[str]:
    return [column.head for column in columns]


def example_rows(sheet: Sheet, columns: Sequence[Column]) -> Iterator[list[str]]:
    """Rows that show how it is done; they are passed over when the sheet comes back."""
    for example in sheet.examples:
        yield [str(example.get(column.name, "")) for column in columns]


def book_rows(sheet: Sheet, columns: Sequence[Column]) -> Iterator[list[Any]]:
    """What the book holds, a row for each thing and for each further part of it."""
    names: Names = {}
    for thing in sheet.rows():
        form, parts = sheet.form_of(thing), sheet.parts_of(thing)
        yield _cells(columns, names, form, parts[0] if parts else None)
        for part in parts[1:]:
            yield _cells(columns, names, None, part)


def _cells(
    columns: Sequence[Column],
    names: Names,
    form: forms.BaseForm | None,
    part: forms.BaseForm | None,
) -> list[Any]:
    cells = []
    for column in columns:
        of, name = (part, column.name.removeprefix(PART)) if column.of_part else (form, column.name)
        cells.append(written(of[name], names) if of and name in of.fields else "")
    return cells


def sheet_csv(sheet: Sheet) -> Iterator[str]:
    """One sheet as CSV, with example rows."""
    columns = sheet.columns()
    yield "\ufeff"  # by this mark spreadsheets know UTF-8
    yield from csv_lines([head_of(columns), *example_rows(sheet, columns)])


def make_workbook(sheets: Sequence[Sheet], *, filled: bool = False) -> bytes:
    """A workbook of some sheets, with example rows or with what the book holds."""
    book = Workbook()
    assert book.active is not None
    book.remove(book.active)
    _read_this_first(book.create_sheet(HELPING[0]), sheets)
    lists = _Lists(book)
    for sheet in sheets:
        _fill(book.create_sheet(str(sheet.title)), sheet, sheets, lists, filled)
    lists.close()
    if len(sheets) == 1:
        book.active = 1
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _read_this_first(page: Worksheet, sheets: Sequence[Sheet]) -> None:
    lines = [
        (_("Sheets to fill in"), ""),
        (_("Fill in those you have; leave the others. A green head needs a value."), ""),
        (_("Rest the pointer on a head: its note says what may stand below."), ""),
        (_("Rows of examples begin with “Example”; they are passed over, you may leave them."), ""),
        (_("Write per cent with its sign (8 %), days as 2026-12-04, lengths and weights with "
           "their unit (12 mm, 2.5 kg)."), ""),
        (_("Nothing is brought in until every cell is right; you see every row first."), ""),
        ("", ""),
        *((str(sheet.title), str(sheet.about)) for sheet in sheets),
    ]  # fmt: skip
    for row in lines:
        page.append(row)
    page["A1"].font = Font(bold=True, size=14)
    page.column_dimensions["A"].width = 30
    page.column_dimensions["B"].width = 90


def _fill(
    page: Worksheet, sheet: Sheet, sheets: Sequence[Sheet], lists: "_Lists", filled: bool
) -> None:
    columns = sheet.columns()
    page.freeze_panes = "B2" if sheet.named else "A2"
    for place, column in enumerate(columns, start=1):
        letter = get_column_letter(place)
        cell = page.cell(1, place, column.head)
        cell.font = Font(bold=True)
        cell.fill = NEEDED_HEAD if column.needed else HEAD
        cell.alignment = Alignment(wrap_text=True, vertical="top")
        cell.comment = _note(sheet, column)
        page.column_dimensions[letter].width = max(14, min(28, len(column.head) + 2))
        if _is_text(column.box):
            # Kept as typed: a telephone number keeps its + and its first 0.
            page.column_dimensions[letter].number_format = "@"
        elif isinstance(column.box, forms.DateField):
            page.column_dimensions[letter].number_format = "yyyy-mm-dd"
        if validation := _validation(column, sheets, lists):
            validation.add(f"{letter}2:{letter}{LISTED_ROWS}")
            page.add_data_validation(validation)
    for row in book_rows(sheet, columns) if filled else example_rows(sheet, columns):
        _write(page, row, example=not filled)


def _is_text(box: forms.Field) -> bool:
    return type(box) in {forms.CharField, forms.EmailField} or isinstance(box, forms.RegexField)


def _write(page: Worksheet, row: Sequence[Any], *, example: bool) -> None:
    number = page.max_row + 1
    for place, value in enumerate(row, start=1):
        if value == "":
            continue
        cell = page.cell(number, place, float(value) if isinstance(value, Decimal) else value)
        if isinstance(value, str):
            cell.data_type = "s"  # whatever it begins with, it is no formula
        if example:
            cell.font = Font(italic=True, color="7A7466")


def _note(sheet: Sheet, column: Column) -> Comment:
    example = next((each[column.name] for each in sheet.examples if column.name in each), "")
    told = [
        _("Needed.") if column.needed else _("May be left empty."),
        column.note,
        capfirst(allowed(column.box)) if not column.refers_to else _("A name, as it stands there."),
        _("Example: %s") % example if example else "",
    ]
    note = Comment("\n".join(line for line in told if line), "Strandwork")
    note.width, note.height = 300, 150
    return note


def _validation(column: Column, sheets: Sequence[Sheet], lists: "_Lists") -> DataValidation | None:
    """The list that opens in a column: fixed words, or the names of another sheet."""
    if not is_list(column.box):
        return None
    other = next((each for each in sheets if each.key == column.refers_to), None)
    if other is not None:
        source = f"{quote_sheetname(str(other.title))}!$A$2:$A${LISTED_ROWS}"
    elif words := list_words(column.box):
        source = lists.add(words)
    else:
        return None
    # A name may be of the book and not of these sheets, so it is only asked about.
    return DataValidation(
        type="list",
        formula1=source,
        allow_blank=True,
        errorStyle="warning" if column.refers_to else "stop",
        showErrorMessage=True,
        errorTitle=column.head[:30],
        error=allowed(column.box)[:220],
    )


class _Lists:
    """The sheet that keeps the words of lists, out of sight; the same words only once."""

    def __init__(self, book: Workbook) -> None:
        self._book = book
        self._at: dict[tuple[str, ...], str] = {}

    def add(self, words: Sequence[str]) -> str:
        """Where the words stand, as a formula names it (without its sign of equality)."""
        key = tuple(words)
        if key not in self._at:
            letter = get_column_letter(len(self._at) + 1)
            self._at[key] = f"{HELPING[1]}!${letter}$1:${letter}${len(words)}"
        return self._at[key]

    def close(self) -> None:
        page = self._book.create_sheet(HELPING[1])
        page.sheet_state = "hidden"
        for place, words in enumerate(self._at, start=1):
            for row, word in enumerate(words, start=1):
                page.cell(row, place, word).data_type = "s"
