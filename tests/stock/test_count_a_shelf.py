"""Counting a shelf, what to count next, and when to collect more."""

import uuid
from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone

from stock.models import Balance, GlassForm, LocationKind, Posting, StockCount
from stock.reports import counts_a_year, cycle_counts, reorder_points
from stock.services.book import hold
from stock.services.counting import count_shelf
from tests.builders import make_bead, make_colour, make_person, put_beads, put_glass

pytestmark = pytest.mark.django_db


@pytest.fixture
def tray():
    """120 beads of one batch on the bead shelf."""
    item = put_beads(make_bead(), 120)
    return Balance.objects.select_related("item", "place").get(
        item=item, place__kind=LocationKind.BEAD_SHELF
    )


def test_three_beads_fewer_become_a_posting_with_its_reason(tray):
    posting = count_shelf(tray.place, {tray.item: 117}, person=make_person(), why="dropped")
    tray.refresh_from_db()
    assert tray.quantity == 117
    moved = posting.movements.get()
    assert (moved.quantity, moved.to_place.kind) == (3, LocationKind.DIFFERENCE)
    assert (posting.why, StockCount.objects.get().booked) == ("dropped", 120)


def test_beads_found_weigh_and_cost_what_the_others_do(tray):
    count_shelf(tray.place, {tray.item: 126}, person=make_person(), why="behind the tray")
    before = tray.glass_mg
    tray.refresh_from_db()
    assert (tray.quantity, tray.glass_mg) == (126, before * 126 // 120)


def test_a_count_as_the_book_says_is_remembered_and_posts_nothing(tray):
    assert count_shelf(tray.place, {tray.item: 120}, person=make_person(), why="") is None
    assert Posting.objects.filter(kind="count").count() == 0
    assert StockCount.objects.get().found == 120


def test_a_difference_without_a_reason_is_refused(tray):
    with pytest.raises(ValidationError) as refused:
        count_shelf(tray.place, {tray.item: 117}, person=make_person(), why=" ")
    assert "Say why" in str(refused.value)
    assert not StockCount.objects.exists()


def test_a_count_below_what_is_promised_is_refused(tray):
    hold(tray, 100)
    with pytest.raises(ValidationError) as refused:
        count_shelf(tray.place, {tray.item: 90}, person=make_person(), why="gone")
    assert "100 are promised" in str(refused.value)


def test_a_shelf_that_changed_while_it_was_counted_is_counted_again(tray):
    with pytest.raises(ValidationError) as refused:
        count_shelf(
            tray.place,
            {tray.item: 110},
            expected={tray.item_id: 130},
            person=make_person(),
            why="x",
        )
    assert "changed while it was counted" in str(refused.value)


def test_the_page_books_what_differs_and_leaves_empty_boxes_alone(client, tray):
    other = put_beads(make_bead("Other"), 50)
    client.force_login(make_person("bench"))
    page = reverse("stock:count", args=[tray.place_id])
    sent = {
        f"item_{tray.item_id}": "118",
        f"was_{tray.item_id}": "120",
        f"item_{other.pk}": "",
        f"was_{other.pk}": "50",
        "why": "two were cracked",
        "on": timezone.localdate().isoformat(),
        "key": str(uuid.uuid4()),
    }
    client.post(page, sent)
    tray.refresh_from_db()
    assert tray.quantity == 118
    assert StockCount.objects.count() == 1
    assert "counted" in client.get(reverse("stock:count_list")).content.decode().lower()


def test_what_is_used_most_is_counted_most_often():
    # Limits 80 / 95 / 100 % of cumulative usage value (ABC: CIPS 2020, inventoryturns.com)
    usage = {1: Decimal(50), 2: Decimal(30), 3: Decimal(12), 4: Decimal(5), 5: Decimal(3)}
    assert counts_a_year(usage) == {1: 4, 2: 4, 3: 2, 4: 2, 5: 1}


def test_what_was_counted_is_due_again_after_as_long_as_it_may_wait(tray):
    today = timezone.localdate()
    [before] = cycle_counts(today)
    assert before.is_due(today)
    count_shelf(tray.place, {tray.item: 120}, person=make_person(), why="")
    [after] = cycle_counts(today)
    # Nothing was used, so it is counted once a year.
    assert (after.counts_a_year, after.due_on) == (1, today + timedelta(days=365))


def test_the_reorder_point_covers_the_wait_and_its_spread(client):
    from stock.services.preparation import prepare_glass, raw_of, ready

    colour = make_colour(lead_days=16)
    put_glass(colour, GlassForm.RAW, 100)
    today = timezone.localdate()
    for days in range(0, 90, 2):  # every other day 1 kg: mean 0.5 kg a day, s = 0.5028 kg
        prepare_glass(
            [raw_of(colour, 1_000_000)],
            [ready(colour, GlassForm.POWDER, 900_000)],
            form=GlassForm.POWDER,
            person=make_person(),
            on=today - timedelta(days=days),
        )
    [point] = reorder_points([colour], today)
    assert point.daily_g == pytest.approx(500)
    # 16 × 500 + 1.645 × 502.8 × √16 = 8000 + 3308 = 11,308 g
    assert point.suggested_g == pytest.approx(11_308, abs=2)
    client.force_login(make_person("owner"))
    client.post(reverse("stock:glass_mark_accept", args=[colour.pk]), {"key": str(uuid.uuid4())})
    colour.refresh_from_db()
    assert colour.reorder_g == point.suggested_g
