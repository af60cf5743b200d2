"""Nonsense in every box of every form, and in every question of every page.

Forms and boxes are found by walking the URL resolver and reading the pages, so that a new screen is
in at once. FUZZ_EXAMPLES=10000 makes the long run.
"""

import os
import re

import pytest
from django.db import transaction
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from tests.hard.test_asvs_forms import boxes_of
from tests.hard.world import (
    body_of,
    candidates,
    database_hash,
    every_address,
    page_of,
    paths_of,
    signed_in,
)
from workshop.access import ACCESS

# One worker makes what they share, once.
pytestmark = [
    pytest.mark.django_db,
    pytest.mark.usefixtures("world"),
    pytest.mark.xdist_group("fuzz"),
]
EXAMPLES = int(os.environ.get("FUZZ_EXAMPLES", "200"))
MARKUP = "<script>fuzz()</script>"
PHASES = (Phase.explicit, Phase.reuse, Phase.generate, Phase.shrink)
EXPECTED = {200, 302, 400, 404, 405, 409, 422}
# Wrong codes are counted at the telephone's own row.
LOGS = ("django_session", "workshop_act", "otp_totp_totpdevice", "otp_static_staticdevice")
# Making a copy reads and writes files; its own tests try it.
LEFT_OUT = {"workshop:copy_list", "workshop:copy_check", "workshop:sign_out"}
QUERY_NAMES = ("page", "sort", "q", "as", "customer", "order", "again", "design", "find", "on")
QUERY_NAMES += ("to", "from", "day", "state", "kind", "number", "version", "bead", "paper", "week")

NASTY = (
    *(
        "",
        " ",
        "0",
        "-1",
        "-0.0",
        "1e400",
        "NaN",
        "sNaN",
        "Infinity",
        "-Infinity",
        "9" * 30,
        "0x1F",
    ),
    *("1.000.000,00", "1,2,3", "½", "٣", "1_000", "１２", "2026-02-30", "0000-00-00", "9999-12-31"),
    *("24:61", "2026-13-01T99:99", "\x00", "a\x00b", "\ud7ff", "\u202e", "\ufeff", "💎" * 50),
    *("x" * 5000, "' OR 1=1--", "../../etc/passwd", "%s%n", "{{7*7}}", "${7*7}", "[]", "{}"),
    *(MARKUP, f'"><img src=x onerror=fuzz()>{MARKUP}', "javascript:fuzz()", "null", "None"),
    *(
        "true",
        "on",
        "1" * 400,
        "-" * 400,
        "1e-400",
        ".",
        ",",
        "+",
        "+-1",
        "1 kg",
        "3 lb",
        "1 m^9999",
    ),
    *("9" * 400 + " kg", "2 gross", "1/0", "2**99999999", "__import__('os')", "=1+1", "\r\nX-A: b"),
)
values = st.one_of(
    st.sampled_from(NASTY),
    st.text(max_size=60).filter(lambda text: not _surrogates(text)),
    st.integers().map(str),
    st.decimals(allow_nan=True, allow_infinity=True).map(str),
    st.dates().map(str),
)


def _surrogates(text: str) -> bool:
    return any("\ud800" <= letter <= "\udfff" for letter in text)


@pytest.fixture(scope="module")
def screens(world):
    """Each address with the boxes that its page offers, filled as the page fills them."""
    client, known, found = signed_in("owner"), candidates(), []
    for address in every_address():
        if address.name in LEFT_OUT or ACCESS[address.name].public:
            continue
        path, answer = page_of(client, address, known)
        boxes = {}
        if answer.status_code == 200 and "html" in answer.headers["Content-Type"]:
            boxes = boxes_of(answer.content.decode())
            boxes.pop("csrfmiddlewaretoken", None), boxes.pop("key", None)
        for tried in [path] if answer.status_code == 200 else list(paths_of(address, known))[:2]:
            found.append((address.name, tried, boxes))
    assert len(found) > 80
    # Every example is rolled back, so the book before each of them is the book of now.
    return client, found, database_hash(*LOGS)


@settings(max_examples=EXAMPLES, phases=PHASES)
@given(data=st.data())
def test_nonsense_in_a_form_breaks_nothing_saves_nothing_half_and_is_not_run(screens, data):
    client, found, before = screens
    name, path, boxes = found[data.draw(st.integers(0, len(found) - 1))]
    sent: dict[str, str] = dict(boxes)
    if boxes:
        for box in data.draw(st.lists(st.sampled_from(sorted(boxes)), min_size=1, max_size=4)):
            sent[box] = data.draw(values)
    if data.draw(st.booleans()):
        sent[data.draw(st.sampled_from(QUERY_NAMES))] = data.draw(values)
    with transaction.atomic():
        answer = client.post(path, sent)
        check(name, path, sent, answer)
        if answer.status_code != 302:
            assert database_hash(*LOGS) == before, f"{path} half-saved {sent}"
        transaction.set_rollback(True)


@settings(max_examples=EXAMPLES, phases=PHASES)
@given(data=st.data())
def test_nonsense_in_a_question_breaks_nothing(screens, data):
    client, found, _before = screens
    name, path, boxes = found[data.draw(st.integers(0, len(found) - 1))]
    names = sorted({*boxes, *QUERY_NAMES})
    asked = data.draw(st.dictionaries(st.sampled_from(names), values, min_size=1, max_size=3))
    with transaction.atomic():
        answer = client.get(path, asked)
        check(name, path, asked, answer)
        transaction.set_rollback(True)


def check(name: str, path: str, sent: dict, answer) -> None:
    assert answer.status_code < 500, f"{name} {path} {sent}"
    assert answer.status_code in EXPECTED, f"{path}: {answer.status_code}"
    text = body_of(answer).decode(errors="replace")
    if "html" in answer.headers.get("Content-Type", ""):
        assert MARKUP not in text, f"{path} echoes markup of {sent}"
        assert not re.search(r"<img src=x onerror", text), path
        assert "Traceback" not in text
    for header, value in answer.headers.items():
        assert "\n" not in value and "\r" not in value, header
