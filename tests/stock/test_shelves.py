"""What lies on the shelves: the rooms, opening stock, moving between places."""

import uuid
from datetime import date
from decimal import Decimal
from io import StringIO

import pytest
from django.core.exceptions import ValidationError
from django.core.management import call_command
from django.db import DatabaseError, transaction
from django.urls import reverse

from stock.models import Balance, GlassForm, LocationKind, StockLocation
from stock.queries import bottles_for, free_glass, glass_by_colour
from stock.services.book import Move, NotEnough, hold, post
from stock.services.check import CHECKS
from stock.services.moving import move_stock
from stock.services.places import MOULDED, TO_PAINT, bench_place, usual_place
from tests.builders import make_bead, make_colour, make_person, put_beads, put_glass
from tests.pages import marks_of

pytestmark = pytest.mark.django_db


def test_glass_below_its_mark_is_short_by_the_difference():
    colour = make_colour(reorder_g=30_000, bottle_g=500)
    put_glass(colour, GlassForm.RAW, 22)
    [stock] = [each for each in glass_by_colour() if each.colour == colour]
    assert stock.below_reorder_mg == 8_000_000
    assert bottles_for(colour, 8_000_000) == 16
    assert bottles_for(colour, 8_000_001) == 17


def test_free_glass_leaves_out_what_is_promised():
    colour = make_colour()
    item = put_glass(colour, GlassForm.POWDER, 5)
    hold(Balance.objects.get(item=item, place__kind=LocationKind.GLASS_SHELF), 2_000_000)
    assert free_glass() == {(colour.pk, "powder"): 3_000_000}


def test_the_glass_room_takes_the_same_queries_for_many_colours_as_for_one(
    client, django_assert_max_num_queries
):
    client.force_login(make_person("yard"))
    put_glass(make_colour(), GlassForm.RAW, 5)
    with django_assert_max_num_queries(25) as one:
        client.get(reverse("stock:glass"))
    for name in ("amber", "cobalt", "clear", "ruby", "aqua"):
        put_glass(make_colour(name), GlassForm.RAW, 5)
        put_glass(make_colour(name), GlassForm.POWDER, 5)
    with django_assert_max_num_queries(25) as many:
        page = client.get(reverse("stock:glass")).content.decode()
    assert len(many) == len(one)
    assert page.count('class="heap"') == 6


def test_the_sack_list_takes_the_same_queries_at_a_thousand_rows_as_at_ten(
    client, django_assert_max_num_queries
):
    from stock.models import Sack
    from tests.builders import make_collector

    client.force_login(make_person("yard"))

    def sacks(start, count):
        Sack.objects.bulk_create(
            Sack(
                number=start + n, collector=make_collector(), colour=make_colour(),
                received_on="2026-01-01", gross_g=1000, amount=Decimal("0.20"),
            )
            for n in range(count)
        )  # fmt: skip

    sacks(1, 10)
    with django_assert_max_num_queries(25) as ten:
        client.get(reverse("stock:sack_list"))
    sacks(100, 1000)
    with django_assert_max_num_queries(25) as thousand:
        client.get(reverse("stock:sack_list"))
    assert len(ten) == len(thousand)


def test_a_download_of_the_sacks_runs_no_formula(client):
    from stock.models import Sack
    from tests.builders import make_collector

    client.force_login(make_person("yard"))
    Sack.objects.create(
        number=1, collector=make_collector("=cmd|' /C calc'!A0"), colour=make_colour(),
        received_on="2026-01-01", gross_g=1000,
    )  # fmt: skip
    page = client.get(reverse("stock:sack_list"), {"as": "csv"})
    text = b"".join(page.streaming_content).decode()
    assert "'=cmd" in text


def test_what_was_here_before_is_written_down_by_hand(client):
    client.force_login(make_person("owner"))
    page, bead = reverse("stock:glass_opening"), make_bead()
    glass = {
        "colour": make_colour().pk, "form": "raw", "mass_g": "12.5", "worth_each": "0.24",
        "on": "2026-01-02", "key": str(uuid.uuid4()),
    }  # fmt: skip
    client.post(page, glass)
    yard = Balance.objects.get(place__kind=LocationKind.YARD)
    assert (yard.quantity, yard.value) == (12_500_000, 3)  # 12.5 kg at 0.24
    beads = {
        "bead": bead.pk, "form": "raw", "pieces": "2 gross", "on": "2026-01-02",
        "key": str(uuid.uuid4()),
    }  # fmt: skip
    asked = client.post(page, beads).content.decode()
    assert "so that it is not sold for nothing" in asked
    client.post(page, beads | {"worth_each": "0.25", "key": str(uuid.uuid4())})
    shelf = Balance.objects.get(place__kind=LocationKind.BEAD_SHELF)
    assert (shelf.quantity, shelf.value) == (288, 72)  # 288 at 0.25
    both = client.post(page, glass | {"bead": bead.pk, "pieces": "1", "key": str(uuid.uuid4())})
    assert "one at a time" in both.content.decode()


def test_beads_are_put_into_another_tray_and_promised_ones_stay():
    item = put_beads(make_bead(), 100)
    row = Balance.objects.select_related("item", "place").get(
        item=item, place__kind=LocationKind.BEAD_SHELF
    )
    tray = StockLocation.objects.create(kind=LocationKind.BEAD_SHELF, name="Tray A3")
    hold(row, 70)
    row.refresh_from_db()
    with pytest.raises(NotEnough):
        move_stock(row, tray, 31, person=make_person())
    move_stock(row, tray, 30, person=make_person())
    assert Balance.objects.get(item=item, place=tray).quantity == 30
    yard = StockLocation.objects.create(kind=LocationKind.YARD, name="Far corner")
    with pytest.raises(ValidationError):
        move_stock(row, yard, 1, person=make_person())


def test_the_page_moves_what_was_typed(client):
    client.force_login(make_person("bench"))
    item = put_beads(make_bead(), 100)
    row = Balance.objects.get(item=item, place__kind=LocationKind.BEAD_SHELF)
    tray = StockLocation.objects.create(kind=LocationKind.BEAD_SHELF, name="Tray A3")
    page = reverse("stock:stock_move", args=[row.pk])
    assert client.get(page).status_code == 200
    client.post(page, {"place": tray.pk, "quantity": "4 dozen", "key": str(uuid.uuid4())})
    assert Balance.objects.get(item=item, place=tray).quantity == 48


def test_an_unknown_page_of_the_book_is_not_found(client):
    client.force_login(make_person("owner"))
    for name in ("posting", "batch", "bead", "sack", "trail_strand", "trail_sack", "strand_tag"):
        assert client.get(reverse(f"stock:{name}", args=[999_999])).status_code == 404, name


# --- places that the book already spoke of -----------------------------------------------------


def test_a_bench_hand_turns_no_place_into_another(client):
    """The collectors' side of the book made a shelf would have stood below nothing for ever."""
    put_glass(make_colour(), GlassForm.RAW, 5)
    client.force_login(make_person("bench"))
    for place in StockLocation.objects.all():
        page = reverse("stock:place_change", args=[place.pk])
        for answer in (client.get(page), client.post(page, {"kind": "yard", "name": "Shed"})):
            assert answer.status_code == 404
    call_command("check_book", stdout=StringIO())


def test_the_places_every_workshop_has_are_nobodys_to_change(client):
    put_glass(make_colour(), GlassForm.RAW, 5)
    bench_place(MOULDED)
    client.force_login(make_person("owner"))
    places = list(StockLocation.objects.all())
    for place in places:
        page = reverse("stock:place_change", args=[place.pk])
        assert client.post(page, {"kind": "yard", "name": "Shed"}).status_code == 404
    page = client.get(reverse("stock:place_list")).content.decode()
    assert "moulded" in page
    assert not any(reverse("stock:place_change", args=[each.pk]) in page for each in places)


def test_a_tray_that_was_used_may_be_renamed_and_keeps_its_kind(client):
    tray = StockLocation.objects.create(kind=LocationKind.BEAD_SHELF, name="Tray A3")
    client.force_login(make_person("kiln"))
    page = reverse("stock:place_change", args=[tray.pk])
    client.post(page, {"kind": "strands", "name": "Tray A4"} | marks_of(client, page))
    tray.refresh_from_db()
    assert (tray.kind, tray.name) == ("strands", "Tray A4"), "nothing lay there yet"
    client.post(page, {"kind": "beads", "name": "Tray A4"} | marks_of(client, page))
    item = put_beads(make_bead(), 100)
    row = Balance.objects.get(item=item, place__kind=LocationKind.BEAD_SHELF)
    tray.refresh_from_db()
    move_stock(row, tray, 40, person=make_person())
    client.post(page, {"kind": "strands", "name": "Tray A5"} | marks_of(client, page))
    tray.refresh_from_db()
    assert (tray.kind, tray.name) == ("beads", "Tray A5")


@pytest.mark.parametrize("change", [{"kind": "yard"}, {"code": ""}, {"code": "yard"}])
def test_the_database_itself_keeps_a_place_of_its_kind(change):
    put_glass(make_colour(), GlassForm.RAW, 5)
    outside = StockLocation.objects.filter(code="opening")
    with pytest.raises(DatabaseError), transaction.atomic():
        outside.update(**change, inside=True)
    tray = StockLocation.objects.create(kind=LocationKind.BEAD_SHELF, name="Tray A3")
    row = Balance.objects.get(item=put_beads(make_bead(), 9), place__kind=LocationKind.BEAD_SHELF)
    move_stock(row, tray, 4, person=make_person())
    with pytest.raises(DatabaseError), transaction.atomic():
        StockLocation.objects.filter(pk=tray.pk).update(kind="yard")


def test_a_spot_of_the_bench_is_found_whatever_it_is_called():
    spot = bench_place(MOULDED)
    StockLocation.objects.filter(pk=spot.pk).update(name="By the window")
    assert bench_place(MOULDED) == spot
    assert spot.spot == MOULDED


def test_beads_at_a_step_are_moved_by_the_work_alone():
    """Moved by hand from the moulded to those waiting for paint, no job would find them."""
    item, shelf = put_beads(make_bead(), 20), usual_place(LocationKind.BEAD_SHELF)
    to_bench = Move(item, shelf, bench_place(MOULDED), 20)
    post("move", [to_bench], on=date(2026, 1, 5), person=make_person(), why="to the bench")
    row = Balance.objects.select_related("item", "place").get(item=item, place__kind="bench")
    with pytest.raises(ValidationError, match="other moves are work"):
        move_stock(row, bench_place(TO_PAINT), 20, person=make_person())


def test_the_check_of_the_book_reads_the_places_too():
    item = put_beads(make_bead(), 20)
    Balance.objects.filter(item=item, inside=False).update(inside=True, quantity=0, reserved=0)
    said = [sentence for check in CHECKS for sentence in check.differences()]
    assert any("wrong side of the wall" in sentence for sentence in said)
