"""Each test that the page of threats names is there, and every chapter is spoken of."""

import re
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
PAGE = (ROOT / "workshop" / "threats.md").read_text(encoding="utf-8")


def test_every_test_the_page_names_is_there():
    there = {
        name
        for file in (ROOT / "tests").rglob("test_*.py")
        for name in re.findall(r"^def (test_\w+)", file.read_text(encoding="utf-8"), re.MULTILINE)
    }
    named = set(re.findall(r"`(test_\w+)`", PAGE))
    assert len(named) > 30
    assert named <= there, named - there


def test_every_chapter_of_the_standard_has_its_row_and_each_row_its_test():
    """ASVS 5.0.0 has seventeen chapters; two speak of what is not used here."""
    rows = [line for line in PAGE.splitlines() if line.startswith("| V")]
    chapters = {int(n) for row in rows for n in re.findall(r"V(\d+) ", row.split("|")[1])}
    assert chapters == set(range(1, 18))
    for row in rows:
        assert "`test_" in row or "V10" in row, row
