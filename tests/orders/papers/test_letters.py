"""Names in many scripts are printed in their own letters, or the person is told which are missing.

A letter without a shape (.notdef) is forbidden by ISO 19005-3, 6.2.11.8; Pango says of which there
is none, and printing refuses them.
"""

import io
import os
import subprocess
import sys
import unicodedata
from unittest import mock

import pypdf
import pytest
from django.urls import reverse

from orders.models import DocumentFile
from orders.money.services.papers import issue_invoice
from orders.papers import press
from orders.papers.letters import packages_for, scripts_of
from orders.papers.press import LettersMissing, to_pdf
from tests.builders import make_business, make_person
from tests.orders.money.setting import order_of, trader
from workshop import machine
from workshop.management.commands.doctor import look_at_printing

NAMES = {
    "Greek": "Ελένη Παπαδοπούλου",
    "Cyrillic": "Жанна Щукина",
    "Arabic": "فاطمة الزهراء",
    "Hebrew": "אסתר לוי",
    "Ethiopic": "አበበ በቀለ",
    "Devanagari": "आशा शर्मा",
    "Han": "王小明",
}
OWN = {"Greek", "Cyrillic"}  # in the workshop's own font


@pytest.mark.papers
@pytest.mark.parametrize("script", NAMES)
def test_a_name_is_printed_in_its_own_letters(script):
    if script not in OWN and script in machine.scripts_without_a_font():
        pytest.skip(f"no font for {script}: {machine.SCRIPTS[script][1]}")
    pdf = to_pdf(f"<html><head><title>x</title></head><body><p>{NAMES[script]}</p></body></html>")
    words = pypdf.PdfReader(io.BytesIO(pdf)).pages[0].extract_text()
    # Letters that are joined or turn round come out of a page in another order.
    assert {letter for letter in words if unicodedata.category(letter)[0] in "LM"} == set(
        NAMES[script].replace(" ", "")
    )


@pytest.fixture
def letters_missing():
    """A machine without fonts for Ethiopic: the library says so of each such letter."""
    plain = press._press

    def hears(*args):
        press._letters.missing.update("አበ")
        return plain(*args)

    with mock.patch.object(press, "_press", side_effect=hears):
        yield


@pytest.mark.django_db
@pytest.mark.papers
def test_a_paper_with_missing_letters_is_not_kept_and_the_person_is_told(client, letters_missing):
    make_business()
    paper = issue_invoice(order_of((1, "2"), customer=trader("Marisa Orlo")), person=None)
    client.force_login(make_person("counter"))
    url = reverse("orders:paper_pdf", args=[paper.pk])
    answer = client.get(url)
    words = answer.content.decode()
    assert answer.status_code == 503
    assert "No font" in words and "Ethiopic" in words and "fonts-noto-core" in words
    assert "?boxes=1" in words
    assert client.get(url, {"boxes": "1"})["Content-Type"] == "application/pdf"
    assert not DocumentFile.objects.exists()


def test_the_sentence_names_the_script_and_the_package():
    assert scripts_of("አበ水") == ["Ethiopic", "Han"]
    assert packages_for("አ水") == ["fonts-noto-cjk", "fonts-noto-core"]
    assert "fonts-noto-core" in str(LettersMissing("አ"))


BARE = """
import django, sys
django.setup()
from orders.papers.press import LettersMissing, to_pdf
from workshop.machine import scripts_without_a_font
print(sorted(scripts_without_a_font()))
try:
    to_pdf("<html><body>Żółć Жук \u12a0\u1260 \u6c34</body></html>")
except LettersMissing as missing:
    print(missing.letters)
"""


@pytest.mark.papers
def test_on_a_machine_without_fonts_each_missing_letter_is_noticed(tmp_path):
    (tmp_path / "none").mkdir()
    fonts = tmp_path / "fonts.conf"
    fonts.write_text(
        f"<fontconfig><dir>{tmp_path}/none</dir><cachedir>{tmp_path}</cachedir></fontconfig>"
    )
    done = subprocess.run(
        [sys.executable, "-c", BARE],
        capture_output=True,
        text=True,
        env={**os.environ, "FONTCONFIG_FILE": str(fonts), "PYTHONIOENCODING": "utf-8"},
        timeout=60,
    )
    assert done.stdout.splitlines() == [str(sorted(machine.SCRIPTS)), "['በ', 'አ', '水']"]


def test_the_doctor_says_which_scripts_have_no_font():
    with mock.patch(
        "workshop.management.commands.doctor.scripts_without_a_font",
        return_value={"Ethiopic": "fonts-noto-core"},
    ):
        said = " ".join(found.sentence for found in look_at_printing())
    assert "Ethiopic" in said
    assert "apt-get install -y --no-install-recommends fonts-noto-core" in said
