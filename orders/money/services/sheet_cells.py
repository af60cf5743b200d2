"""The cells of a spreadsheet somebody chose, read within limits: CSV in UTF-8, or XLSX."""

import csv
import io
import zipfile
from datetime import date, datetime
from itertools import islice
from typing import Any

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from workshop.typed import plain_text

MOST_ROWS, MOST_COLUMNS = 20_000, 60
MOST_BYTES, MOST_UNPACKED = 5_000_000, 12_000_000
# Every word of a workbook's list of words is made into an object, half a second for a megabyte.
WORDS, MOST_WORDS = "xl/sharedStrings.xml", 4_000_000


def cells_of(name: str, data: bytes) -> list[list[Any]]:
    """Row by row, the head first; raises ValidationError for what is no sheet or too large."""
    if len(data) > MOST_BYTES:
        raise ValidationError(_("The file is larger than 5 MB. Split it into smaller sheets."))
    return _xlsx_cells(data) if name.lower().endswith(".xlsx") else _csv_cells(data)


def said(cell: Any) -> str:
    """A cell as it would be typed; a day as 2026-12-04, a number without its machine tail."""
    if cell is None:
        return ""
    if isinstance(cell, float):
        return f"{cell:.6f}".rstrip("0").rstrip(".")
    if isinstance(cell, (date, datetime)):
        return cell.isoformat()[:10]
    text = plain_text(str(cell)).strip()
    # A sheet of our own disarms a risky beginning with an apostrophe.
    return text[1:] if text[:1] == "'" else text


def _csv_cells(data: bytes) -> list[list[Any]]:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise ValidationError(
            _("The file is not written in UTF-8. Save it as “CSV UTF-8” and choose it again.")
        ) from error
    if "\0" in text:
        raise ValidationError(_("The file holds signs that no text has. Save it as CSV anew."))
    first = text.split("\n", 1)[0]
    delimiter = max(";,\t", key=first.count)
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    try:
        return [row[:MOST_COLUMNS] for row in islice(rows, MOST_ROWS + 2)]
    except csv.Error as error:
        raise ValidationError(
            _("The file cannot be read as CSV; near row %(row)d a quotation mark is left open.")
            % {"row": rows.line_num}
        ) from error


def _xlsx_cells(data: bytes) -> list[list[Any]]:
    from openpyxl import load_workbook

    try:
        # A few megabytes can unpack to gigabytes; the archive says so before it is opened.
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            sizes = {part.filename: part.file_size for part in archive.infolist()}
        if sum(sizes.values()) > MOST_UNPACKED or sizes.get(WORDS, 0) > MOST_WORDS:
            raise ValidationError(
                _(
                    "The workbook unpacks to more than 12 MB. Keep only the sheet to bring in, "
                    "or save it as CSV."
                )
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
