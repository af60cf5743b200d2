"""The owner chooses how the numbers of papers are written; they go on counting without a gap."""

import re
from datetime import date

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from tests.builders import make_business, make_person
from workshop.models import AuditEntry, NumberPattern
from workshop.services.numbers import next_number

pytestmark = pytest.mark.django_db

HIDDEN = re.compile(r'type="hidden" name="(key|seen_mark)" value="([^"]+)"')
IN_2026, IN_2027 = date(2026, 11, 30), date(2027, 1, 4)


@pytest.fixture
def owner(client):
    make_business()
    client.force_login(make_person("owner"))
    return client


def choose(owner, kind="invoice", **boxes):
    page = reverse("workshop:series_change", args=[kind])
    hidden = dict(HIDDEN.findall(owner.get(page).content.decode()))
    usual = {"prefix": "INV-", "year_digits": "4", "joint": "-", "digits": "4"}
    return owner.post(page, hidden | usual | boxes)


@pytest.mark.parametrize(
    ("kind", "printed"),
    [("quote", "Q-2026-0001"), ("invoice", "INV-2026-0001"), ("payout", "C-2026-0001")],
)
def test_without_a_word_of_the_owner_numbers_are_written_as_is_usual(kind, printed):
    assert next_number(kind, IN_2026) == (2026, 1, printed)


def test_a_chosen_pattern_goes_on_counting_and_holds_in_the_next_year(owner):
    assert next_number("invoice", IN_2026)[2] == "INV-2026-0001"
    answer = choose(owner, prefix="SB/", year_digits="2", joint="/", digits="3")
    assert answer.status_code == 302
    assert next_number("invoice", IN_2026)[2] == "SB/26/002"
    assert next_number("invoice", IN_2027)[2] == "SB/27/001"
    assert next_number("receipt", IN_2026)[2] == "R-2026-0001"
    assert AuditEntry.objects.get(act="change paper numbers").after["prefix"] == "SB/"


def test_the_page_shows_the_number_that_comes_next(owner):
    next_number("credit", IN_2026)
    chosen = {"prefix": "", "joint": ".", "digits": 6}
    NumberPattern.objects.update_or_create(kind="credit", defaults=chosen)
    page = owner.get(reverse("workshop:series_list")).content.decode()
    assert re.search(r"\b20\d\d\.00000[12]\b", page)
    assert "INV-20" in page and "C-20" in page


@pytest.mark.parametrize(
    "wrong",
    [{"prefix": "INV-20"}, {"prefix": "R&D-"}, {"prefix": "a b-"}, {"digits": "0"}]
    + [{"digits": "9"}, {"joint": ""}, {"joint": "1"}, {"year_digits": "3"}],
)
def test_a_pattern_that_could_not_be_told_apart_is_refused_and_kept_as_typed(owner, wrong):
    answer = choose(owner, **wrong)
    assert answer.status_code == 422
    assert NumberPattern.of("invoice").written(2026, 7) == "INV-2026-0007"
    for typed in wrong.values():
        assert typed.replace("&", "&amp;") in answer.content.decode()


def test_a_kind_that_nobody_numbers_has_no_page(owner):
    assert owner.get(reverse("workshop:series_change", args=["tray"])).status_code == 404


def test_no_two_patterns_write_one_number_for_two_papers():
    """Read from its end a number gives up its place and its year, whatever stands before them."""
    written = {}
    for prefix in ("", "R-", "R-20", "2.", "INV/"):
        for year_digits, joint, digits in ((4, "-", 4), (2, "-", 4), (2, ".", 1), (4, "/", 2)):
            pattern = NumberPattern(
                kind="quote", prefix=prefix, year_digits=year_digits, joint=joint, digits=digits
            )
            try:
                pattern.clean_fields()
            except ValidationError:
                assert prefix == "R-20"
                continue
            for year, sequence in ((2026, 7), (2027, 7), (2027, 72), (2028, 1)):
                number = pattern.written(year, sequence)
                assert written.setdefault(number, (year, sequence)) == (year, sequence)
