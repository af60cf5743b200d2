"""Each strand strung has a tag with a code of its own, and the code finds it again."""

from datetime import date
from itertools import pairwise

import pytest
from django.urls import reverse

from orders.designs.papers import Strung, strung_tags_html
from orders.making.services.to_stock import beads_each, string_to_stock
from stock.strand_codes import check_digits, read_code, strand_code
from tests.builders import make_bead, make_business, make_design, make_person, put_beads

pytestmark = pytest.mark.django_db


@pytest.fixture
def strung(db):
    """Three strands strung to stock in one go."""
    make_business()
    design = make_design(beads=make_bead())
    [(bead, each)] = beads_each(design).items()
    put_beads(bead, 3 * each)
    posting = string_to_stock(design, 3, on=date(2026, 3, 1), person=make_person("bench"))
    return design, posting


def test_check_digits_are_those_of_an_iban():
    # GB82 WEST 1234 5698 7654 32, the example of ISO 13616; letters are 10 to 35, country last.
    assert check_digits("3214282912345698765432" + "1611") == 82


@pytest.mark.parametrize("place", [1, 3, 42, 9999])
def test_a_wrong_digit_or_two_that_changed_places_are_noticed(place):
    code = strand_code(1042, place)
    assert read_code(code) == (1042, place)
    digits = [i for i, sign in enumerate(code) if sign.isdigit()]
    for i in digits:
        for other in "0123456789":
            if other != code[i]:
                assert read_code(code[:i] + other + code[i + 1 :]) is None
    for i, j in pairwise(digits):
        if j == i + 1 and code[i] != code[j]:
            assert read_code(code[:i] + code[j] + code[i] + code[j + 1 :]) is None


def test_every_strand_of_a_stringing_gets_a_tag_of_its_own(strung):
    design, posting = strung
    html = strung_tags_html([Strung(design, posting.pk, range(1, 4))], make_business())
    for place in (1, 2, 3):
        assert html.count(strand_code(posting.pk, place)) == 1
    assert html.count('class="tag"') == 3


@pytest.mark.papers
def test_the_bench_prints_them_from_the_page_of_the_stringing(client, strung):
    _design, posting = strung
    client.force_login(make_person("bench"))
    page = client.get(reverse("stock:trail_strand", args=[posting.pk])).content.decode()
    address = reverse("orders:strung_tags", args=[posting.pk])
    assert f"{address}?from=1" in page
    answer = client.get(address)
    assert answer.status_code == 200 and answer.content.startswith(b"%PDF")


def test_the_code_on_a_tag_finds_the_strand(client, strung):
    _design, posting = strung
    client.force_login(make_person("counter"))
    found = client.get(reverse("stock:strand_code"), {"code": strand_code(posting.pk, 2)})
    assert found.url == reverse("stock:trail_strand", args=[posting.pk]) + "?strand=2"
    assert "This is strand 2 of them" in client.get(found.url).content.decode()


@pytest.mark.parametrize("code", ["", "12", "1-1-00", "nonsense", "999999-1-10", "1-9999-99"])
def test_what_is_no_code_is_told_so(client, strung, code):
    client.force_login(make_person("counter"))
    answer = client.get(reverse("stock:strand_code"), {"code": code}, follow=True)
    assert "is on none of our tags" in answer.content.decode()


def test_a_fourth_strand_of_three_is_none(client, strung):
    _design, posting = strung
    client.force_login(make_person("counter"))
    code = {"code": strand_code(posting.pk, 4)}
    answer = client.get(reverse("stock:strand_code"), code, follow=True)
    assert "is on none of our tags" in answer.content.decode()
