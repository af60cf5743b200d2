"""The cost of making in the book: April at Sandbar, worked by hand beside the program.

Sources: IAS 2.10-16, 25, 34; the rows of tests/costing/true_cost_checks.csv.
"""

from datetime import date
from decimal import Decimal as D

import pytest
from django.db.models import Sum

from stock.models import Charge, ChargeName, GlassForm, LocationKind, LossName
from stock.services.beads import log_good_beads
from stock.services.book import reverse_posting
from stock.services.check import first_difference
from stock.services.preparation import prepare_glass, raw_of, ready
from stock.services.standards import Standards
from stock.services.stringing import string_strands, take_apart
from tests.builders import make_rate, put_glass
from tests.costing.checks import agrees, expected
from tests.stock.sandbar import (
    april,
    bring_and_pound,
    fire,
    live_through_april,
    mould,
    sandbar,
    worth,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def place():
    return sandbar()


def charged(posting, *names) -> D:
    return posting.charges.filter(name__in=names).aggregate(sum=Sum("amount"))["sum"] or D(0)


def test_standards_of_the_month(place):
    standards = Standards(april(20))
    agrees("W-MIN", standards.workshop_minute)
    agrees("FILL-1", standards.usual_fill(place.kiln).share)


def test_powder_bears_the_pounding(place):
    bring_and_pound(place)
    made = Charge.objects.get(name="hands", step="Pounding")
    agrees("PREP-MIN", made.minutes)
    agrees("PREP-HANDS", made.amount)
    agrees("PREP-VALUE", worth(item__form="powder"))


def test_a_new_rate_leaves_what_was_posted(place):
    bring_and_pound(place)
    make_rate(
        "Pounding", skill="preparing", basis="kg", minutes_each=30, allowance=D("0.10"),
        setup_min=5, hourly=D("7.92"), valid_from=date(2026, 5, 1),
    )  # fmt: skip
    agrees("PREP-VALUE", worth(item__form="powder"))
    again = prepare_glass(
        [raw_of(place.green, 20_000_000)],
        [ready(place.green, GlassForm.POWDER, 17_460_000)],
        form="powder", person=place.person, on=date(2026, 5, 4),
    )  # fmt: skip
    agrees("RATE-NEW", charged(again.posting, "hands"))


def test_moulded_beads_bear_glass_hands_wear_and_wash(place):
    bring_and_pound(place)
    batch1 = mould(place, place.tide, 160, 352)
    agrees("MOULD-VALUE", worth(item__batch=batch1))
    agrees("MOULD-GLASS", expected("PREP-VALUE") - worth(item__form="powder"))
    batch2 = mould(place, place.night, 48, 168)
    agrees("MOULD-STRIPES", worth(item__batch=batch2))


def test_a_load_puts_in_what_a_usual_one_costs(place):
    bring_and_pound(place)
    batch1, batch2 = mould(place, place.tide, 160, 352), mould(place, place.night, 48, 168)
    fire(place, 1, batch1, 10)
    fire(place, 2, batch2, 4)
    loads = Charge.objects.filter(posting__belongs_kind="load")
    by_load = {
        number: loads.filter(posting__belongs_ref=number).aggregate(sum=Sum("amount"))["sum"]
        for number in "12"
    }
    agrees("FIRE-FULLER", by_load["1"])
    agrees("FIRE-EMPTIER", by_load["2"])
    assert first_difference() is None


def test_april_from_sack_to_sale(place):
    live_through_april(place)
    rejects = worth(item__form="rejects")
    agrees("SORT-SCRAP", rejects)
    agrees("SORT-GOOD", worth(item__batch=place.batch1) + D("43.536141"))
    sold = -charged(place.sale, "sold")
    agrees("SALE-COST", sold)
    agrees("STRING-VALUE", sold + worth(item=place.bracelet))
    agrees("COUNT-SHORT", -charged(place.count, "count"))
    agrees("CLOSING", worth())
    assert first_difference() is None


def test_what_is_put_in_less_what_leaves_is_what_is_there(place):
    live_through_april(place)
    by_name = dict(Charge.objects.values_list("name").annotate(Sum("amount")).order_by())
    put_in = sum(by_name.get(n, 0) for n in ("glass", "hands", "workshop", "fuel", "wear"))
    put_in += by_name["moulds"] + by_name["materials"]
    agrees("ST-PUT", put_in)
    assert sum(by_name.values()) == worth()


def test_stringing_taken_back_gives_everything_back_as_it_came(place):
    bring_and_pound(place)
    batch = mould(place, place.tide, 160, 352)
    fire(place, 1, batch, 10)
    log_good_beads(batch, good=148, rejected=12, person=place.person, on=april(6))
    before = worth(item__batch=batch)
    from stock.services.places import strand_item

    item = strand_item("Harbour bracelet")
    strung = string_strands(
        item, 8, {place.tide: 120}, person=place.person, on=april(7), findings=D("0.30")
    )
    assert worth(item=item) == expected("STRING-VALUE")
    back = reverse_posting(strung, person=place.person, why="wrong design", on=april(7))
    assert (worth(item=item), worth(item__batch=batch)) == (0, before)
    for name, amount in (("hands", "7.20"), ("workshop", "4.80"), ("materials", "2.40")):
        assert charged(back, name) == -D(amount)
    assert first_difference() is None


def test_every_act_of_april_can_be_taken_back_to_an_empty_book(place):
    live_through_april(place)
    from stock.models import Posting, PostingKind
    from stock.services.undo import take_back

    for posting in Posting.objects.filter(on__gte=april(1)).order_by("-pk"):
        if posting.kind == PostingKind.SACK:
            take_back(posting, person=place.person, why="all again")
        else:
            reverse_posting(posting, person=place.person, why="all again", on=april(30))
        assert first_difference() is None
    assert worth() == 0
    totals = Charge.objects.filter(on__gte=april(1)).values_list("name").annotate(Sum("amount"))
    assert {name for name, total in totals if total} == set()


def test_an_accident_in_a_preparation_bears_its_part_of_glass_and_work(place):
    put_glass(place.green, GlassForm.RAW, 10, value="1.60", on=april(1))
    make_rate(  # 7.2 kg × 33.3 min × 0.25 = 59.94
        "Pounding", skill="preparing", basis="kg", minutes_each=30, allowance=D("0.11"),
        setup_min=0, hourly=D("7.20"), valid_from=april(1),
    )  # fmt: skip
    made = prepare_glass(
        [raw_of(place.green, 10_000_000)],
        [ready(place.green, GlassForm.POWDER, 7_200_000)],
        form="powder", person=place.person, on=april(2),
        losses={LossName.ACCIDENT: 800_000, LossName.DUST: 2_000_000},
    )  # fmt: skip
    agrees("ACC-PREP", -charged(made.posting, "accident"))
    assert first_difference() is None


def test_two_rates_meet_on_one_shelf_in_a_weighted_average(place):
    item = put_glass(place.green, GlassForm.POWDER, D("17.108"), value="145.501286", on=april(1))
    put_glass(place.green, GlassForm.POWDER, D("8.730"), value="76.150000", on=april(2))
    agrees("AVG-RATES", round(worth(item=item) / D("25.838"), 6))


def test_rejects_beyond_the_usual_and_broken_beads_are_expensed(place):
    """ABN: limit 23 of 160; 17 beyond it and 2 broken bear what a good one costs."""
    put_glass(place.green, GlassForm.POWDER, 1, value=60, on=april(1))
    batch = mould(place, place.tide, 160, 1000)
    value = worth(item__batch=batch)
    posting = log_good_beads(
        batch, good=118, rejected=40, broken=2, person=place.person, on=april(6)
    )
    work = charged(posting, "hands", "workshop")
    scrap = worth(item__form="rejects")
    each = (value + work - 23 * scrap / 40) / 137
    assert abs(-charged(posting, "accident") - 2 * each) < D("0.000002")
    assert abs(-charged(posting, "beyond") - 17 * (each - scrap / 40)) < D("0.000002")
    assert worth(item__batch=batch) == value + work - scrap + charged(posting, "accident", "beyond")
    assert first_difference() is None


def test_a_spoiled_load_leaves_only_its_scrap(place):
    put_glass(place.green, GlassForm.POWDER, 1, value=60, on=april(1))
    batch = mould(place, place.tide, 160, 352)
    value = worth(item__batch=batch)
    posting = log_good_beads(
        batch, good=0, rejected=160, person=place.person, on=april(6), spoiled=True
    )
    scrap = worth(item__form="rejects")
    assert charged(posting, *ChargeName.values) == charged(posting, "spoiled") == scrap - value
    assert first_difference() is None


def test_beads_taken_off_the_cord_carry_what_they_did_and_the_stringing_is_expensed(place):
    live_through_april(place)
    each = expected("SORT-GOOD") / 148
    before = worth(item__batch=place.batch1)
    two = worth(item=place.bracelet)
    posting = take_apart(place.bracelet, 2, person=place.person, on=april(30))
    gained = worth(item__batch=place.batch1) - before
    assert abs(gained - 30 * each) < D("0.000002")
    assert -charged(posting, "apart") == two - gained
    assert first_difference() is None


def test_the_set_up_of_a_step_is_borne_once_an_order(place):
    bring_and_pound(place)
    from stock.services.beads import mould_beads

    def moulded():
        mould_beads(place.tide, 16, person=place.person, on=april(3), belongs=("order", "7"))
        return Charge.objects.filter(name="hands", step="Moulding").latest("pk")

    first, second = moulded(), moulded()
    assert (first.setup_min, second.setup_min) == (8, 0)
    assert first.minutes - second.minutes == 8
    reverse_posting(first.posting, person=place.person, why="spilt", on=april(3))
    assert moulded().setup_min == 8  # the first standing posting bears it


def test_a_shelf_is_worth_nothing_once_it_is_empty_and_found_goods_are_worth_what_lies_there(place):
    from stock.models import Balance
    from stock.services.counting import count_shelf

    item = put_glass(place.green, GlassForm.POWDER, 4, value=8, on=april(1))
    shelf = Balance.objects.get(item=item, place__kind=LocationKind.GLASS_SHELF).place
    count_shelf(shelf, {item: 5_000_000}, person=place.person, why="found", on=april(2))
    assert worth(item=item) == 10
    count_shelf(shelf, {item: 0}, person=place.person, why="gone", on=april(3))
    assert worth(item=item) == 0
    count_shelf(shelf, {item: 1_000_000}, person=place.person, why="found again", on=april(4))
    assert worth(item=item) == 2  # what the last of it was worth
    assert first_difference() is None
