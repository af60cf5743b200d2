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
