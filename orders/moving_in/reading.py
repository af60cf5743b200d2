"""A file's sheets as rows of the kinds that are known; nothing is written and nothing asked of the
book but what its forms look like."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from orders.moving_in.cells import Chosen, Row, Table, address
from orders.moving_in.sheet import Column, Sheet
from orders.moving_in.sheets import BY_KEY, EXAMPLE_NAMES, SHEETS
from orders.moving_in.words import plain

# Sheets of our own workbook that only help to fill in the others.
HELPING = ("Read this first", "Lists")


@dataclass(frozen=True)
class Entry:
    """One thing of a sheet: the row it begins in, and the rows of its parts."""

    row: Row
    parts: tuple[Row, ...] = ()

    @property
    def rows(self) -> tuple[Row, ...]:
        return (self.row, *(part for part in self.parts if part is not self.row))


@dataclass(frozen=True)
class ReadSheet:
    """One sheet of the file, its kind known: where each column stands, and its things."""

    sheet: Sheet
    title: str
    columns: Mapping[int, Column]
    entries: tuple[Entry, ...]
    passed_over: int = 0  # rows of our own examples
    unknown_heads: tuple[str, ...] = ()

    def column_of(self, name: str) -> int | None:
        """Where a box's column stands, from 0."""
        return next((place for place, col in self.columns.items() if col.name == name), None)

    def address(self, name: str, row: int) -> str:
        """The cell of a box, or the row where the box has no column."""
        place = self.column_of(name)
        return address(self.title, place, row) if place is not None else f"{self.title}!{row}"

    def told(self, row: Row) -> dict[str, str]:
        """Text by box, of the cells in which something stands."""
        return {
            column.name: row.cells[place]
            for place, column in self.columns.items()
            if place < len(row.cells) and row.cells[place]
        }


@dataclass(frozen=True)
class ReadFile:
    """Everything of a file that can be brought in, in the order in which it is."""

    name: str
    sheets: tuple[ReadSheet, ...]
    not_read: tuple[str, ...] = ()
    decimal_comma: bool = False

    @property
    def count(self) -> int:
        """How many rows there are to bring in."""
        return sum(len(entry.rows) for sheet in self.sheets for entry in sheet.entries)


@dataclass
class _Found:
    """A sheet whose columns are being told apart."""

    columns: dict[int, Column] = field(default_factory=dict)
    unknown: list[str] = field(default_factory=list)


def read(chosen: Chosen, kind: str = "") -> ReadFile:
    """Tell what each sheet holds; raises ValidationError where it cannot be told."""
    read_sheets, not_read = [], []
    for table in chosen.tables:
        if table.title in HELPING or not any(table.head):
            continue
        sheet = _kind_of(table, kind, only=len(chosen.tables) == 1 or not chosen.is_workbook)
        if sheet is None:
            not_read.append(table.title)
        else:
            title = table.title if chosen.is_workbook else str(sheet.title)
            read_sheets.append(_read_sheet(sheet, title, table))
    if not read_sheets:
        raise ValidationError(
            _(
                "It cannot be told what the sheet holds. Choose it from the list, or name the "
                "columns in the first row as the sheets to fill in do."
            )
        )
    if not any(sheet.entries or sheet.passed_over for sheet in read_sheets):
        raise ValidationError(_("The sheet has no rows below its head. Add the rows to bring in."))
    order = list(BY_KEY)
    read_sheets.sort(key=lambda each: order.index(each.sheet.key))
    return ReadFile(chosen.name, tuple(read_sheets), tuple(not_read), chosen.decimal_comma)


def _kind_of(table: Table, kind: str, *, only: bool) -> Sheet | None:
    """By the word of whoever chose it, the sheet's name, or the heads of its columns."""
    if kind and only:
        return BY_KEY[kind]
    named = {plain(name): sheet for sheet in SHEETS for name in (sheet.key, sheet.title)}
    if plain(table.title) in named:
        return named[plain(table.title)]
    heads = {plain(head) for head in table.head if head}
    fits = {sheet.key: _fit(sheet, heads) for sheet in SHEETS}
    best = max(fits.values())
    likely = [key for key, fit in fits.items() if fit == best]
    return BY_KEY[likely[0]] if best and len(likely) == 1 else None


def _fit(sheet: Sheet, heads: set[str]) -> int:
    """How many heads a kind knows, if it misses none that it needs."""
    columns = sheet.columns()
    known = set().union(*(column.names() for column in columns))
    missing = [each for each in columns if each.needed and not each.names() & heads]
    return 0 if missing else len(heads & known)


def _read_sheet(sheet: Sheet, title: str, table: Table) -> ReadSheet:
    found = _columns(sheet, title, table)
    taken, passed_over = [], 0
    for entry in _entries(sheet, found.columns, table):
        if any(_is_example(row) for row in entry.rows):
            passed_over += len(entry.rows)
        else:
            taken.append(entry)
    return ReadSheet(sheet, title, found.columns, tuple(taken), passed_over, tuple(found.unknown))


def _columns(sheet: Sheet, title: str, table: Table) -> _Found:
    columns, found = sheet.columns(), _Found()
    for place, head in enumerate(table.head):
        column = next((each for each in columns if plain(head) in each.names()), None)
        if column is None or column in found.columns.values():
            if head:
                found.unknown.append(f"{address(title, place, 1)} “{head}”")
            continue
        found.columns[place] = column
    there = {column.name for column in found.columns.values()}
    missing = [each.head for each in columns if each.needed and each.name not in there]
    if missing:
        raise ValidationError(
            _(
                "%(sheet)s: the first row must name the columns. Missing: %(missing)s. "
                "Known columns are: %(known)s."
            )
            % {
                "sheet": title,
                "missing": ", ".join(missing),
                "known": ", ".join(each.head for each in columns),
            }
        )
    return found


def _is_example(row: Row) -> bool:
    return any(plain(cell) in EXAMPLE_NAMES for cell in row.cells)


def _entries(sheet: Sheet, columns: Mapping[int, Column], table: Table) -> Iterator[Entry]:
    """Rows as things; where a thing has parts, rows without a name, or with the same, belong on."""
    if not any(column.of_part for column in columns.values()):
        yield from (Entry(row) for row in table.rows)
        return
    name_at = next(place for place, column in columns.items() if column.name == sheet.named)
    first: Row | None = None
    parts: list[Row] = []
    for row in table.rows:
        name = row.cells[name_at] if name_at < len(row.cells) else ""
        if first is not None and plain(name) in {"", plain(first.cells[name_at])}:
            parts.append(row)
            continue
        if first is not None:
            yield Entry(first, tuple(parts))
        first, parts = row, [row]
    if first is not None:
        yield Entry(first, tuple(parts))
