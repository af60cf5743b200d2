"""The flow of a period, and the pages of the book."""

from datetime import date
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from stock.models import Balance, GlassForm, LocationKind
from tests.builders import make_bead, make_colour, make_person, put_beads

pytestmark = pytest.mark.django_db


@pytest.fixture
def tray():
    """120 beads of one batch on the bead shelf."""
    item = put_beads(make_bead(), 120)
    return Balance.objects.select_related("item", "place").get(
        item=item, place__kind=LocationKind.BEAD_SHELF
    )


def test_every_page_of_the_book_opens(client, tray):
    client.force_login(make_person("owner"))
    for name in ("flow", "value", "glass_marks", "count_list", "strand_list", "posting_list",
                 "place_list", "batch_list", "glass", "beads", "colour_list"):  # fmt: skip
        assert client.get(reverse(f"stock:{name}")).status_code == 200, name


def test_the_flow_of_a_period_shows_what_came_and_what_was_lost(client):
    from stock.glass_flow import glass_flow
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


def test_the_flow_knows_the_colours_of_beads_of_strands_and_of_what_was_sold(client):
    from stock.glass_flow import glass_flow
    from stock.models import Item, ItemKind
    from stock.services.stringing import string_strands

    black, milk = make_colour("black"), make_colour("milk")
    striped = make_bead("Striped", colours={black: "0.75", milk: "0.25"})
    put_beads(striped, 40)
    put_beads(make_bead("Black", colours={black: 1}), 40)
    strand = Item.objects.create(kind=ItemKind.STRANDS, name="Night")
    beads = {striped: 20}
    string_strands(strand, 1, beads, person=make_person())
    today = timezone.localdate()
    *_before, strung, _sold = glass_flow(today, today)
    # Only striped beads went in: three quarters of the strand's glass is black.
    whole = strung.reached_mg
    assert whole > 0
    assert strung.colours[black.pk].reached_mg == pytest.approx(whole * 0.75)
    assert strung.colours[milk.pk].reached_mg == pytest.approx(whole * 0.25)
    assert None not in strung.colours
    client.force_login(make_person("owner"))
    page = client.get(reverse("stock:flow")).content.decode()
    assert "black" in page and "milk" in page


def test_mixed_glass_counts_by_the_colours_it_was_sorted_into():
    from stock.glass_flow import glass_flow
    from stock.services.sacks import sort_glass, weigh_in_sack
    from tests.builders import make_collector

    weigh_in_sack(
        make_collector(), colour=None, gross_g=10_000, dirt_share=Decimal(0), person=make_person()
    )
    green, amber = make_colour("green"), make_colour("amber")
    sort_glass({green: 4000, amber: 3500}, taken_g=8_000, person=make_person())
    today = timezone.localdate()
    sacks, *_rest = glass_flow(today, today)
    # 10 kg came; half a kilogram of the 8 was dirt, and 2 kg lie unsorted.
    assert sacks.reached_mg == 10_000_000
    came = {key: flow.reached_mg for key, flow in sacks.colours.items()}
    assert came == {green.pk: 4_000_000, amber.pk: 3_500_000, None: 2_500_000}
    assert sacks.colours[None].stays_mg == 2_000_000
