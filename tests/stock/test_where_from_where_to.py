"""A strand followed back to its sacks, and a sack followed on to its strands."""

from contextlib import suppress
from decimal import Decimal
from fractions import Fraction
from random import Random
from xml.etree import ElementTree

import pytest
from django.core.exceptions import ValidationError
from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from stock.models import GlassForm, LocationKind, Movement, Posting, PostingKind, Sack
from stock.services.beads import load_beads, log_good_beads, mould_beads, unload_beads
from stock.services.book import post, reverse_posting
from stock.services.convert import Taken
from stock.services.moves import Move
from stock.services.places import strand_item, usual_place
from stock.services.preparation import prepare_glass, raw_of, ready
from stock.services.sacks import weigh_in_sack
from stock.services.stringing import hand_over, string_strands, take_apart
from stock.trail import Tracker, standing
from stock.trail_picture import trail_picture
from tests.builders import make_bead, make_collector, make_colour, make_person
from tests.stock import long_way_trail

pytestmark = pytest.mark.django_db
KG = 1_000_000


def sack(kg, colour="green", **given):
    return weigh_in_sack(
        make_collector(),
        colour=make_colour(colour),
        gross_g=kg * 1000,
        dirt_share=Decimal(0),
        person=make_person(),
        **given,
    )


def powder(in_kg, out_kg, colour="green"):
    return prepare_glass(
        [raw_of(make_colour(colour), int(in_kg * KG))],
        [ready(make_colour(colour), GlassForm.POWDER, int(out_kg * KG))],
        form=GlassForm.POWDER,
        person=make_person(),
    )


def beads(bead, count, good):
    batch = mould_beads(bead, count, person=make_person())
    load_beads(batch, count, person=make_person(), load="31")
    unload_beads(batch, count, person=make_person(), load="31")
    log_good_beads(batch, good=good, rejected=count - good, person=make_person())
    return batch


def sold_strands(bead, strands, each, sold):
    item = strand_item("Harbour")
    string_strands(item, strands, {bead: strands * each}, person=make_person())
    hand_over(
        [Taken(item, usual_place(LocationKind.STRAND_SHELF), sold)],
        person=make_person(),
        why="order 5",
        belongs=("order", "5"),
    )
    return Movement.objects.get(to_place__kind=LocationKind.SOLD)


def sacks_behind(movement):
    trail = Tracker().back(movement)
    return {
        Sack.objects.get(posting_id=posting).number: mg
        for (_kind, _loss, posting), mg in trail.ends.items()
    }


def test_a_strand_of_one_sack_comes_from_that_sack_alone():
    sack(2)
    sack(2)
    powder(2, Decimal("1.8"))
    sold = sold_strands(beads(make_bead(), 100, 90).bead, 3, 20, 3)
    assert sacks_behind(sold) == {1: sold.glass_mg}


def test_powder_of_two_sacks_carries_both_in_proportion_to_what_was_taken():
    sack(1)
    sack(3)
    powder(2, 2)  # all of the first kilogram and one of the second sack's
    bead = make_bead(spill_share=Decimal(0), polishing_loss=Decimal(0))
    batch = mould_beads(bead, 100, glass=[Taken(*_powder_heap(), 2 * KG)], person=make_person())
    log_good_beads(batch, good=100, rejected=0, person=make_person())
    sold = sold_strands(bead, 1, 100, 1)
    assert sacks_behind(sold) == {1: KG, 2: KG}


def _powder_heap():
    from stock.services.places import glass_item

    return glass_item(make_colour(), GlassForm.POWDER), usual_place(LocationKind.GLASS_SHELF)


def test_a_two_coloured_bead_comes_from_sacks_of_both_colours():
    sack(2, "green")
    sack(2, "amber")
    powder(2, 2, "green")
    powder(2, 2, "amber")
    green, amber = make_colour("green"), make_colour("amber")
    bead = make_bead(colours={green: Decimal("0.75"), amber: Decimal("0.25")})
    sold = sold_strands(beads(bead, 100, 100).bead, 2, 50, 2)
    behind = sacks_behind(sold)
    assert sum(behind.values()) == sold.glass_mg
    assert float(behind[1] / sold.glass_mg) == pytest.approx(0.75, abs=1e-5)


def test_every_milligram_of_a_sack_is_found_somewhere():
    one, _two = sack(2), sack(2)
    powder(3, Decimal("2.7"))
    sold_strands(beads(make_bead(), 100, 90).bead, 4, 20, 2)
    trail = Tracker().forward(one.posting.movements.get())
    assert trail.whole_mg == 2 * KG
    kinds = {kind for kind, _loss, _posting in trail.ends}
    assert {LocationKind.SOLD, LocationKind.LOST, LocationKind.STRAND_SHELF} <= kinds


def test_back_and_forth_agree_to_the_milligram():
    # The book weighs pieces in whole milligrams, so five strands of seven may differ by one.
    sacks = [sack(1), sack(1), sack(2)]
    powder(Decimal("1.5"), Decimal("1.35"))
    powder(Decimal("1.5"), Decimal("1.30"))
    bead = make_bead()
    beads(bead, 130, 117)
    beads(bead, 90, 80)
    sold = sold_strands(bead, 7, 25, 5)
    behind = sacks_behind(sold)
    for each in sacks:
        ahead = Tracker().forward(each.posting.movements.get())
        into_sold = sum(
            (mg for (kind, _l, _p), mg in ahead.ends.items() if kind == LocationKind.SOLD),
            Fraction(0),
        )
        assert abs(into_sold - behind.get(each.number, 0)) <= 1


def came_back(item):
    """One strand of the last hand-over comes back to the shelf as it left."""
    sold, shelf = usual_place(LocationKind.SOLD), usual_place(LocationKind.STRAND_SHELF)
    left = standing().filter(item=item, to_place=sold).order_by("pk").last()
    if left is None:
        raise ValidationError("Nobody has one.")
    glass = left.glass_mg // left.quantity
    move = Move(item, sold, shelf, 1, glass, left.value / left.quantity)
    return post(
        PostingKind.RETURN, [move], on=timezone.localdate(), person=make_person(), why="came back",
        belongs=("order", "5"),
    )  # fmt: skip


def test_glass_of_a_strand_that_came_back_lies_on_the_shelf_again():
    one = sack(2)
    powder(2, 2)
    sold = sold_strands(beads(make_bead(), 100, 100).bead, 4, 20, 4)
    each = Fraction(sold.glass_mg, 4)
    ahead = Tracker().forward(one.posting.movements.get())
    assert ahead.ends[LocationKind.SOLD, "", sold.posting_id] == sold.glass_mg
    came_back(sold.item)
    ahead = Tracker().forward(one.posting.movements.get())
    assert ahead.ends[LocationKind.SOLD, "", sold.posting_id] == 3 * each
    assert ahead.ends[LocationKind.STRAND_SHELF, "", 0] == each
    assert ahead.whole_mg == 2 * KG


def test_the_trail_names_the_load_the_beads_were_fired_in():
    sack(2)
    powder(2, 2)
    sold = sold_strands(beads(make_bead(), 100, 100).bead, 1, 20, 1)
    trail = Tracker().back(sold)
    kinds = set(Posting.objects.filter(pk__in=trail.by_posting).values_list("kind", flat=True))
    assert kinds == {
        "sack", "preparation", "moulding", "loading", "firing", "finishing", "stringing",
    }  # fmt: skip
    assert Posting.objects.filter(pk__in=trail.by_posting, belongs_ref="31").exists()


def muddled_book(seed):
    """Sacks, preparations, batches, strands and mistakes taken back, in no tidy order."""
    dice = Random(seed)
    bead, item = make_bead(), strand_item("Muddle")
    remade = make_bead("Remade", kind="remade")
    shelf = usual_place(LocationKind.STRAND_SHELF)
    sack(8), powder(3, Decimal("2.7"))

    def act():
        return [
            lambda: sack(dice.randint(1, 3)),
            lambda: powder(dice.randint(1, 2), Decimal("0.9")),
            lambda: beads(bead, dice.randint(30, 90), 25),
            lambda: beads(remade, dice.randint(5, 15), 4),
            lambda: string_strands(item, 2, {bead: dice.randint(2, 30)}, person=make_person()),
            lambda: take_apart(item, 1, person=make_person()),
            lambda: hand_over([Taken(item, shelf, 1)], person=make_person(), why="sold",
                              belongs=("order", "5")),
            lambda: came_back(item),
            lambda: reverse_posting(dice.choice(list(Posting.objects.order_by("-pk")[:9])),
                                    person=make_person(), why="a slip"),
        ]  # fmt: skip

    for _turn in range(60):
        with suppress(ValidationError), transaction.atomic():
            dice.choice(act())()


@pytest.mark.parametrize("seed", [1, 2])
def test_the_quick_trail_is_the_long_one_to_the_last_fraction(seed):
    muddled_book(seed)
    rows = standing().select_related("item", "from_place", "to_place").order_by("-pk")
    met = 0
    for movement in rows[:40]:
        if movement.from_place.inside:
            quick = Tracker().back(movement)
            assert (quick.by_posting, quick.ends) == long_way_trail.back(movement)
            met += 1
        if movement.to_place.inside:
            quick = Tracker().forward(movement)
            assert (quick.by_posting, quick.ends) == long_way_trail.forward(movement)
    assert met > 10 and Posting.objects.filter(kind="reversal").exists()


def test_what_comes_to_a_stop_along_the_cords_is_what_passes_through_it():
    sack(1), sack(3)
    powder(2, Decimal("1.8"))
    sold = sold_strands(beads(make_bead(), 100, 90).bead, 3, 20, 3)
    for trail in (Tracker().back(sold), Tracker().forward(_first_sack_in())):
        came: dict[int, Fraction] = {}
        for (start, end), mg in trail.cords.items():
            assert start < end  # glass is taken after it was laid there
            came[end] = came.get(end, Fraction(0)) + mg
        assert came and all(trail.by_posting.get(key, mg) == mg for key, mg in came.items())


def _first_sack_in() -> Movement:
    return Movement.objects.filter(posting__kind=PostingKind.SACK).order_by("pk")[0]


def test_the_way_of_a_strand_is_drawn_from_the_sack_down_and_passes_over_mere_carrying():
    sack(2)
    powder(2, Decimal("1.8"))
    sold = sold_strands(beads(make_bead(), 100, 90).bead, 3, 20, 3)
    picture = trail_picture(
        Tracker().back(sold), title="Harbour", page_of=lambda posting, _sack: f"/to/{posting.pk}/"
    )
    root = ElementTree.fromstring(picture.wide)
    said = [node.text for node in root.iter() if node.tag.endswith("text")]
    steps = ["Sacks", "Preparation", "Moulding", "Firing", "Finishing", "Stringing", "Collected"]
    assert [line for line in said if line in steps] == steps
    assert {"sack 1", "load 31", "order 5"} <= set(said)
    # Into the kiln is no stop of its own.
    loading = Posting.objects.get(kind=PostingKind.LOADING)
    leads = [node.get("href") for node in root.iter() if node.get("href")]
    assert len(leads) == 7 and f"/to/{loading.pk}/" not in leads


def test_more_stops_than_can_be_named_share_a_hollow_bead():
    for _bottle in range(8):
        sack(1)
    powder(8, 7)  # an eighth is lost: the powder is of the first seven
    heavy = Movement.objects.get(posting__kind=PostingKind.PREPARATION, item__form="powder")
    picture = trail_picture(Tracker().back_from_work(heavy), title="Powder", named=False)
    assert "4 more" in picture.narrow and "more" not in picture.wide
    assert "sack 1" not in picture.narrow


def test_a_batch_knows_its_way_from_the_sack_to_the_buyer(client):
    sack(2)
    powder(2, Decimal("1.8"))
    batch = beads(make_bead(), 100, 90)
    sold_strands(batch.bead, 3, 20, 3)
    client.force_login(make_person("owner"))
    page = client.get(reverse("stock:batch", args=[batch.pk])).content.decode()
    assert "sack 1" in page and "order 5" in page and "load 31" in page


def test_a_trail_takes_as_many_queries_in_a_long_life_as_in_a_short_one(
    django_assert_max_num_queries,
):
    bead = make_bead()
    for _turn in range(12):
        sack(1), powder(1, Decimal("0.9"))
        beads(bead, 40, 36)
    sold = sold_strands(bead, 8, 50, 8)
    # One for the places, and three for each of eight steps from the strand to the sack.
    with django_assert_max_num_queries(25):
        trail = Tracker().back(sold)
    assert len(trail.by_posting) > 40
