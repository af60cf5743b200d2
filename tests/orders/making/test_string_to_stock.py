"""Ready strands made to stock, for nobody's order yet."""

import uuid
from datetime import date

import pytest
from django.urls import reverse

from orders.making.services.to_stock import beads_each
from stock.models import Balance, LocationKind
from tests.builders import make_bead, make_design, make_person, put_beads

pytestmark = pytest.mark.django_db


@pytest.fixture
def design():
    """A strand of one bead repeated to fill."""
    return make_design(beads=make_bead())


def test_strands_are_strung_from_the_oldest_free_beads(client, design):
    [(bead, each)] = beads_each(design).items()
    old = put_beads(bead, each, made_on=date(2026, 1, 1))
    new = put_beads(bead, 2 * each, made_on=date(2026, 2, 1))
    client.force_login(make_person("bench"))
    page = reverse("orders:design_string", args=[design.pk])
    assert "3 strands" in client.get(page).content.decode()
    sent = {"strands": "2", "on": "2026-03-01", "key": str(uuid.uuid4())}
    client.post(page, sent)
    design.refresh_from_db()
    strung = Balance.objects.get(item=design.item, place__kind=LocationKind.STRAND_SHELF)
    left = {
        row.item_id: row.quantity
        for row in Balance.objects.filter(place__kind=LocationKind.BEAD_SHELF)
    }
    assert (strung.quantity, strung.reserved) == (2, 0)
    assert left == {old.pk: 0, new.pk: each}


def test_more_than_the_beads_allow_is_refused_and_says_what_is_missing(client, design):
    [(bead, each)] = beads_each(design).items()
    put_beads(bead, each)
    client.force_login(make_person("bench"))
    page = client.post(
        reverse("orders:design_string", args=[design.pk]), {"strands": "2", "on": "2026-03-01"}
    )
    assert page.status_code == 422
    assert f"Make {each} more" in page.content.decode()
    design.refresh_from_db()
    assert design.item is None


def test_the_counter_does_not_string(client, design):
    client.force_login(make_person("counter"))
    assert client.get(reverse("orders:design_string", args=[design.pk])).status_code == 404
