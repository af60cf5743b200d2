"""The guide: printed by the program, in the reader's language, with what the reader may open."""

import io
import re

import pikepdf
import pytest
from django.urls import reverse

from orders.home.papers import chapters_for, guide_html
from tests.builders import make_business, make_person
from workshop.doors import open_to
from workshop.help import CHAPTERS, WORDS
from workshop.models import Role

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("role", Role.values)
def test_it_holds_what_that_person_may_open_and_no_more(role):
    make_business()
    person = make_person(role)
    shown = {each for chapter in chapters_for(role) for each in chapter.helps}
    for chapter in CHAPTERS:
        for each in chapter.helps:
            assert (each in shown) == any(open_to(person, page) for page in each.pages)
    html = guide_html(role, make_business())
    assert html.count('class="guide-help"') == len(shown)
    terms = {term for each in shown for term in each.terms}
    assert re.findall("<dt>(.*?)</dt>", html) == sorted(
        (str(WORDS[term].word) for term in terms), key=str.casefold
    )


@pytest.mark.papers
def test_the_owner_prints_the_guide_of_every_role_and_the_yard_its_own_alone(client):
    make_business()
    pages = {}
    for reader, asked in (
        ("owner", ""),
        ("owner", "yard"),
        ("owner", "bookkeeper"),
        ("yard", "owner"),
    ):
        client.force_login(make_person(reader))
        answer = client.get(reverse("orders:guide"), {"for": asked} if asked else {})
        assert answer["Content-Type"] == "application/pdf"
        with pikepdf.open(io.BytesIO(answer.content)) as pdf:
            pages[reader, asked] = len(pdf.pages)
            assert pdf.Root.MarkInfo.Marked
    assert pages["owner", "bookkeeper"] <= 3
    assert 2 <= pages["yard", "owner"] == pages["owner", "yard"] < pages["owner", ""] <= 12
