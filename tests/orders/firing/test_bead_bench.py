"""A bead on the bench: drawn with its measures as it is typed, mould and firing judged beside."""

import re
from decimal import Decimal

import pytest
from django.urls import reverse

from stock.models import Bead
from tests.builders import (
    make_bead,
    make_business,
    make_colour,
    make_kiln,
    make_mould,
    make_person,
    make_programme,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def keeper(client):
    make_business()
    make_kiln()
    client.force_login(make_person("kiln"))
    return client


def typed(*glass, **more) -> dict:
    """The bead's boxes as they may stand half filled: glass as (colour, share)."""
    data = {
        "name": "Weir round",
        "kind": "powder",
        "shape": "round",
        "pattern": "layers",
        "form": "powder",
        "grain_mm": "0.15",
        "mould": str(make_mould().pk),
        "programme": str(make_programme().pk),
        "diameter_mm": "10",
        "bore_mm": "2",
        "colours-TOTAL_FORMS": "4",
        "colours-INITIAL_FORMS": "0",
    }
    for number, (colour, share) in enumerate(glass):
        data[f"colours-{number}-colour"] = str(colour.pk)
        data[f"colours-{number}-share"] = share
    return data | more


def looked_at(client, *glass, **more):
    return client.post(reverse("orders:firing_bead"), typed(*glass, **more))


def test_a_bead_is_drawn_with_its_measures_and_weighed_as_it_is_typed(keeper):
    answer = looked_at(keeper, (make_colour(), "100"))
    page = answer.content.decode()
    # √(10² − 2²) = 9.8 mm along the bore, 10 mm across
    assert answer.context["look"].said == ("9.8\u00a0mm", "10\u00a0mm", "bore 2\u00a0mm")
    assert page.count("<text") == 3
    # π/6 × 9.798³ = 492.5 mm³ at 2.5 g/cm³
    assert float(answer.context["look"].mass_g) == pytest.approx(1.231, rel=0.01)
    assert not Bead.objects.exists()


def test_its_firing_is_judged_as_on_the_page_of_advice(keeper):
    answer = looked_at(keeper, (make_colour(), "60"), (make_colour("amber"), "40"))
    beside = {each.question: each for each in answer.context["judged"].counsels}
    bead = make_bead(
        "The same", pattern="layers",
        colours={make_colour(): Decimal("0.6"), make_colour("amber"): Decimal("0.4")},
    )  # fmt: skip
    page = keeper.get(reverse("orders:firing_advice"), {"bead": bead.pk})
    for each in page.context["counsels"]:
        assert beside[each.question] == each
    assert "Will it fuse?" in beside


def test_soft_enough_to_pierce_is_asked_of_what_is_pierced_hot(keeper):
    plain, hot = (
        looked_at(keeper, (make_colour(), "100"), **more).content.decode()
        for more in ({}, {"pierced_hot": "on", "pierce_min": "0.5", "soft_min": "1"})
    )
    assert "Soft enough to pierce?" in hot and "Soft enough to pierce?" not in plain


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"bore_mm": "12"}, "bore"),
        ({"diameter_mm": ""}, "diameter"),
        ({"diameter_mm": "30", "mould": ""}, "<svg"),
        ({"shape": "nothing such"}, "bead-glass"),
        ({"colours-0-share": "70"}, "do not make 100"),
    ],
)
def test_what_is_half_typed_is_told_and_never_refused(keeper, more, words):
    answer = looked_at(keeper, (make_colour(), "100"), **more)
    assert answer.status_code == 200 and words in answer.content.decode().lower()


def test_a_mould_that_does_not_fit_says_so_beside_the_bead(keeper):
    answer = looked_at(keeper, (make_colour(), "100"), diameter_mm="30")
    assert answer.context["judged"].mould_fault


def test_each_colour_can_be_taken_hold_of_in_its_order(keeper):
    answer = looked_at(keeper, (make_colour(), "60"), (make_colour("amber"), "40"))
    page = answer.content.decode()
    assert re.findall(r'data-segment="(\d)"', page) == ["0", "1"]
    assert page.count("data-paint=") == 2


def test_a_bead_that_is_changed_stays_as_it_was(keeper):
    bead = make_bead()
    there = reverse("orders:firing_bead_change", args=[bead.pk])
    answer = keeper.post(there, typed((make_colour(), "100"), diameter_mm="8"))
    assert answer.context["look"].said[1] == "8\u00a0mm"
    bead.refresh_from_db()
    assert bead.diameter_mm == 10 and bead.colours.count() == 1


def test_who_makes_no_beads_does_not_ask(client):
    make_business()
    client.force_login(make_person("counter"))
    assert client.post(reverse("orders:firing_bead"), {}).status_code == 404
