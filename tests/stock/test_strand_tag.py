"""The tag of a strand and the page it opens."""

import uuid
from decimal import Decimal

import pytest
from django.urls import reverse

from stock.models import GlassForm
from tests.builders import make_bead, make_colour, make_person

pytestmark = pytest.mark.django_db


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
