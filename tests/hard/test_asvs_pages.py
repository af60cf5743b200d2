"""Every page as a visitor's browser gets it: headers, escaping, and looking changes nothing.

Ids are those of OWASP's Application Security Verification Standard 5.0.0.
"""

import re

import pytest
from django.apps import apps
from django.db import models
from django.urls import reverse

from tests.builders import make_person
from tests.hard.world import (
    OWN_APPS,
    body_of,
    candidates,
    database_hash,
    every_address,
    page_of,
    signed_in,
)

# One worker makes what they share, once.
pytestmark = [
    pytest.mark.django_db,
    pytest.mark.usefixtures("world"),
    pytest.mark.xdist_group("pages"),
]
# What a look may write: who is here, and that somebody knocked at a closed door. A paper issued
# but never printed is printed at the first look; the bytes are kept, the paper is the same.
WRITTEN_BY_LOOKING = ("django_session", "workshop_act", "orders_paperfile")
NO_PAGE_HERE = 404
CONTENT_TYPES = re.compile(
    r"text/(html|csv|plain|calendar); charset=utf-8|application/(pdf|json|octet-stream|xml)"
    r"|text/plain; version=0\.0\.4; charset=utf-8|image/svg\+xml.*|application/vnd\.[a-z.-]+|"
    r"application/zip|image/jpeg"
)
MARKUP = "=<script>alert(1)</script>\"'{{7*7}}<i>"
BAD_ADDRESS = re.compile(r'(?:href|src|action)="\s*(?:javascript|data):')
FORMULA = re.compile(r'(?m)(?:^|,)"?=<script')
KEPT_FORMS = re.compile(
    # Their forms are fixed by validators, and pages read them: keys, codes, colours, hashes.
    r"(currency|time_zone|country|swatch|kind|shape|form|state|role|unit|method|token|sha256|digest|"
    r"password|code|username|category|iban|bic|customs|pattern|origin|skill|basis|basis|fuel|"
    r"group|_kind|_ref|act|led_to|address_key|number|email|session|prefix|step|way)$"
)


@pytest.fixture(scope="module")
def answers(world):
    """Every page that the owner can look at, and the hash of the book before and after."""
    client, values = signed_in("owner"), candidates()
    before = database_hash(*WRITTEN_BY_LOOKING)
    found = {}
    for address in every_address():
        path, answer = page_of(client, address, values)
        found[address.name] = (path, answer, body_of(answer))
    return found, before, database_hash(*WRITTEN_BY_LOOKING)


def looked_at(answers):
    return {name: each for name, each in answers[0].items() if each[1].status_code == 200}


def test_nearly_every_address_could_be_looked_at(answers):
    # Otherwise the tests below would prove little.
    names = {name for name, (_path, answer, _b) in answers[0].items() if answer.status_code != 405}
    assert len(looked_at(answers)) > 0.8 * len(names)


def test_no_page_fails(answers):
    assert {n: a.status_code for n, (_p, a, _b) in answers[0].items() if a.status_code >= 500} == {}


def test_v3_5_3_looking_changes_nothing(answers):
    """V3.5.3: no change by GET; the rows of every table but session and log are the same."""
    _found, before, after = answers
    assert before == after


def test_v3_4_3_and_v3_4_6_every_page_forbids_foreign_and_inline_code(answers):
    """V3.4.3, V3.4.6: a content-security policy without unsafe-inline; no framing."""
    for name, (_path, answer, _body) in answers[0].items():
        policy = answer.headers.get("Content-Security-Policy", "")
        for part in (
            "default-src 'self'",
            "object-src 'none'",
            "base-uri 'none'",
            "frame-ancestors 'none'",
        ):
            assert part in policy, name
        assert "unsafe" not in policy, name
        assert answer.headers["X-Frame-Options"] == "DENY", name


def test_v3_4_4_and_v3_4_5_no_sniffing_and_no_telling_where_one_came_from(answers):
    """V3.4.4 nosniff; V3.4.5 referrer policy."""
    for name, (_path, answer, _body) in answers[0].items():
        assert answer.headers["X-Content-Type-Options"] == "nosniff", name
        assert answer.headers["Referrer-Policy"] == "same-origin", name


def test_v4_1_1_every_answer_says_what_it_is(answers):
    """V4.1.1: a content type that matches, with its character set where it is text."""
    for name, (_path, answer, body) in looked_at(answers).items():
        assert CONTENT_TYPES.fullmatch(answer.headers["Content-Type"]), (
            name,
            answer.headers["Content-Type"],
        )
        assert body.startswith(b"%PDF") == (answer.headers["Content-Type"] == "application/pdf")


def test_v14_3_2_no_page_of_a_person_stays_in_a_cache(answers):
    """V14.3.2: no-store on everything shown to somebody signed in."""
    for name, (_path, answer, _body) in answers[0].items():
        assert "no-store" in answer.headers.get("Cache-Control", ""), name


def text_columns():
    """Every column into which a person can write words of their own."""
    for app in OWN_APPS:
        for model in apps.get_app_config(app).get_models():
            for field in model._meta.concrete_fields:
                written = isinstance(field, (models.CharField, models.TextField))
                short = field.max_length is not None and field.max_length < len(MARKUP) + 6
                plain = written and not field.choices and not field.primary_key
                if plain and not short and not KEPT_FORMS.search(field.name):
                    yield model, field


def write_markup_everywhere() -> int:
    from django.db import connection

    written = 0
    # Past the services and the book's own triggers: rows may also come from elsewhere.
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
            for (name,) in cursor.fetchall():
                cursor.execute(f"DROP TRIGGER {name}")
        else:
            cursor.execute("SET session_replication_role = replica")
    for model, field in text_columns():
        for row in model.objects.all():
            model.objects.filter(pk=row.pk).update(**{field.name: f"{MARKUP}{row.pk}"})
            written += 1
    return written


def test_v1_2_1_v1_2_2_and_v1_3_7_markup_in_any_field_is_shown_as_letters(world):
    """V1.2.1 output encoding, V1.2.2 safe addresses, V1.3.7 no template injection, V1.2.10 CSV.

    Written straight into every column of words, so that no form's check can help.
    """
    assert write_markup_everywhere() > 50
    client, values = signed_in("owner"), candidates()
    seen, failed = 0, []
    for address in every_address():
        _path, answer = page_of(client, address, values)
        if answer.status_code != 200:
            failed += [address.name] if answer.status_code >= 500 else []
            continue
        kind, text = answer.headers["Content-Type"], body_of(answer).decode(errors="replace")
        if kind.startswith(("text/html", "image/svg")):
            assert "<script>alert" not in text, address.name
            assert "\"'{{7*7}}<i>" not in text, address.name
            seen += "&lt;script&gt;alert(1)" in text or "{{7*7}}" in text
            assert not re.search(r'(?:href|src|action)="\s*(?:javascript|data):', text), (
                address.name
            )
        if address.name.endswith("_list"):
            sheet = client.get(_path, {"as": "csv"})
            cells = body_of(sheet).decode(errors="replace")
            assert "csv" not in sheet.headers["Content-Type"] or not re.search(
                r'(?m)(?:^|,)"?=<script', cells
            ), address.name
    assert not failed
    assert seen > 25, "hardly any page showed the words; the test proves little"


INJECTIONS = ("' OR 1=1--", "1) OR (1=1", '"; DROP TABLE workshop_act; --', "\\")
NOT_A_QUESTION = {"csrfmiddlewaretoken", "key"}


@pytest.mark.parametrize("typed", INJECTIONS)
def test_v1_2_4_no_question_to_the_database_is_bent_by_what_is_asked(world, typed):
    """V1.2.4: SQL in any filter, sort or page box finds nothing more and breaks nothing."""
    from workshop.models import AuditEntry

    client, asked = signed_in("owner"), 0
    acts = AuditEntry.objects.count()
    for address in every_address():
        if address.pieces or not address.name.endswith(("_list", ":money", ":firing", ":home")):
            continue
        path = reverse(address.name)
        whole = client.get(path)
        # A list that opens on some of its rows shows all of them when its first choice is undone.
        rows = max(body_of(client.get(path, asks)).count(b"<tr") for asks in ({}, {"state": ""}))
        names = set(re.findall(r'name="([a-z_]+)"', whole.content.decode(errors="replace")))
        for name in sorted({*names, "sort", "page", "q"} - NOT_A_QUESTION):
            answer = client.get(path, {name: typed})
            assert answer.status_code in {200, 302, 404, 422}, f"{path}?{name}={typed}"
            # An empty list still has its heads and the row that says that nothing fits.
            assert body_of(answer).count(b"<tr") <= max(rows, 2), f"{path}?{name}={typed}"
            asked += 1
    assert asked > 60
    assert AuditEntry.objects.count() == acts


def test_v13_4_1_and_v13_4_2_nothing_of_the_inside_can_be_fetched(world, settings):
    """V13.4.1 no .git, V13.4.2 no debug pages: unknown addresses get our own page."""
    settings.DEBUG = False
    client = signed_in("bench")
    for path in ("/.git/HEAD", "/.env", "/var/secret_key", "/static/../settings.py", "/admin/"):
        answer = client.get(path)
        assert answer.status_code == 404
        assert "Nothing stands here" in answer.content.decode()
        assert "Traceback" not in answer.content.decode()


def test_a_closed_room_and_a_missing_one_look_the_same(world):
    """V8.2.2: a foreign object is 404, so that nobody learns that it exists."""
    client = signed_in("bench")
    assert make_person("bench").role == "bench"
    closed = client.get(reverse("orders:money"))
    missing = client.get("/no/such/page/")
    assert (closed.status_code, missing.status_code) == (404, 404)
    # The only difference is the page's own token against forged forms.
    token = re.compile(rb'(X-CSRFToken": "|value=")[A-Za-z0-9]{64}')
    assert token.sub(b"", closed.content) == token.sub(b"", missing.content)
