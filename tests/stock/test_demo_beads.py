"""Every bead of the invented workshop can be saved as it stands, through its own form."""

import pytest
from django.forms.models import model_to_dict
from django.urls import reverse
from django.utils import timezone

from orders.demo.facts import half_a_year_ago, load_stock, load_workshop
from stock.models import Bead
from tests.plain_pages import PlainPages
from workshop.models import Person

pytestmark = pytest.mark.django_db


def all_of(bead: Bead) -> dict:
    shares = bead.colours.order_by("layer", "pk").values_list("colour", "share")
    return model_to_dict(Bead.objects.get(pk=bead.pk)) | {"colours": list(shares)}


def test_every_bead_of_the_demo_is_saved_as_it_stands_and_stays_what_it_was(client):
    since = half_a_year_ago(timezone.localdate())
    load_workshop(since)
    load_stock(since)
    client.force_login(Person.objects.filter(role="owner").first())
    beads = list(Bead.objects.all())
    assert len(beads) >= 10
    refused = {}
    for bead in beads:
        before = all_of(bead)
        pages = PlainPages(client).open(reverse("stock:bead_change", args=[bead.pk])).press("Save")
        if not pages.saved:
            refused[bead.name] = pages.complaints or pages.words[:200]
        assert all_of(bead) == before, bead.name
    assert not refused
