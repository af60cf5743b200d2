"""The cells of a file somebody chose, read within limits: CSV in UTF-8, or an XLSX workbook.

What comes out is text as a person would have typed it, sheet by sheet, and a sentence for every
cell of which that cannot be said. Nothing here knows what the cells mean.
"""

import csv
import io
import re
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time
from decimal import Decimal
from itertools import islice
from pathlib import PurePath
from typing import Any

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from workshop.csv_export import RISKY
from workshop.physics.sentences import without_zeros
from workshop.typed import plain_text

MOST_ROWS, MOST_COLUMNS, MOST_SHEETS = 3_000, 60, 60
# Rows that a spreadsheet keeps though nothing stands in them are looked through only so far.
MOST_LOOKED_THROUGH = 60_000
MOST_BYTES, MOST_UNPACKED = 5_000_000, 12_000_000
# Every word of a workbook's list of words is made into an object, half a second for a megabyte.
WORDS, MOST_WORDS = "xl/sharedStrings.xml", 4_000_000
LONGEST_CELL = 5_000
# Tab and line ends belong into text; no other control character does (Unicode, C0 and C1).
DECIMAL_COMMA = re.compile(r"-?\d+,(\d{1,2}|\d{4,})\s*%?")


@dataclass(frozen=True)
class Row:
    """One row with its number in the sheet; `faults` says by column what cannot be read."""

    number: int
    cells: tuple[str, ...]
    faults: dict[int, str] = field(default_factory=dict)

    def __bool__(self) -> bool:
        return bool(self.faults) or any(self.cells)


@dataclass(frozen=True)
class Table:
    """One sheet: its title, its first row, and the rows below in which something stands."""

    title: str
    head: tuple[str, ...]
    rows: tuple[Row, ...]


@dataclass(frozen=True)
class Chosen:
    """A file as it was chosen: its sheets, and whether its numbers have a decimal comma."""

    name: str
    tables: tuple[Table, ...]
    is_workbook: bool
    decimal_comma: bool = False


def address(title: str, column: int, row: int) -> str:
    """Where a cell stands, as a spreadsheet writes it; the first column is 0.

    >>> address("Beads", 2, 7)
    'Beads!C7'
    """
    from openpyxl.utils import get_column_letter

    return f"{title}!{get_column_letter(column + 1)}{row}"


def read_file(name: str, data: bytes) -> Chosen:
    """Every sheet of a file; raises ValidationError for what is no sheet or too large."""
    if len(data) > MOST_BYTES:
        raise ValidationError(_("The file is larger than 5 MB. Split it into smaller sheets."))
    is_workbook = name.lower().endswith(".xlsx")
    tables = tuple(_workbook(data) if is_workbook else [_csv(name, data)])
    if sum(len(table.rows) for table in tables) > MOST_ROWS:
        raise ValidationError(
            _("The file has more than 3,000 rows. Split it, and bring the parts in one by one.")
        )
    semicolons = not is_workbook and _delimiter(data.decode("utf-8-sig")) == ";"
    return Chosen(name, tables, is_workbook, semicolons or _has_decimal_comma(tables))


def _has_decimal_comma(tables: Iterable[Table]) -> bool:
    """Whether any figure can only have been written with a decimal comma, such as 12,5."""
    return any(
        DECIMAL_COMMA.fullmatch(cell)
        for table in tables
        for row in table.rows
        for cell in row.cells
    )


def _table(title: str, rows: Iterable[Sequence[tuple[str, str]]]) -> Table:
    """A table of rows of (text, fault); empty rows are left out and keep their number."""
    told = [
        Row(
            number,
            tuple(text for text, _fault in row),
            {column: fault for column, (_text, fault) in enumerate(row) if fault},
        )
        for number, row in enumerate(rows, start=1)
    ]
    head = told[0].cells if told else ()
    return Table(title, head, tuple(row for row in told[1:] if row))


def _judged(text: str) -> tuple[str, str]:
    text = text.strip()
    # A sheet of our own disarms a risky beginning with an apostrophe.
    if text[:1] == "'" and text[1:].lstrip(" ").startswith(RISKY):
        text = text[1:]
    if (plain := plain_text(text)) != text:
        return plain, _("There is a sign in it that no text has; type it anew.")
    if len(text) > LONGEST_CELL:
        return text[:60] + "…", _("This is longer than any box; shorten it.")
    return text, ""


def _delimiter(text: str) -> str:
    return max(",;\t", key=text.split("\n", 1)[0].count)


def _csv(name: str, data: bytes) -> Table:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise ValidationError(
            _("The file is not written in UTF-8. Save it as “CSV UTF-8” and choose it again.")
        ) from error
    if "\0" in text:
        raise ValidationError(_("The file holds signs that no text has. Save it as CSV anew."))
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=_delimiter(text), strict=True)
    try:
        read = [
            [_judged(cell) for cell in row[:MOST_COLUMNS]]
            for row in islice(rows, MOST_LOOKED_THROUGH)
        ]
    except csv.Error as error:
        raise ValidationError(
            _("The file cannot be read as CSV; near row %(row)d a quotation mark is left open.")
            % {"row": rows.line_num}
        ) from error
    return _table(PurePath(name).stem, read)


def _workbook(data: bytes) -> list[Table]:
    from openpyxl import load_workbook

    try:
        # A few megabytes can unpack to gigabytes; the archive says so before it is opened.
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            sizes = {part.filename: part.file_size for part in archive.infolist()}
        if sum(sizes.values()) > MOST_UNPACKED or sizes.get(WORDS, 0) > MOST_WORDS:
            raise ValidationError(
                _(
                    "The workbook unpacks to more than 12 MB. Keep only the sheets to bring in, "
                    "or save them as CSV."
                )
            )
        book = load_workbook(io.BytesIO(data), read_only=True)
        worked_out = _WorkedOut(data)
        return [
            _table(sheet.title, _sheet_cells(sheet, number, worked_out))
            for number, sheet in enumerate(book.worksheets[:MOST_SHEETS])
        ]
    except ValidationError:
        raise
    except Exception as error:
        raise ValidationError(
            _("The file cannot be read as a workbook. Save it as XLSX or CSV and choose it again.")
        ) from error


def _rows_of(sheet: Any) -> Iterator[Any]:
    # A sheet may say that it is a million rows high; what stands in it decides.
    sheet.reset_dimensions()
    return islice(sheet.iter_rows(max_col=MOST_COLUMNS), MOST_LOOKED_THROUGH)


class _WorkedOut:
    """What formulas came to, where a spreadsheet ever worked them out; read when asked for."""

    def __init__(self, data: bytes) -> None:
        self._data = data
        self._values: dict[int, dict[tuple[int, int], Any]] = {}
        self._book: Any = None

    def value(self, sheet: int, row: int, column: int) -> Any:
        from openpyxl import load_workbook

        self._book = self._book or load_workbook(
            io.BytesIO(self._data), read_only=True, data_only=True
        )
        if sheet not in self._values:
            self._values[sheet] = {
                (down, across): cell.value
                for down, cells in enumerate(_rows_of(self._book.worksheets[sheet]))
                for across, cell in enumerate(cells)
                if cell.value is not None
            }
        return self._values[sheet].get((row, column))


def _sheet_cells(
    sheet: Any, number: int, worked_out: _WorkedOut
) -> Iterator[list[tuple[str, str]]]:
    for down, cells in enumerate(_rows_of(sheet)):
        yield [
            _cell(cell, worked_out.value(number, down, across))
            if cell.data_type == "f"
            else _cell(cell, cell.value)
            for across, cell in enumerate(cells)
        ]


def _cell(cell: Any, value: Any) -> tuple[str, str]:
    """The text of a cell that holds a value or came to one, and what is wrong with it."""
    if cell.data_type == "f" and value is None:
        return str(cell.value), _("There is a formula in it; copy it and paste its value.")
    if value is None:
        return "", ""
    if cell.data_type == "e":
        return str(value), _("The spreadsheet shows an error here; write the value itself.")
    return _judged(said(value, per_cent="%" in str(cell.number_format or "")))


def said(value: Any, *, per_cent: bool = False) -> str:
    """A value as it would be typed: a day as 2026-12-04, a number without its machine tail.

    >>> said(0.1 + 0.2), said(0.0825, per_cent=True), said(True), said(date(2026, 12, 4))
    ('0.3', '8.25 %', 'yes', '2026-12-04')
    """
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if isinstance(value, (int, float)):
        number = Decimal(str(value)) * (100 if per_cent else 1)
        text = without_zeros(f"{number:.6f}")
        return f"{text} %" if per_cent else text
    if isinstance(value, (date, datetime)):
        return value.isoformat()[:10]
    if isinstance(value, time):
        return f"{value:%H:%M}"
    return str(value)
