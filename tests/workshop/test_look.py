"""The look keeps its promises: words can be read in both lights, no page has a style inside."""

import re
from pathlib import Path

import pytest
from django.urls import reverse

from tests.builders import make_business, make_person
from workshop.drawing.colours import contrast
from workshop.form_fields import CountField, MassField, MoneyBox, NumberBox, WeighedCountField

ROOT = Path(__file__).resolve().parents[2]
CSS = ROOT / "workshop" / "static" / "workshop" / "css"
TOKENS = (CSS / "tokens.css").read_text()

# WCAG 2.2, 1.4.3 Contrast (Minimum): 4.5:1 for text; 1.4.11 Non-text Contrast: 3:1;
# 1.4.6 Contrast (Enhanced): 7:1 for text.
WORDS_LEAST, EDGES_LEAST, SUNLIT_LEAST = 4.5, 3.0, 7.0


def tokens_of(block: str) -> dict[str, str]:
    return dict(re.findall(r"--([a-z-]+):\s*(#[0-9a-f]{6});", block))


PLAIN, SUNLIT = TOKENS.split("/* in sunlight")
LIGHT = tokens_of(PLAIN.split("@media")[0])
DARK = LIGHT | tokens_of(PLAIN.split("@media")[1])
SUN = LIGHT | tokens_of(SUNLIT.split("@media")[0])
LIGHTS = {
    "light": (LIGHT, WORDS_LEAST),
    "dark": (DARK, WORDS_LEAST),
    "sunlit": (SUN, SUNLIT_LEAST),
    "sunlit, dark": (DARK | tokens_of(SUNLIT), SUNLIT_LEAST),
}


def pairs(kind: str) -> list[tuple[str, str]]:
    return re.findall(rf"{kind}: ([a-z-]+) ([a-z-]+)", TOKENS)


def test_both_lights_are_chosen_and_every_kind_of_word_is_listed():
    assert DARK["paper"] != LIGHT["paper"]
    grounds = {"paper", "sheet", "wash"}
    inks = {"ink", "soft", "green", "amber", "cobalt", "clear", "ember"}
    assert {(ink, ground) for ink in inks for ground in grounds} <= set(pairs("pair"))
    fills = {"act", "act-deep", "kiln", "hot", "now"}
    assert fills <= {ground for _, ground in pairs("pair")}


@pytest.mark.parametrize("light", LIGHTS)
@pytest.mark.parametrize("pair", pairs("pair"), ids=" on ".join)
def test_words_can_be_read(pair, light):
    chosen, least = LIGHTS[light]
    ink, ground = pair
    assert contrast(chosen[ink], chosen[ground]) >= least


@pytest.mark.parametrize("light", LIGHTS)
@pytest.mark.parametrize("pair", pairs("edge"), ids=" on ".join)
def test_boxes_can_be_told_from_their_ground(pair, light):
    chosen, _words_least = LIGHTS[light]
    line, ground = pair
    assert contrast(chosen[line], chosen[ground]) >= EDGES_LEAST


@pytest.mark.django_db
def test_pages_of_yard_kiln_and_bench_are_in_sunlight_and_those_of_money_are_not(client):
    make_business()
    client.force_login(make_person("owner"))
    for page, lit in {
        "stock:sack_log": True, "orders:firing": True, "orders:bench": True, "orders:money": False
    }.items():  # fmt: skip
        opening = client.get(reverse(page)).content.decode().split("<head>")[0]
        assert ('class="sunlit"' in opening) is lit, page


def test_every_colour_a_stylesheet_uses_is_a_token():
    for sheet in CSS.glob("*.css"):
        used = set(re.findall(r"var\(--([a-z0-9-]+)", sheet.read_text()))
        made = set(re.findall(r"--([a-z0-9-]+):", TOKENS + sheet.read_text()))
        assert used <= made, f"{sheet.name} uses {used - made}"
        if sheet.name not in {"tokens.css", "print.css"}:
            assert not re.search(r"#[0-9a-fA-F]{3,6}\b", sheet.read_text()), sheet.name


def test_every_stylesheet_and_script_is_in_what_all_pages_load():
    from workshop.bundles import SCRIPTS, STYLES

    assert sorted(STYLES) == sorted(sheet.stem for sheet in CSS.glob("*.css"))
    assert sorted(SCRIPTS) == sorted(script.stem for script in (CSS.parent / "js").glob("*.js"))
    for page in (ROOT / "templates").rglob("*.html"):
        assert not re.search(r"workshop/(css|js)/", page.read_text()), page.name


@pytest.mark.parametrize(
    "template", sorted((ROOT / "templates").rglob("*.html")), ids=lambda path: path.name
)
def test_no_template_carries_an_inline_style_or_script(template):
    text = template.read_text()
    assert not re.search(r"\sstyle=", text)
    assert "<style" not in text
    assert not re.search(r"\son[a-z]+=", text)
    assert all("src=" in opening for opening in re.findall(r"<script[^>]*>", text))
    # Django prints a comment of this kind when it runs over the end of its line.
    assert all("#}" in line for line in text.splitlines() if "{#" in line)


def test_every_file_the_made_stylesheet_names_is_there():
    from django.contrib.staticfiles import finders

    from workshop.bundles import address_of

    sheet = Path(finders.find(address_of("style"))).read_text()
    files = re.findall(r'url\("([^"]+)"\)', sheet)
    assert len(files) == 8, "four faces, cut and whole"
    for name in files:
        at = name.removeprefix("../") if name.startswith("../") else f"made/{name}"
        assert finders.find(at), name


def test_a_cell_with_nothing_in_it_is_empty_however_the_template_is_laid_out():
    """Stacked on a telephone, an empty cell is left out by `td:empty`, its label too."""
    from django.template.loader import get_template

    assert re.search(
        r"<td\b[^>]*>\s+\{% if row", (ROOT / "templates/orders/money/room.html").read_text()
    )
    read = get_template("orders/money/room.html").template.source
    assert "{% if row.free %}" in read
    assert not re.search(r"<td\b[^>]*>\s", read) and not re.search(r"\s</td>", read)


@pytest.mark.parametrize("kind", [CountField, WeighedCountField, MassField, MoneyBox, NumberBox])
def test_a_number_opens_the_number_pad_of_a_phone(kind):
    assert kind().widget.attrs["inputmode"] in {"numeric", "decimal"}
