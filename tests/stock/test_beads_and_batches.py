"""The Beads room: what a bead is, moulding it, finishing it."""

import uuid
from decimal import Decimal

import pytest
from django.urls import reverse

from stock.models import Balance, Bead, BeadBatch, GlassForm, LocationKind
from tests.builders import (
    make_bead,
    make_colour,
    make_kiln,
    make_mould,
    make_person,
    make_programme,
    put_beads,
    put_glass,
)
from tests.hard.test_asvs_forms import boxes_of
from workshop.paging import MOST_CARDS

pytestmark = pytest.mark.django_db
ADD = reverse("stock:bead_add")


@pytest.fixture
def kiln_keeper(client):
    make_kiln()
    client.force_login(make_person("kiln"))
    return client


def typed(shares=(("green", "100"),), **given):
    usual = {
        "name": "Sea round",
        "kind": "powder",
        "shape": "round",
        "pattern": "plain",
        "form": "powder",
        "grain_mm": "0.15",
        "diameter_mm": "10",
        "bore_mm": "2",
        "mould": make_mould().pk,
        "programme": make_programme().pk,
        "reject_rate": "8",
        "polishing_loss": "2",
        "spill_share": "2",
        "pigment_g_per_kg": "0",
        "in_use": "on",
        "colours-TOTAL_FORMS": "4",
        "colours-INITIAL_FORMS": "0",
        "key": str(uuid.uuid4()),
    }
    for row, (colour, share) in enumerate(shares):
        usual[f"colours-{row}-colour"] = make_colour(colour).pk if colour else ""
        usual[f"colours-{row}-share"] = share
    return {name: value for name, value in (usual | given).items() if value is not None}


def test_a_bead_is_saved_with_its_shape_and_its_colours(kiln_keeper):
    kiln_keeper.post(ADD, typed(shares=[("green", "60"), ("amber", "40")]))
    bead = Bead.objects.get()
    assert (bead.diameter_mm, bead.bore_mm, bead.length_mm) == (10, 2, None)
    shares = {part.colour.name: part.share for part in bead.colours.all()}
    assert shares == {"green": Decimal("0.6"), "amber": Decimal("0.4")}


def test_sizes_may_be_typed_in_inches(kiln_keeper):
    mould = make_mould("Half inch", bead_across_mm=Decimal("12.7"))
    kiln_keeper.post(ADD, typed(diameter_mm="1/2 in", mould=mould.pk))
    assert Bead.objects.get().diameter_mm == Decimal("12.7")


def test_a_new_bead_begins_with_the_usual_losses(kiln_keeper):
    form = kiln_keeper.get(ADD).context["form"]
    assert form["reject_rate"].value() == "8" and form["polishing_loss"].value() == "2"


def test_an_empty_size_says_so_once(kiln_keeper):
    page = kiln_keeper.post(ADD, typed(diameter_mm=""))
    assert len(page.context["form"].errors["diameter_mm"]) == 1


def test_only_the_boxes_of_the_chosen_shape_are_shown_and_nothing_typed_is_lost(kiln_keeper):
    sent = typed(shape="bicone", reshape="1", name="Tide", bore_mm="2.5")
    page = kiln_keeper.post(ADD, sent)
    form = page.context["form"]
    assert [box.name for box in form.size_boxes()] == [
        "diameter_mm", "end_diameter_mm", "length_mm", "bore_mm",
    ]  # fmt: skip
    said = page.content.decode()
    assert page.status_code == 200 and "error-summary" not in said
    assert 'value="Tide"' in said and 'value="2.5"' in said
    assert page.context["shares"].forms[0].initial["share"] == "100"
    assert not Bead.objects.exists()


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"bore_mm": "10"}, "no glass is left"),
        ({"bore_mm": "12 kg"}, "kg"),
        ({"diameter_mm": "0"}, "more than nothing"),
        ({"diameter_mm": ""}, "Write this in; it is needed."),
        ({"reject_rate": "100"}, "99.9"),
        ({"kind": "painted"}, "choose its second firing"),
        ({"shares": [("green", "60"), ("amber", "30")]}, "add 10 %"),
        ({"shares": [("green", "60"), ("amber", "50")]}, "take away 10 %"),
        ({"shares": [("green", "50"), ("green", "50")]}, "stands in two rows"),
        ({"shares": [("green", "")]}, "Write this colour"),
        ({"shares": [("", "")]}, "Choose at least one colour"),
    ],
)
def test_a_bead_that_cannot_be_is_refused_and_what_was_typed_stays(kiln_keeper, wrong, sentence):
    page = kiln_keeper.post(ADD, typed(**wrong))
    said = page.content.decode().replace("\xa0", " ")
    assert page.status_code == 422
    assert sentence in said
    assert 'value="Sea round"' in said
    assert not Bead.objects.exists()


def test_a_mould_too_big_for_every_kiln_is_said_at_the_mould(kiln_keeper):
    page = kiln_keeper.post(ADD, typed(mould=make_mould("Huge", places=40).pk))
    assert "the largest kiln has 12" in str(page.context["form"].errors["mould"])


def test_a_mould_nobody_owns_makes_no_bead(kiln_keeper):
    page = kiln_keeper.post(ADD, typed(mould=make_mould("Lent away", owned=0).pk))
    assert "is owned" in str(page.context["form"].errors["mould"])


def test_a_mould_of_another_size_is_said_at_the_mould(kiln_keeper):
    page = kiln_keeper.post(ADD, typed(diameter_mm="14"))
    assert "10 mm across and this one is 14 mm" in str(page.context["form"].errors["mould"])


def test_a_firing_no_kiln_reaches_is_said_at_the_firing(kiln_keeper):
    hot = make_programme("Too hot", kind="fused", hold_c=1200, from_c=1150, to_c=1250)
    page = kiln_keeper.post(ADD, typed(programme=hot.pk))
    assert "500 to 1000 °C" in str(page.context["form"].errors["programme"])


def test_a_firing_outside_common_practice_is_warned_about_and_may_be_kept(kiln_keeper):
    # Common practice, no source: powder beads fire 20 to 35 min at 600 to 800 °C.
    odd = make_programme("Long", hold_min=60, from_min=50, to_min=70)
    page = kiln_keeper.post(ADD, typed(programme=odd.pk))
    assert page.status_code == 422 and "unusual" in page.content.decode()
    kiln_keeper.post(ADD, typed(programme=odd.pk, meant="on"))
    assert Bead.objects.get().programme == odd


def test_the_room_shows_how_many_good_beads_are_free(kiln_keeper):
    from stock.services.book import hold

    item = put_beads(make_bead(), 120)
    hold(Balance.objects.get(item=item, place__kind=LocationKind.BEAD_SHELF), 20)
    said = kiln_keeper.get(reverse("stock:beads")).content.decode()
    assert ">100</strong>" in said and "20 promised" in said


def test_the_room_takes_the_same_queries_for_many_beads_as_for_one(
    kiln_keeper, django_assert_max_num_queries
):
    put_beads(make_bead(), 10)
    with django_assert_max_num_queries(30) as one:
        kiln_keeper.get(reverse("stock:beads"))
    for n in range(6):
        put_beads(make_bead(f"Bead {n}"), 10)
    with django_assert_max_num_queries(30) as many:
        kiln_keeper.get(reverse("stock:beads"))
    assert len(many) == len(one)


def test_the_room_shows_some_screens_of_beads_at_a_time_and_finds_the_rest(kiln_keeper):
    first = make_bead("Bead 00")
    for n in range(1, MOST_CARDS + 2):
        make_bead(f"Bead {n:02}", mould=first.mould, programme=first.programme)
    shown = [kiln_keeper.get(reverse("stock:beads"), {"page": n}).context["cards"] for n in (1, 2)]
    assert [len(cards) for cards in shown] == [MOST_CARDS, 2]
    assert shown[1][-1]["bead"].name == f"Bead {MOST_CARDS + 1}"
    found = kiln_keeper.get(reverse("stock:beads"), {"find": "07 bead"}).context["cards"]
    assert [card["bead"].name for card in found] == ["Bead 07"]


def test_moulding_and_finishing_on_the_phone(kiln_keeper):
    put_glass(make_colour(), GlassForm.POWDER, 5)
    bead = make_bead()
    mould = {"bead": bead.pk, "count": "8 dozen", "on": "2026-03-01", "key": str(uuid.uuid4())}
    kiln_keeper.post(reverse("stock:batch_mould"), mould)
    batch = BeadBatch.objects.get()
    assert batch.started == 96
    finish = {
        "good": "90",
        "rejected": "6",
        "rejects_to": "remade",
        "on": "2026-03-02",
        "key": str(uuid.uuid4()),
    }
    kiln_keeper.post(reverse("stock:batch_finish", args=[batch.pk]), finish)
    batch.refresh_from_db()
    assert (batch.good, batch.rejected) == (90, 6)
    said = kiln_keeper.get(reverse("stock:batch", args=[batch.pk])).content.decode()
    assert "93.8%" in said  # 90 of 96


def test_the_page_says_what_to_weigh_out_of_each_colour(kiln_keeper):
    green, amber = make_colour("green"), make_colour("amber")
    bead = make_bead(colours={green: Decimal("0.75"), amber: Decimal("0.25")})
    put_glass(green, GlassForm.POWDER, 1)
    typed_so_far = {"bead": bead.pk, "count": "1000"}
    page = kiln_keeper.get(reverse("stock:batch_weigh"), typed_so_far)
    # 1231 mg / 0.98 / 0.98 = 1282 mg each: 1.282 kg, three quarters of it green
    green_part, amber_part = page.context["weigh"]
    assert green_part["mg"] == pytest.approx(961_500, abs=500) and not green_part["short"]
    assert amber_part["mg"] == pytest.approx(320_500, abs=500) and amber_part["short"]
    assert kiln_keeper.get(reverse("stock:batch_weigh")).context["weigh"] == []


def test_more_beads_than_wait_are_refused(kiln_keeper):
    put_glass(make_colour(), GlassForm.POWDER, 5)
    from stock.services.beads import mould_beads

    batch = mould_beads(make_bead(), 50, person=make_person())
    page = kiln_keeper.post(
        reverse("stock:batch_finish", args=[batch.pk]),
        {"good": "49", "rejected": "3", "rejects_to": "glass", "on": "2026-03-02"},
    )
    assert page.status_code == 422
    assert "52 came out and only 50 of this batch wait" in page.content.decode()


def test_moulding_without_the_glass_says_how_much_is_missing(kiln_keeper):
    put_glass(make_colour(), GlassForm.POWDER, "0.05")
    page = kiln_keeper.post(
        reverse("stock:batch_mould"), {"bead": make_bead().pk, "count": "96", "on": "2026-03-01"}
    )
    said = page.content.decode().replace("\xa0", " ")
    assert page.status_code == 422
    assert "green powder needs 0.123 kg and 0.050 kg is free" in said
    assert not BeadBatch.objects.exists()


def test_the_counter_looks_and_does_not_mould(client):
    client.force_login(make_person("counter"))
    assert client.get(reverse("stock:beads")).status_code == 200
    assert client.get(reverse("stock:batch_mould")).status_code == 404
    assert client.post(ADD, typed()).status_code == 404


def test_a_batch_is_taken_back_with_its_counts(kiln_keeper):
    from stock.models import Posting

    put_glass(make_colour(), GlassForm.POWDER, 5)
    from stock.services.beads import log_good_beads, mould_beads

    batch = mould_beads(make_bead(), 50, person=make_person())
    posting = log_good_beads(batch, good=45, rejected=5, person=make_person())
    back = reverse("stock:posting_back", args=[posting.pk])
    assert kiln_keeper.post(back, {"why": ""}).status_code == 422
    kiln_keeper.post(back, {"why": "counted the wrong tray", "key": str(uuid.uuid4())})
    batch.refresh_from_db()
    assert (batch.good, batch.rejected) == (0, 0)
    assert Posting.objects.get(reverses=posting).why == "counted the wrong tray"
    said = kiln_keeper.get(reverse("stock:posting", args=[posting.pk])).content.decode()
    assert "Taken back by" in said


def test_no_more_beads_are_sorted_than_were_begun_even_if_a_count_found_more():
    from django.core.exceptions import ValidationError

    from stock.models import Balance, GlassForm
    from stock.services.beads import log_good_beads, mould_beads
    from stock.services.counting import count_shelf
    from tests.builders import put_glass

    bead, person = make_bead(), make_person()
    put_glass(bead.colours.get().colour, GlassForm.POWDER, 1)
    batch = mould_beads(bead, 10, person=person)
    row = Balance.objects.inside().get(item__batch=batch, quantity__gt=0)
    count_shelf(row.place, {row.item: 12}, person=person, why="two more lay there")
    with pytest.raises(ValidationError, match="begun with 10 beads, and 10 of them"):
        log_good_beads(batch, good=12, rejected=0, person=person)
    batch.refresh_from_db()
    assert (batch.good, batch.rejected) == (0, 0)


@pytest.mark.parametrize("shape", ["dodecahedron", "#zzzzzz", "", "9" * 30, "\x00"])
def test_a_shape_that_nobody_knows_is_told_at_its_box(client, shape):
    client.force_login(make_person("owner"))
    make_bead()
    page = reverse("stock:bead_add")
    boxes = boxes_of(client.get(page).content.decode())
    answer = client.post(page, boxes | {"name": "Odd one", "shape": shape})
    assert answer.status_code == 422
    assert "shape" in answer.context["form"].errors
