"""Help where one stands: every page has its three sentences, or is named among those without."""

import gzip

import pytest
from django.template.loader import render_to_string
from django.urls import NoReverseMatch, reverse
from django.utils.html import escape

from tests.builders import make_business, make_person
from workshop.access import ACCESS
from workshop.drawing.signs import SIGNS
from workshop.help import CHAPTERS, NEED_NONE, NO_PAGE, WORDS, help_for

HELPS = [each for chapter in CHAPTERS for each in chapter.helps]
# What help may add to a page, as it is sent.
MOST_BYTES = 2_000


def test_every_page_has_help_or_is_named_among_those_that_need_none():
    helped = [page for each in HELPS for page in each.pages]
    assert len(helped) == len(set(helped)), "a page has two helps"
    assert set(helped) | NEED_NONE | NO_PAGE == set(ACCESS)
    assert not set(helped) & (NEED_NONE | NO_PAGE) and not NEED_NONE & NO_PAGE


@pytest.mark.parametrize("each", HELPS, ids=lambda each: str(each.title))
def test_help_is_three_short_sentences_with_signs_and_words_that_are_known(each):
    for _sign, _meaning, line in each.lines:
        assert len(line) <= 90 and str(line).endswith("."), line
    assert each.sign in SIGNS and set(each.terms) <= set(WORDS)
    said = render_to_string("parts/_help.html", {"help": each})
    assert len(gzip.compress(said.encode())) < MOST_BYTES / 2
    assert len(said) < 2 * MOST_BYTES


def test_every_word_is_explained_where_somebody_meets_it():
    assert {term for each in HELPS for term in each.terms} == set(WORDS)


@pytest.mark.django_db
def test_pages_unfold_their_own_help(client):
    make_business()
    client.force_login(make_person("owner"))
    seen = 0
    for page in ("workshop:facts", "stock:sack_log", "stock:glass", "orders:firing",
                 "orders:bench", "orders:counter", "orders:money", "workshop:kiln_add",
                 "workshop:own_page"):  # fmt: skip
        try:
            answer = client.get(reverse(page))
        except NoReverseMatch:
            continue
        seen += 1
        assert escape(str(help_for(page).what)) in answer.content.decode(), page
    assert seen == 9


def test_whoever_is_not_signed_in_is_shown_no_help(client, db):
    make_business()
    assert 'class="help"' not in client.get(reverse("workshop:sign_in")).content.decode()
