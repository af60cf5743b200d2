"""A workbook filled in as its owner would, by heads as they stand in it, and chosen on the page."""

import io
from collections.abc import Iterable, Mapping
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from openpyxl import Workbook, load_workbook

PAGE = "/moving-in/"


def fetched(client, name: str = "workshop") -> Workbook:
    """The workbook to fill in, as it comes from the page."""
    return load_workbook(io.BytesIO(client.get(f"{PAGE}{name}.xlsx").content))


def heads(book: Workbook, title: str) -> dict[str, int]:
    """Where each head of a sheet stands; the first column is 1."""
    return {cell.value: cell.column for cell in book[title][1] if cell.value}


def fill(book: Workbook, title: str, rows: Iterable[Mapping[str, Any]]) -> None:
    """Rows written below what stands in a sheet, each by its heads."""
    page, places = book[title], heads(book, title)
    for row in rows:
        number = page.max_row + 1
        for head, value in row.items():
            page.cell(number, places[head], value)


def as_file(book: Workbook) -> bytes:
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def look_at(client, data: bytes | str | Workbook, name: str = "moving-in.xlsx", kind: str = ""):
    """Choose a file on the page."""
    if isinstance(data, Workbook):
        data = as_file(data)
    content = data.encode() if isinstance(data, str) else data
    sheet = SimpleUploadedFile(name, content)
    return client.post(PAGE, {"kind": kind or "any", "sheet": sheet, "try": "1"})


def bring(client, data: bytes | str | Workbook, name: str = "moving-in.xlsx", kind: str = ""):
    """Look at a file and, if it is clean, bring in what was kept of it."""
    looked = look_at(client, data, name, kind)
    return client.post(PAGE, {"bring": "1"}) if looked.status_code == 302 else looked


def bad_cells(answer) -> dict[str, str]:
    """What is wrong on a page that came back, by the address of the cell."""
    return {cell.address: cell.sentence for cell in answer.context["bad"]}
