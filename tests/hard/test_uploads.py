"""Whatever is sent in place of a spreadsheet: an answer in time, nothing brought in, nothing read.

V5.2.1 size, V5.2.2 type by content, V5.2.3 archives that unpack to a flood, V1.5.1 XML parsers
(OWASP's Application Security Verification Standard 5.0.0).
"""

import io
import time
import zipfile
from collections.abc import Callable

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook

from orders.models import Customer
from tests.hard.world import signed_in

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("world"),
              pytest.mark.xdist_group("fuzz")]  # fmt: skip
# Of the processor, so that it holds on a busy machine too.
LONGEST_S = 5.0
MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
SHEET, STRINGS = "xl/worksheets/sheet1.xml", "xl/sharedStrings.xml"
MARKUP = "<script>fuzz()</script>"
KINDS = ("customers", "prices", "balances")


def workbook(*rows: list) -> bytes:
    book, said = Workbook(), io.BytesIO()
    for row in rows:
        book.active.append(row)
    book.save(said)
    return said.getvalue()


def changed(data: bytes, **parts: str | bytes) -> bytes:
    """The same workbook with some of its parts written otherwise."""
    told = {name.replace("__", "/") + ".xml": text for name, text in parts.items()}
    said = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(data)) as old,
        zipfile.ZipFile(said, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for name in old.namelist():
            new.writestr(name, told.pop(name, None) or old.read(name))
        for name, text in told.items():
            new.writestr(name, text)
    return said.getvalue()


def sheet_of(rows: str, head: str = "") -> str:
    return f'{head}<worksheet xmlns="{MAIN}"><sheetData>{rows}</sheetData></worksheet>'


NAMES = workbook(["name"], ["Marisa Orlo"], [f"Somebody {MARKUP}"])
CELL = '<c r="A{n}" t="inlineStr"><is><t>{text}</t></is></c>'
ROWS = '<row r="1">' + CELL.format(n=1, text="name") + '</row><row r="2">{more}</row>'
XXE = '<!DOCTYPE x [<!ENTITY it SYSTEM "{where}">]>'
LAUGHS = "<!DOCTYPE x [<!ENTITY a0 'ha'>" + "".join(
    f"<!ENTITY a{n} '{f'&a{n - 1};' * 10}'>" for n in range(1, 10)
) + "]>"  # fmt: skip


def many_parts() -> bytes:
    said = io.BytesIO()
    with zipfile.ZipFile(said, "w") as archive:
        for number in range(30_000):
            archive.writestr(f"xl/{number}", b"")
    return said.getvalue()


def flood() -> bytes:
    """As many words as are just let through, packed into a few kilobytes."""
    book = workbook(["name"], ["Marisa Orlo"])
    strings = f'<sst xmlns="{MAIN}">' + "<si><t>name</t></si>" * 190_000 + "</sst>"
    with zipfile.ZipFile(io.BytesIO(book)) as old:
        types = old.read("[Content_Types].xml").decode()
    override = (
        '<Override PartName="/xl/sharedStrings.xml" ContentType="application/vnd.openxmlformats-'
        'officedocument.spreadsheetml.sharedStrings+xml"/></Types>'
    )
    if "sharedStrings" not in types:
        types = types.replace("</Types>", override)
    return changed(book, **{"[Content_Types]": types, "xl__sharedStrings": strings})


def evil() -> dict[str, tuple[str, bytes | Callable[[], bytes]]]:
    """By what it is: a name, and the bytes, or how they are made where that takes a while."""
    far = '<row r="1">{0}</row><row r="1048576">{0}</row>'.format(CELL.format(n=1, text="name"))
    return {
        "nothing": ("a.csv", b""),
        "nothing in a workbook": ("a.xlsx", workbook()),
        "a picture": ("a.xlsx", b"\x89PNG\r\n\x1a\n" + bytes(2000)),
        "a page": ("a.csv", f"<html>{MARKUP}</html>".encode()),
        "a drawing": ("a.xlsx", f"<svg>{MARKUP}</svg>".encode()),
        "a paper": ("a.xlsx", b"%PDF-1.7 \n%%EOF"),
        "a workbook called a text": ("a.csv", NAMES),
        "a text called a workbook": ("a.xlsx", b"name\nMarisa"),
        "an archive of something else": ("a.xlsx", many_parts),
        "UTF-16": ("a.csv", "name\nMarisa".encode("utf-16")),
        "nothing but nothing": ("a.csv", bytes(100_000)),
        "a cell of four megabytes": ("a.csv", b"name\n" + b"x" * 4_000_000),
        "an open quote": ("a.csv", b'name\n"' + b"x\n" * 1_000_000),
        "one head of a million columns": ("a.csv", b"name" + b"," * 1_000_000 + b"\nMarisa"),
        "four million empty rows": ("a.csv", b"name\n" + b"\n" * 4_000_000),
        "too large": ("a.csv", b"name\n" + b"Marisa\n" * 1_000_000),
        "a flood": ("a.xlsx", flood),
        "a cut": ("a.xlsx", NAMES[: len(NAMES) // 2]),
        "a file of this machine": (
            "a.xlsx",
            changed(
                NAMES,
                xl__worksheets__sheet1=sheet_of(
                    ROWS.format(more=CELL.format(n=2, text="&it;")),
                    XXE.format(where="file:///etc/hostname"),
                ),
            ),
        ),
        "a billion laughs": (
            "a.xlsx",
            changed(
                NAMES,
                xl__worksheets__sheet1=sheet_of(
                    ROWS.format(more=CELL.format(n=2, text="&a9;")), LAUGHS
                ),
            ),
        ),
        "the last row of all": ("a.xlsx", changed(NAMES, xl__worksheets__sheet1=sheet_of(far))),
        "deep brackets": (
            "a.xlsx", changed(NAMES, xl__worksheets__sheet1="<a>" * 100_000 + "</a>" * 100_000),
        ),
    }  # fmt: skip


EVIL = evil()


# Of a million columns only the first ones are looked at; what they say is right.
CLEAN = {"one head of a million columns"}


@pytest.mark.parametrize("what", EVIL)
def test_what_is_no_sheet_is_answered_with_a_sentence_in_time(world, what):
    name, made = EVIL[what]
    data = made() if callable(made) else made
    client, people = signed_in("owner"), Customer.objects.count()
    began = time.process_time()
    answer = client.post(
        reverse("orders:moving_in"),
        {"kind": "customers", "sheet": SimpleUploadedFile(name, data), "try": "1"},
    )
    took_s = time.process_time() - began
    text = answer.content.decode()
    expected = {302} if what in CLEAN else {400, 413, 422}
    assert answer.status_code in expected, what
    assert MARKUP not in text
    assert took_s < LONGEST_S, f"{took_s:.1f} s of the processor"
    assert Customer.objects.count() == people


def test_a_file_of_this_machine_cannot_be_named_in_a_workbook(world, tmp_path):
    """V1.5.1: an entity that points at a file brings nothing of it in, into no page and no row."""
    (tmp_path / "secret.txt").write_text("the secret of this machine")
    data = changed(
        NAMES,
        xl__worksheets__sheet1=sheet_of(
            ROWS.format(more=CELL.format(n=2, text="&it;")),
            XXE.format(where=(tmp_path / "secret.txt").as_uri()),
        ),
    )
    client = signed_in("owner")
    sheet = SimpleUploadedFile("a.xlsx", data)
    form = {"kind": "customers", "sheet": sheet, "try": "1"}
    answer = client.post(reverse("orders:moving_in"), form, follow=True)
    assert "the secret" not in answer.content.decode()
    assert not Customer.objects.filter(name__contains="secret").exists()


def test_a_formula_stays_a_name_and_is_harmless_in_the_sheet_that_goes_out(world):
    client = signed_in("owner")
    formula = '=HYPERLINK("http://198.51.100.7")'
    sheet = SimpleUploadedFile("a.csv", f'name\n"{formula.replace(chr(34), chr(34) * 2)}"'.encode())
    path = reverse("orders:moving_in")
    client.post(path, {"kind": "customers", "sheet": sheet, "try": "1"})
    client.post(path, {"bring": "1"})
    for name in Customer.objects.filter(name__contains="HYPERLINK").values_list("name", flat=True):
        out = client.get(reverse("orders:customer_list"), {"as": "csv"})
        text = b"".join(out.streaming_content).decode() if out.streaming else out.content.decode()
        assert name in text.replace('""', '"') and ",=HYPER" not in text and "\n=HYPER" not in text


@settings(max_examples=30)
@given(
    kind=st.sampled_from(KINDS),
    name=st.sampled_from(["a.csv", "a.xlsx", "a", "../../a.csv", "a\r\nX: b.csv", "💎.xlsx"]),
    data=st.one_of(
        st.binary(max_size=400),
        st.text(max_size=300).map(lambda text: text.encode(errors="replace")),
        st.tuples(st.integers(0, len(NAMES) - 1), st.binary(min_size=1, max_size=8)).map(
            lambda at: NAMES[: at[0]] + at[1] + NAMES[at[0] + len(at[1]) :]
        ),
        st.lists(
            st.lists(st.sampled_from(["name", "design", "price", "customer", "amount", "day",
                                      "1e400", "sNaN", "=1+1", "-1", "٣", "\x00", MARKUP, ""]),
                     max_size=6),
            max_size=5,
        ).map(lambda rows: "\n".join(",".join(row) for row in rows).encode()),
    ),
)  # fmt: skip
def test_any_bytes_at_all(world, kind, name, data):
    client = signed_in("owner")
    sheet = SimpleUploadedFile(name, data)
    answer = client.post(reverse("orders:moving_in"), {"kind": kind, "sheet": sheet, "try": "1"})
    assert answer.status_code in {200, 302, 400, 422}, (name, data)
    assert MARKUP not in answer.content.decode()
