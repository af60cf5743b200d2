"""One batch followed through the book, from the collector's sack to the trader's hands."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.utils import timezone

from stock.models import Balance, GlassForm, LocationKind, Movement, Posting, PostingKind
from stock.services.apart import clear_sack
from stock.services.beads import load_beads, log_good_beads, mould_beads, paint_beads, unload_beads
from stock.services.book import GlassNotConserved, NotEnough, reverse_posting
from stock.services.convert import Taken
from stock.services.payouts import pay_collector
from stock.services.places import batch_item, glass_item, strand_item, usual_place
from stock.services.preparation import prepare_glass, raw_of, ready
from stock.services.sacks import sort_glass, weigh_in_sack
from stock.services.stringing import hand_over, string_strands, take_apart
from tests.builders import make_bead, make_collector, make_colour, make_person

pytestmark = pytest.mark.django_db
KG = 1_000_000


def sack(colour="green", **given):
    usual = {"gross_g": 10_500, "tare_g": 500, "dirt_share": Decimal(0), "person": make_person()}
    return weigh_in_sack(
        make_collector(), colour=make_colour(colour) if colour else None, **(usual | given)
    )


def at(item, kind):
    return sum(row.quantity for row in Balance.objects.filter(item=item, place__kind=kind))


def powder(kg=Decimal(8), colour="green"):
    prepare_glass(
        [raw_of(make_colour(colour), 10 * KG)],
        [ready(make_colour(colour), GlassForm.POWDER, int(kg * KG))],
        form=GlassForm.POWDER,
        person=make_person(),
    )


def fired_batch(count=100):
    sack()
    powder()
    batch = mould_beads(make_bead(), count, person=make_person())
    load_beads(batch, count, person=make_person())
    unload_beads(batch, count, person=make_person())
    return batch


def test_a_sack_of_ten_kilograms_puts_ten_kilograms_in_the_yard():
    sack()
    assert at(glass_item(make_colour(), GlassForm.RAW), LocationKind.YARD) == 10 * KG


def test_what_preparation_does_not_give_back_is_posted_as_lost():
    sack()
    powder(Decimal("8.7"))
    lost = Movement.objects.get(loss="unweighed")
    assert lost.quantity == 1_300_000  # 10 kg in, 8.7 kg out
    assert lost.value == 0  # normal loss: its cost stays in the powder


def test_the_cost_of_normal_loss_stays_in_the_powder():
    sack(price_per_kg=Decimal("0.30"))  # 10 kg, 3.00 paid
    powder(Decimal("8"))
    shelf = Balance.objects.get(
        item=glass_item(make_colour(), GlassForm.POWDER), place__kind=LocationKind.GLASS_SHELF
    )
    assert shelf.value == Decimal("3.00")


def test_a_preparation_cannot_give_more_than_went_in():
    sack()
    with pytest.raises(GlassNotConserved) as refused:
        powder(Decimal("10.5"))
    assert "10.500" in str(refused.value) and "10.000" in str(refused.value)
    assert Posting.objects.count() == 1  # only the sack


def test_two_colours_prepared_together_lose_glass_each_by_its_own_colour():
    sack("green")
    sack("amber")
    prepare_glass(
        [raw_of(make_colour("green"), 10 * KG), raw_of(make_colour("amber"), 5 * KG)],
        [
            ready(make_colour("green"), GlassForm.POWDER, 9 * KG),
            ready(make_colour("amber"), GlassForm.CHUNKS, 3 * KG),
        ],
        form=GlassForm.POWDER,
        losses={"dust": 1_500_000},
        person=make_person(),
    )
    lost = {
        (m.item.colour.name, m.loss): m.quantity
        for m in Movement.objects.filter(to_place__kind=LocationKind.LOST)
    }
    # green lost 1 kg and amber 2 kg, so dust and the unweighed rest fall 1 : 2
    assert lost == {
        ("green", "dust"): 500_000,
        ("amber", "dust"): 1_000_000,
        ("green", "unweighed"): 500_000,
        ("amber", "unweighed"): 1_000_000,
    }


def test_a_mixed_sack_is_sorted_into_its_colours():
    sack(None)
    sort_glass(
        {make_colour("green"): 6000, make_colour("amber"): 3500},
        taken_g=10_000,
        person=make_person(),
    )
    assert at(glass_item(make_colour("amber"), GlassForm.RAW), LocationKind.YARD) == 3_500_000
    assert at(glass_item(None, GlassForm.RAW), LocationKind.YARD) == 0


def test_moulding_takes_the_glass_the_beads_need_and_names_what_is_spilt():
    sack()
    powder()
    batch = mould_beads(make_bead(), 100, person=make_person())
    # 10 mm ball with a 2 mm bore: (pi/6)(100 - 4)^1.5 = 492.5 mm3, 1231 mg at 2.5 g/cm3;
    # / 0.98 polishing / 0.98 spill = 1282 mg weighed out for each bead
    taken = Movement.objects.get(posting__kind=PostingKind.MOULDING, to_place__kind="work")
    assert taken.quantity == pytest.approx(128_200, abs=100)
    spilt = Movement.objects.get(loss="spill")
    assert spilt.quantity == pytest.approx(taken.quantity * 0.02, abs=1)
    beads = Balance.objects.get(item=batch_item(batch), place__kind=LocationKind.BENCH)
    assert beads.quantity == 100
    assert beads.glass_mg == taken.quantity - spilt.quantity


def test_good_beads_go_to_the_shelf_and_rejects_are_glass_again():
    batch = fired_batch()
    log_good_beads(batch, good=92, rejected=8, person=make_person())
    shelf = Balance.objects.get(item=batch_item(batch), place__kind=LocationKind.BEAD_SHELF)
    assert shelf.quantity == 92
    assert shelf.glass_mg / 92 == pytest.approx(1231, abs=1)  # the finished bead
    rejects = at(glass_item(make_colour(), GlassForm.REJECTS), LocationKind.GLASS_SHELF)
    assert rejects / 8 == pytest.approx(1231 / 0.98, abs=1)
    batch.refresh_from_db()
    assert (batch.good, batch.rejected) == (92, 8)


def test_what_the_hole_takes_is_lost_in_piercing_and_the_good_bead_weighs_what_it_should():
    sack()
    powder()
    bead = make_bead(pierced_hot=True, pierced_waste=Decimal("0.05"))
    batch = mould_beads(bead, 100, person=make_person())
    log_good_beads(batch, good=90, rejected=10, person=make_person())
    # 1231 mg finished, / 0.98 polished, / 0.95 pierced = 1322 mg fired for each of the 100
    pierced = Movement.objects.get(loss="piercing").quantity
    assert pierced / 100 == pytest.approx(1231 / 0.98 / 0.95 * 0.05, abs=1)
    shelf = Balance.objects.get(item=batch_item(batch), place__kind=LocationKind.BEAD_SHELF)
    assert shelf.glass_mg / 90 == pytest.approx(1231, abs=1)


def test_two_people_cannot_finish_the_same_beads():
    batch = fired_batch()
    log_good_beads(batch, good=92, rejected=8, person=make_person())
    with pytest.raises(NotEnough) as refused:
        log_good_beads(batch, good=92, rejected=8, person=make_person("bench"))
    assert "100" in str(refused.value) and "0 is free" in str(refused.value)


def test_a_painted_bead_goes_to_painting_and_is_sorted_a_second_time():
    from tests.builders import make_programme

    sack()
    powder()
    bead = make_bead(
        kind="painted", second_programme=make_programme("Paint", hold_c=580, from_c=560)
    )
    batch = mould_beads(bead, 50, person=make_person())
    log_good_beads(batch, good=48, rejected=2, person=make_person())
    assert at(batch_item(batch), LocationKind.BEAD_SHELF) == 0
    paint_beads(batch, person=make_person())
    log_good_beads(batch, good=45, rejected=3, person=make_person())
    batch.refresh_from_db()
    assert at(batch_item(batch), LocationKind.BEAD_SHELF) == 45
    assert (batch.good, batch.rejected) == (45, 5)


def test_strands_carry_the_glass_of_their_beads_and_can_be_taken_apart():
    batch = fired_batch()
    bead = batch.bead
    log_good_beads(batch, good=90, rejected=10, person=make_person())
    before = Balance.objects.get(
        item=batch_item(batch), place__kind=LocationKind.BEAD_SHELF
    ).glass_mg
    strand = strand_item("Harbour bracelet")
    string_strands(strand, 3, {bead: 60}, person=make_person())
    strung = Balance.objects.get(item=strand, place__kind=LocationKind.STRAND_SHELF)
    assert strung.quantity == 3
    assert strung.glass_mg == pytest.approx(before * 60 / 90, abs=1)
    take_apart(strand, 1, person=make_person())
    assert at(batch_item(batch), LocationKind.BEAD_SHELF) == 50
    hand_over(
        [Taken(strand, usual_place(LocationKind.STRAND_SHELF), 2)],
        person=make_person(),
        why="order 7 collected",
        belongs=("order", "7"),
    )
    assert at(strand, LocationKind.SOLD) == 2
    glass_in = Balance.objects.filter(place__kind=LocationKind.COLLECTORS).get().glass_mg
    elsewhere = Balance.objects.exclude(place__kind__in=["collectors", "work"])
    assert sum(row.glass_mg for row in elsewhere) == -glass_in == 10 * KG


def test_stringing_more_than_there_is_says_what_is_missing():
    batch = fired_batch()
    log_good_beads(batch, good=90, rejected=10, person=make_person())
    with pytest.raises(ValidationError) as refused:
        string_strands(strand_item("Long"), 5, {batch.bead: 100}, person=make_person())
    assert "Make 10 more" in str(refused.value)


def test_a_mistaken_posting_is_reversed_by_one_that_names_it():
    batch = fired_batch()
    posting = log_good_beads(batch, good=90, rejected=10, person=make_person())
    undone = reverse_posting(posting, person=make_person(), why="counted wrong")
    assert undone.reverses == posting
    assert at(batch_item(batch), LocationKind.BEAD_SHELF) == 0
    assert at(batch_item(batch), LocationKind.BENCH) == 100
    with pytest.raises(ValidationError):
        reverse_posting(posting, person=make_person(), why="again")


def test_a_reversal_is_refused_when_the_beads_have_gone_on():
    batch = fired_batch()
    posting = log_good_beads(batch, good=90, rejected=10, person=make_person())
    string_strands(strand_item("Reed"), 1, {batch.bead: 30}, person=make_person())
    with pytest.raises(NotEnough):
        reverse_posting(posting, person=make_person(), why="counted wrong")


def test_old_beads_wait_apart_until_they_are_cleared():
    old = sack(origin="old-beads")
    apart, green = glass_item(old.colour, "raw"), glass_item(make_colour(), GlassForm.RAW)
    assert (at(apart, LocationKind.APART), at(green, LocationKind.YARD)) == (10 * KG, 0)
    clear_sack(old, person=make_person(), why="our own beads")
    assert (at(apart, LocationKind.APART), at(green, LocationKind.YARD)) == (0, 10 * KG)


def test_ivory_is_refused_with_a_pointer_to_cites():
    with pytest.raises(ValidationError) as refused:
        sack(note="two ivory bangles among the beads")
    assert "CITES" in str(refused.value)


def test_paying_a_collector_pays_every_sack_owed_once():
    sack(price_per_kg=Decimal("0.25"))
    sack(price_per_kg=Decimal("0.10"))
    assert pay_collector(make_collector(), person=make_person()).total == Decimal("3.50")
    with pytest.raises(ValidationError):
        pay_collector(make_collector(), person=make_person())


def test_a_back_dated_taking_must_leave_every_later_day_with_enough():
    days_ago = lambda days: timezone.localdate() - timedelta(days=days)  # noqa: E731
    sack(received_on=days_ago(10))

    def prepare(kg, on):
        prepare_glass(
            [raw_of(make_colour(), kg * KG)],
            [ready(make_colour(), GlassForm.CHUNKS, kg * KG // 2)],
            form=GlassForm.CHUNKS,
            person=make_person(),
            on=on,
        )

    prepare(9, days_ago(5))  # from then on 1 kg is left
    sack()  # 10 kg more, but only today
    with pytest.raises(ValidationError) as refused:
        prepare(2, days_ago(7))
    assert "Choose a later day" in str(refused.value) and "1.000" in str(refused.value)
    prepare(1, days_ago(7))
    prepare(10, days_ago(0))


def test_the_same_key_posts_once():
    import uuid

    sack()
    powder()
    key, bead = uuid.uuid4(), make_bead()
    one = mould_beads(bead, 10, person=make_person(), key=key)
    again = mould_beads(bead, 10, person=make_person(), key=key)
    assert one == again
    assert Posting.objects.filter(kind=PostingKind.MOULDING).count() == 1
