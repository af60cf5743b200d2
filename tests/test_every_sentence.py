"""Every word that a person reads goes through gettext: a plain check of templates and code.

What stands in a template outside translate and blocktranslate, and has letters in it, would stay
English whatever the workshop speaks. In code the places are looked at where Django shows a text:
messages, refusals, labels, hints and headings.
"""

import ast
import re
from pathlib import Path

import pytest

PROJECT = Path(__file__).resolve().parent.parent
TEMPLATES = PROJECT / "templates"
# Rooms whose sentences are put into words by their callers, or that speak to the keeper of the
# computer at its own screen.
NOT_SPOKEN = {"migrations", "management", "demo", "physics", "drawing", "costing", "planning"}
SHOWN = {
    "label",
    "help_text",
    "verbose_name",
    "verbose_name_plural",
    "heading",
    "lead",
    "empty",
    "caption",
    "add_label",
    "submit_label",
    "violation_error_message",
}

# Shown in every language alike: units, codes, and marks of the trade's papers.
ALIKE = {
    "kg",
    "g",
    "mm",
    "cm",
    "m",
    "h",
    "min",
    "IBAN",
    "BIC",
    "PDF",
    "CSV",
    "XLSX",
    "kWh",
    "MJ",
    "JSON",
}
READ_ALOUD = ("title", "placeholder", "aria-label", "alt")

BLOCKS = re.compile(r"{%\s*blocktrans(?:late)?\b.*?{%\s*endblocktrans(?:late)?\s*%}", re.S)
LONE = re.compile(r"{%\s*comment.*?{%\s*endcomment\s*%}|{#.*?#}|{%.*?%}|{{.*?}}", re.S)
UNREAD = re.compile(r"<(script|style)\b.*?</\1>|<!--.*?-->|<!doctype[^>]*>", re.S | re.I)
TAG = re.compile(r"<[^>]*>", re.S)
LOOSE_ATTRIBUTE = re.compile(r'[\w-]+="[^"]*"')  # of a template that is put inside a tag
ATTRIBUTE = re.compile(r'\b({})="([^"]*)"'.format("|".join(READ_ALOUD)))
WORD = re.compile(r"[A-Za-z]{2,}")


def untranslated(page: str) -> list[str]:
    """Words of a template that no translator would ever see."""
    text = BLOCKS.sub(" ", page)
    text = UNREAD.sub(" ", LONE.sub(" ", text))
    spoken = [value for _name, value in ATTRIBUTE.findall(text)]
    pieces = [LOOSE_ATTRIBUTE.sub(" ", TAG.sub("\n", text)), *spoken]
    words = [line.strip() for piece in pieces for line in piece.splitlines()]
    return [
        line
        for line in words
        if any(word not in ALIKE for word in WORD.findall(re.sub(r"&\w+;", " ", line)))
    ]


def test_the_check_sees_a_bare_word():
    assert untranslated('<p>Take the order</p><input placeholder="Name">') == [
        "Take the order",
        "Name",
    ]
    assert untranslated('<p>{% translate "Take the order" %} {{ n }} kg</p>') == []


# A page that is shown when nothing of the program runs any more, and a mark.
ALONE = {"error_alone.html"}


@pytest.mark.parametrize(
    "template", sorted(TEMPLATES.rglob("*.html")), ids=lambda path: str(path.relative_to(TEMPLATES))
)
def test_no_sentence_of_a_page_is_out_of_the_translators_reach(template):
    if template.name in ALONE:
        pytest.skip("shown when nothing runs that could translate it")
    assert untranslated(template.read_text(encoding="utf-8")) == []


def bare_sentences(code: str) -> list[str]:
    """Texts that Django would show as they stand in the code."""
    found = []
    for node in ast.walk(ast.parse(code)):
        if isinstance(node, ast.Call):
            shown = [word.value for word in node.keywords if word.arg in SHOWN]
            name = getattr(node.func, "id", getattr(node.func, "attr", ""))
            if name == "ValidationError":
                shown += node.args[:1]
            elif getattr(getattr(node.func, "value", None), "id", "") == "messages":
                shown += node.args[1:2]
        elif isinstance(node, ast.Assign):
            names = {target.id for target in node.targets if isinstance(target, ast.Name)}
            shown = [node.value] if names & SHOWN else []
        else:
            continue
        found += [
            each.value
            for each in shown
            if isinstance(each, ast.Constant)
            and isinstance(each.value, str)
            and WORD.search(each.value)
        ]
    return found


def spoken_code() -> list[Path]:
    return sorted(
        path
        for app in ("workshop", "stock", "orders")
        for path in (PROJECT / app).rglob("*.py")
        if not NOT_SPOKEN & set(path.relative_to(PROJECT).parts)
        and not path.name.startswith("setting_up")
    )


def test_the_check_sees_a_bare_refusal():
    assert bare_sentences('raise ValidationError("Too much glass.")') == ["Too much glass."]
    assert bare_sentences('raise ValidationError(_("Too much glass."))') == []
    assert bare_sentences('name = CharField(label="name")') == ["name"]


def test_no_sentence_of_the_code_is_out_of_the_translators_reach():
    files = spoken_code()
    assert len(files) > 150
    bare = {
        str(path.relative_to(PROJECT)): found
        for path in files
        if (found := bare_sentences(path.read_text(encoding="utf-8")))
    }
    assert bare == {}
