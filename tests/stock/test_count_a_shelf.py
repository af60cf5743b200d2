"""Counting: by hand, by weight, and what to count next."""

import uuid
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from stock.count_by_weight import CountError, count_by_weight, student_quantile
from stock.models import Balance, GlassForm, Movement, PlaceKind, Posting, StockCount
from stock.reports import abc_letters, cycle_counts, reorder_points
from stock.services.book import hold
from stock.services.counting import count_shelf
from tests.builders import make_bead, make_colour, make_person, put_beads, put_glass

pytestmark = pytest.mark.django_db


@pytest.fixture
def tray():
    """120 beads of one batch on the bead shelf."""
    item = put_beads(make_bead(), 120)
    return Balance.objects.select_related("item", "place").get(
        item=item, place__kind=PlaceKind.BEAD_SHELF
    )


def test_three_beads_fewer_become_a_posting_with_its_reason(tray):
    posting = count_shelf(tray.place, {tray.item: 117}, person=make_person(), why="dropped")
    tray.refresh_from_db()
    assert tray.quantity == 117
    moved = posting.movements.get()
    assert (moved.quantity, moved.to_place.kind) == (3, PlaceKind.DIFFERENCE)
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


# By weight


def test_students_quantile_is_that_of_a_reference_library():
    # Reference: scipy.stats.t
    for freedom in (1, 2, 3, 4, 9, 19, 30, 120):
        assert student_quantile(0.975, freedom) == pytest.approx(stats.t.ppf(0.975, freedom))


def test_a_count_by_weight_worked_by_hand():
    # Ten beads of mean 1.200 g and standard deviation 0.060 g (c = 5 %); net 600 g.
    # N = 600/1.2 = 500; t(9) = 2.262; half = 2.262 × 0.05 × 500 × √(1/10 + 1/500) = 18.06
    sample = [1200 + 60 * z for z in (-1.5, -1, -0.5, -0.25, 0, 0, 0.25, 0.5, 1, 1.5)]
    scale = 60 / (sum((m - 1200) ** 2 for m in sample) / 9) ** 0.5
    sample = [1200 + (m - 1200) * scale for m in sample]
    counted = count_by_weight(600_000, sample_mg=sample)
    assert counted.beads == 500
    assert counted.spread * 500 == pytest.approx(18.06, abs=0.01)
    assert (counted.least, counted.most) == (481, 519)


@given(st.integers(20, 5000), st.integers(10, 200))
def test_a_larger_sample_makes_the_count_surer(beads, sample):
    one = count_by_weight(beads * 1200, sample_beads=sample, sample_total_mg=sample * 1200)
    two = count_by_weight(beads * 1200, sample_beads=4 * sample, sample_total_mg=4 * sample * 1200)
    assert one.beads == two.beads == beads
    assert two.spread < one.spread
    assert one.least <= beads <= one.most


def test_the_interval_holds_about_95_times_in_100():
    """Trays drawn at random with a known count: how often the interval catches it."""
    import random

    draw = random.Random(7)
    caught = 0
    for _tray in range(400):
        sample = [draw.gauss(1200, 72) for _ in range(12)]
        net = sum(draw.gauss(1200, 72) for _ in range(300))
        counted = count_by_weight(net, sample_mg=sample)
        caught += counted.least <= 300 <= counted.most
    # Binomial(400, 0.95): fewer than 365 would happen less than twice in a thousand.
    assert caught >= 365


@pytest.mark.parametrize(
    "given_",
    [
        {"net_mg": 0, "known_mg": 1200},
        {"net_mg": 100, "sample_mg": [1200, -1, 1200]},
        {"net_mg": 100, "sample_mg": [1200, 1201]},
        {"net_mg": 100, "sample_beads": 10},
        {"net_mg": 100},
    ],
)
def test_a_weight_that_no_count_can_be_made_from(given_):
    net = given_.pop("net_mg")
    with pytest.raises(CountError) as refused:
        count_by_weight(net, **given_)
    assert str(refused.value).endswith(".")


def test_a_count_wider_than_the_owner_allows_is_not_booked(client, tray):
    client.force_login(make_person("kiln"))
    page = reverse("stock:count_by_weight")
    sent = {"batch": tray.item_id, "net_g": "140", "sample_beads": "10", "sample_g": "12"}
    said = client.post(page, sent).content.decode()
    assert "the owner allows 2%" in said and 'name="book"' not in said
    client.post(page, sent | {"book": "1", "key": str(uuid.uuid4())})
    tray.refresh_from_db()
    assert tray.quantity == 120


def test_a_sure_count_is_booked_and_the_mean_mass_remembered(client, tray):
    client.force_login(make_person("kiln"))
    sample = " ".join(f"{1.2 + 0.005 * (n % 3 - 1):.3f}" for n in range(30))
    sent = {"batch": tray.item_id, "net_g": "138", "sample_g": sample}
    page = client.post(reverse("stock:count_by_weight"), sent)
    assert page.context["counted"].beads == 115 and page.context["sure"]  # 138 / 1.2
    client.post(reverse("stock:count_by_weight"), sent | {"book": "1", "key": str(uuid.uuid4())})
    tray.refresh_from_db()
    bead = tray.item.batch.bead
    bead.refresh_from_db()
    assert tray.quantity == 115
    assert (bead.weighed_mg, bead.weighed_count) == (1200, 30)


# What to count, and when to collect


def test_classes_by_cumulative_usage_value():
    # Limits 80 / 95 / 100 % of cumulative usage value (ABC: CIPS 2020, inventoryturns.com)
    usage = {1: Decimal(50), 2: Decimal(30), 3: Decimal(12), 4: Decimal(5), 5: Decimal(3)}
    assert abc_letters(usage) == {1: "A", 2: "A", 3: "B", 4: "B", 5: "C"}


def test_what_was_counted_is_due_again_after_its_class_says(tray):
    today = timezone.localdate()
    [before] = cycle_counts(today)
    assert before.is_due(today)
    count_shelf(tray.place, {tray.item: 120}, person=make_person(), why="")
    [after] = cycle_counts(today)
    # Nothing was used, so it is of the last class: once a year.
    assert (after.letter, after.due_on) == ("C", today + timedelta(days=365))


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


def test_every_page_of_the_book_opens(client, tray):
    client.force_login(make_person("owner"))
    for name in ("flow", "value", "glass_marks", "count_list", "strand_list", "posting_list",
                 "place_list", "batch_list", "glass", "beads", "colour_list"):  # fmt: skip
        assert client.get(reverse(f"stock:{name}")).status_code == 200, name


def test_the_flow_of_a_period_shows_what_came_and_what_was_lost(client):
    from stock.reports import glass_flow
    from stock.services.preparation import prepare_glass, raw_of, ready
    from stock.services.sacks import weigh_in_sack
    from tests.builders import make_collector

    weigh_in_sack(
        make_collector(), colour=make_colour(), gross_g=10_000, dirt_share=Decimal(0),
        person=make_person(),
    )  # fmt: skip
    prepare_glass(
        [raw_of(make_colour(), 4_000_000)],
        [ready(make_colour(), GlassForm.POWDER, 3_600_000)],
        form=GlassForm.POWDER,
        losses={"dust": 300_000},
        person=make_person(),
    )
    today = timezone.localdate()
    sacks, glass, *_rest = glass_flow(today, today)
    assert (sacks.reached_mg, glass.reached_mg) == (10_000_000, 3_600_000)
    assert sacks.lost == {"dust": 300_000, "unweighed": 100_000}
    assert sacks.stays_mg == 6_000_000
    [nothing, *_more] = glass_flow(date(2020, 1, 1), date(2020, 2, 1))
    assert nothing.reached_mg == 0
    client.force_login(make_person("owner"))
    wrong = client.get(reverse("stock:flow"), {"start": "2026-05-01", "end": "2026-04-01"})
    assert "swap them" in wrong.content.decode()


def test_a_tag_is_read_by_strangers_only_once_it_is_opened(client):
    from stock.models import StrandTag
    from stock.services.beads import log_good_beads, mould_beads
    from stock.services.places import strand_item
    from stock.services.preparation import prepare_glass, raw_of, ready
    from stock.services.sacks import weigh_in_sack
    from stock.services.stringing import string_strands
    from tests.builders import make_collector

    weigh_in_sack(
        make_collector("Jomo Private"), colour=make_colour(), gross_g=3000,
        dirt_share=Decimal(0), person=make_person(),
    )  # fmt: skip
    prepare_glass(
        [raw_of(make_colour(), 1_000_000)],
        [ready(make_colour(), GlassForm.POWDER, 900_000)],
        form=GlassForm.POWDER,
        person=make_person(),
    )
    batch = mould_beads(make_bead(), 100, person=make_person())
    log_good_beads(batch, good=100, rejected=0, person=make_person())
    strung = string_strands(strand_item("Reed"), 2, {batch.bead: 60}, person=make_person())
    tag_page = reverse("stock:strand_tag", args=[strung.pk])
    client.force_login(make_person("owner"))
    assert "<svg" in client.get(reverse("stock:trail_strand", args=[strung.pk])).content.decode()
    client.post(tag_page, {"publish": "1", "key": str(uuid.uuid4())})
    tag = StrandTag.objects.get()
    public = reverse("stock:strand_story", args=[tag.token])
    assert "The code opens:" in client.get(tag_page).content.decode()
    client.logout()
    said = client.get(public).content.decode()
    assert "Reed" in said and "100%" in said
    assert "Jomo" not in said and "Private" not in said
    client.force_login(make_person("owner"))
    client.post(tag_page, {"key": str(uuid.uuid4())})
    client.logout()
    assert client.get(public).status_code == 404


def test_the_book_says_first_what_does_not_hold(tray):
    from django.core.management import CommandError, call_command
    from django.db import connection

    call_command("check_book")
    with connection.cursor() as cursor:
        cursor.execute("UPDATE stock_balance SET quantity = 119 WHERE id = %s", [tray.pk])
    with pytest.raises(CommandError) as found:
        call_command("check_book")
    assert tray.item.name in str(found.value) and "+1" in str(found.value)


def test_what_was_posted_is_never_edited_not_even_by_hand(tray):
    from django.db import DatabaseError, transaction

    for change in (
        lambda: Movement.objects.update(quantity=1),
        lambda: Posting.objects.update(why="another story"),
        lambda: Movement.objects.all().delete(),
    ):
        with pytest.raises(DatabaseError), transaction.atomic():
            change()
