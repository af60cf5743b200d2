"""A kiln kept hot and a programme with a soak; what cannot be is said at its box."""

from datetime import time

import pytest
from django.urls import reverse

from tests.builders import make_bead, make_kiln, make_person, make_programme
from workshop.models import Kiln, Mould, Programme, WorkingHours

pytestmark = pytest.mark.django_db

KILN = {
    "name": "Clay kiln",
    "places": "24",
    "lowest_c": "500",
    "highest_c": "1000",
    "preheat_min": "60",
    "cooling_min": "90",
    "fuel": "wood",
    "fuel_price": "0.20",
    "efficiency": "12",
    "moisture": "20",
    "in_use": "on",
}
HOT = {
    "way": "hot",
    "warm_up_min": "70",
    "change_min": "10",
    "keep_hot_min": "45",
    "hotter_c_per_min": "8",
    "cooler_c_per_min": "4",
}
PROGRAMME = {
    "name": "Thick",
    "kind": "centrepiece",
    "hold_c": "820",
    "hold_min": "40",
    "from_c": "800",
    "to_c": "840",
    "from_min": "35",
    "to_min": "45",
    "in_use": "on",
}
SOAK = {"soak_c": "565", "soak_min": "45", "slow_to_c": "480", "slow_c_per_min": "1"}


@pytest.fixture(autouse=True)
def owner(client):
    person = make_person("owner")
    client.force_login(person)
    return person


def _errors(answer):
    assert answer.status_code == 422
    return {name: " ".join(told) for name, told in answer.context["form"].errors.items()}


def test_a_kiln_of_an_older_book_is_closed_until_the_owner_says_otherwise(client):
    assert make_kiln().is_kept_hot is False
    client.post(reverse("workshop:kiln_add"), {**KILN, "name": "Old"})
    assert Kiln.objects.get(name="Old").way == "closed"


def test_the_owner_keeps_a_kiln_hot(client):
    assert client.post(reverse("workshop:kiln_add"), {**KILN, **HOT}).status_code == 302
    kiln = Kiln.objects.get()
    assert kiln.is_kept_hot
    # Hotter by 8 °C a minute: 120 °C are 15 min.
    assert kiln.as_hot.turn_min(740, 860) == 15
    assert "kept hot" in client.get(reverse("workshop:kiln_list")).content.decode()


def test_a_kiln_kept_hot_without_its_minutes_is_told_so_and_keeps_what_was_typed(client):
    answer = client.post(reverse("workshop:kiln_add"), {**KILN, **HOT, "warm_up_min": ""})
    assert list(_errors(answer)) == ["warm_up_min"]
    assert 'value="45"' in answer.content.decode()
    assert not Kiln.objects.exists()


def test_a_warm_up_as_long_as_the_day_is_refused(client):
    WorkingHours.objects.create(weekday=0, opens=time(8), closes=time(12))
    answer = client.post(reverse("workshop:kiln_add"), {**KILN, **HOT, "warm_up_min": "240"})
    assert "the longest working day has 240" in _errors(answer)["warm_up_min"]


def test_a_round_longer_than_the_day_is_refused_where_every_kiln_is_kept_hot(client):
    WorkingHours.objects.create(weekday=0, opens=time(8), closes=time(10))
    client.post(reverse("workshop:kiln_add"), {**KILN, **HOT, "warm_up_min": "60"})
    # 60 to warm up and 10 to change leave 50 of the 120 minutes.
    wish = {**PROGRAMME, "hold_min": "60", "from_min": "60", "to_min": "70"}
    answer = client.post(reverse("workshop:programme_add"), {**wish, "unusual_on_purpose": "on"})
    assert "Write at most 50" in _errors(answer)["hold_min"]


def test_a_programme_with_a_soak_is_saved(client):
    make_kiln(highest_c=1000)
    assert client.post(reverse("workshop:programme_add"), PROGRAMME | SOAK).status_code == 302
    assert Programme.objects.get().soak.slow_to_c == 480


@pytest.mark.parametrize(
    ("change", "field", "says"),
    [
        ({"soak_c": "830"}, "soak_c", "write less than that"),
        ({"slow_to_c": "600"}, "slow_to_c", "rise while cooling"),
        ({"slow_c_per_min": "0"}, "slow_c_per_min", "more than 0 °C a minute"),
        ({"soak_min": ""}, "soak_min", "all four figures"),
    ],
)
def test_a_curve_that_cannot_be_is_told_at_its_box(client, change, field, says):
    make_kiln(highest_c=1000)
    answer = client.post(reverse("workshop:programme_add"), PROGRAMME | SOAK | change)
    assert says in _errors(answer)[field]
    assert not Programme.objects.exists()


def test_soak_and_slow_cooling_lengthen_a_closed_load_by_what_they_take():
    """8 °C/min, 300 min from 820 to 60 °C: 554 less 440 min, worked with Newton's cooling."""
    kiln = make_kiln(heat_c_per_min=8, open_c=60, ref_c=820, cooling_min=300)
    thick = make_programme(
        "Thick", hold_c=820, hold_min=40, from_c=800, to_c=840, from_min=35, to_min=45,
        soak_c=565, soak_min=45, slow_to_c=480, slow_c_per_min=1,
    )  # fmt: skip
    assert thick.slow_min_in(kiln) == 114
    assert make_programme().slow_min_in(kiln) == 0


def test_a_mould_that_stiffens_before_it_is_pierced_is_told_at_its_box(client):
    bead = make_bead()
    answer = client.post(
        reverse("stock:bead_change", args=[bead.pk]),
        {"pierced_hot": "on", "pierce_min": "1.5", "soft_min": "1"},
    )
    assert "stays soft for 1 min and one hand takes 1.5" in _errors(answer)["pierce_min"]


def test_a_pierced_bead_does_not_come_out_of_a_closed_kiln(client):
    bead = make_bead()
    answer = client.post(
        reverse("stock:bead_change", args=[bead.pk]),
        {"pierced_hot": "on", "fired_in": "closed"},
    )
    assert "comes out of a kiln kept hot" in _errors(answer)["fired_in"]


MOULD = {
    "name": "Flat figures",
    "shape": "star",
    "bead_across_mm": "19 mm",
    "cavities": "8",
    "owned": "10",
    "places": "1",
    "clay_g": "1.4 kg",
    "held_min": "40",
}


def test_a_mould_may_serve_several_shapes(client):
    client.post(reverse("workshop:mould_add"), {**MOULD, "also_shapes": "Fish, cross"})
    mould = Mould.objects.get()
    assert mould.also_shapes == ["fish", "cross"]
    assert mould.serves("star") and mould.serves("fish") and not mould.serves("round")


def test_a_shape_that_is_none_is_told_at_its_box(client):
    answer = client.post(reverse("workshop:mould_add"), {**MOULD, "also_shapes": "fish, boat"})
    assert "“boat” is no shape here" in _errors(answer)["also_shapes"]


@pytest.mark.parametrize("typed", ["101", "0"])
def test_a_usual_fill_that_no_load_can_have_is_told_at_its_box(client, typed):
    answer = client.post(reverse("workshop:kiln_add"), {**KILN, "usual_fill": typed})
    assert list(_errors(answer)) == ["usual_fill"]
    assert f'value="{typed}"' in answer.content.decode() and not Kiln.objects.exists()
