"""Signs and patterns as drawings: one family, in the colour of the words, small."""

import re

import pytest
from django.urls import reverse

from workshop.access import ACCESS
from workshop.drawing.signs import SIGNS, mark_svg, sign_svg
from workshop.drawing.small import PATTERNS, bottle_svg
from workshop.signs import SIGN_OF_PAGE, sign_of


@pytest.mark.parametrize("name", SIGNS)
def test_a_sign_takes_the_colour_of_the_words_and_stays_small(name):
    drawn = sign_svg(name)
    assert set(re.findall(r'(?:fill|stroke)="([^"]+)"', drawn)) <= {"currentColor", "none"}
    assert 'aria-hidden="true"' in drawn and len(drawn) < 600


def test_every_act_with_a_sign_is_a_page_and_every_sign_is_drawn():
    assert set(SIGN_OF_PAGE) <= set(ACCESS)
    assert set(SIGN_OF_PAGE.values()) <= set(SIGNS)


def test_an_act_is_known_by_its_address():
    assert sign_of(reverse("stock:sack_log") + "?colour=3") == "sack"
    assert sign_of(reverse("orders:load_start", args=[7])) == "light"
    assert sign_of(reverse("orders:bench") + "#string-12") == "string"
    assert sign_of("tel:+44 20 7946 0000") == "call"
    assert sign_of(reverse("workshop:facts")) == sign_of("/nowhere/") == ""


def test_two_hundred_and_sixteen_marks_before_one_comes_again():
    # Three beads of three forms, each solid or a ring: 6 × 6 × 6.
    assert len({mark_svg(number) for number in range(216)}) == 216
    assert mark_svg(5) == mark_svg(5 + 216)


def test_bottles_of_twelve_colours_differ_without_their_colour():
    drawn = [bottle_svg("#2f6b4a", pattern=number) for number in range(len(PATTERNS))]
    assert len(set(drawn)) == 12
