"""Advice mended: soak in one tap, paint asked for, chunks that run, stresses that add up."""

from decimal import Decimal

import pytest
from django.urls import reverse

from orders.firing.queries.advice import counsels
from orders.firing.queries.curves import planned_points
from tests.builders import (
    make_bead,
    make_colour,
    make_kiln,
    make_mould,
    make_person,
    make_programme,
)
from workshop.models import Programme

pytestmark = pytest.mark.django_db


def _thick(**given):
    """A ball of 26 mm: no faster than 5.2 °C/min (Adams and Williamson)."""
    chunks = make_programme(
        "Chunks", kind="centrepiece", hold_c=900, hold_min=40, from_c=880, to_c=920, from_min=35,
        to_min=45,
    )  # fmt: skip
    return make_bead(
        "Harbour ball", kind="centrepiece", form="chunks", diameter_mm=Decimal(26),
        grain_mm=Decimal(5), programme=chunks, mould=make_mould("Ball", bead_across_mm=26), **given,
    )  # fmt: skip


def _word(found, question):
    return next(each for each in found if each.question == question)


def test_a_centrepiece_that_would_crack_gets_a_programme_with_a_soak_in_one_tap(client):
    make_kiln(highest_c=1000, cooling_min=90)
    bead = _thick()
    client.force_login(make_person("kiln"))
    asked = {"bead": bead.pk, "programme": bead.programme_id}
    page = client.get(reverse("orders:firing_advice"), asked).content.decode()
    assert "Make a programme with a soak" in page
    answer = client.post(reverse("orders:firing_soak"), asked, follow=True)
    made = Programme.objects.get(soak_c__isnull=False)
    # 15 min for the stress and 31 for a 40 mm mould; half of 5.19 °C/min, two figures down.
    assert (made.soak_c, made.soak_min, made.slow_to_c) == (565, 46, 480)
    assert made.slow_c_per_min == Decimal("2.5")
    assert "slow enough" in answer.content.decode()
    assert "Make a programme with a soak" not in answer.content.decode()
    client.post(reverse("orders:firing_soak"), asked)
    assert Programme.objects.filter(soak_c__isnull=False).count() == 1


def test_the_curve_drawn_holds_the_soak_and_never_rises_while_cooling():
    kiln = make_kiln(heat_c_per_min=8, open_c=60, ref_c=820, cooling_min=300, highest_c=1000)
    thick = make_programme(
        "Thick", hold_c=820, hold_min=40, from_c=800, to_c=840, from_min=35, to_min=45,
        soak_c=565, soak_min=45, slow_to_c=480, slow_c_per_min=1,
    )  # fmt: skip
    points = planned_points(thick.hold_c, thick.hold_min, kiln, thick.soak)
    assert points[-1] == (pytest.approx(553.02, abs=0.02), 60)
    down = [heat for minute, heat in points if minute >= 100]
    assert down == sorted(down, reverse=True)
    assert down.count(565) == 2


def test_chunks_that_run_fill_their_mould_and_are_no_caution():
    kiln = make_kiln(highest_c=1000)
    bead = _thick()
    hot = make_programme(
        "Hot", kind="fused", hold_c=980, hold_min=45, from_c=960, to_c=1000, from_min=40, to_min=50
    )
    found = _word(counsels(bead, hot, [kiln]), "Will it fuse?")
    assert found.word == "fills its mould"
    assert not found.warns and not found.unsure


def test_paint_asks_what_it_is_and_an_enamel_has_a_window_of_its_own():
    kiln = make_kiln()
    paint = make_programme(
        "Paint", kind="painted", hold_c=560, hold_min=15, from_c=540, to_c=580, from_min=10,
        to_min=20,
    )  # fmt: skip
    bead = make_bead("Painted", kind="painted", second_programme=paint)
    assert _word(counsels(bead, paint, [kiln]), "What is the paint?").unsure
    assert _word(counsels(bead, paint, [kiln]), "Is the firing usual?").warns
    bead.paint = "enamel"
    found = counsels(bead, paint, [kiln])
    assert "What is the paint?" not in [each.question for each in found]
    assert not _word(found, "Is the firing usual?").warns


def test_cooling_and_mismatch_add_up():
    """4.56 MPa for 2 × 10⁻⁷/K, and what 26 mm at the kiln's own rate leaves, come to over 7."""
    kiln = make_kiln(highest_c=1000, cooling_min=90)
    green = make_colour("green", expansion_e7=Decimal(90))
    amber = make_colour("amber", expansion_e7=Decimal(92))
    bead = _thick(colours={green: Decimal("0.5"), amber: Decimal("0.5")})
    found = _word(counsels(bead, bead.programme, [kiln]), "Do cooling and mismatch together hold?")
    assert found.warns
    assert "they add up to" in found.sentence


def test_a_bead_out_of_a_kiln_kept_hot_cools_apart_and_is_asked_whether_it_is_soft():
    kiln = make_kiln(
        highest_c=1000, way="hot", warm_up_min=60, change_min=10, keep_hot_min=45,
        hotter_c_per_min=8, cooler_c_per_min=4,
    )  # fmt: skip
    bead = _thick(pierced_hot=True)
    found = counsels(bead, bead.programme, [kiln])
    assert _word(found, "Will it crack?").word == "cools apart"
    soft = _word(found, "Soft enough to pierce?")
    assert soft.word == "soft enough"
    assert not soft.warns
