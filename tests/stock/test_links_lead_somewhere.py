"""No page of the stock room offers a link that its reader cannot open."""

import re
from decimal import Decimal

import pytest
from django.urls import reverse

from stock.models import GlassForm
from stock.services.beads import log_good_beads, mould_beads
from stock.services.places import strand_item
from stock.services.preparation import prepare_glass, raw_of, ready
from stock.services.sacks import weigh_in_sack
from stock.services.stringing import string_strands
from tests.builders import make_bead, make_collector, make_colour, make_person

pytestmark = pytest.mark.django_db
ROOMS = ["glass", "beads", "strand_list", "batch_list", "count_list", "posting_list"]
OWN = re.compile(r"/(stock|glass)/")


@pytest.fixture
def busy_shelves():
    """A sack of each sort, a preparation, a batch half finished, strands: every page has rows."""
    for colour, origin in (("green", "bottles"), ("amber", "old-beads"), (None, "bottles")):
        weigh_in_sack(
            make_collector(),
            colour=make_colour(colour, reorder_g=50_000) if colour else None,
            gross_g=9000,
            dirt_share=Decimal(0),
            origin=origin,
            paid=colour is None,
            person=make_person("yard"),
        )
    prepare_glass(
        [raw_of(make_colour(), 5_000_000)],
        [ready(make_colour(), GlassForm.POWDER, 4_500_000)],
        form=GlassForm.POWDER,
        person=make_person("yard"),
    )
    batch = mould_beads(make_bead(), 120, person=make_person("kiln"))
    log_good_beads(batch, good=80, rejected=5, person=make_person("kiln"))
    string_strands(strand_item("Reed"), 2, {batch.bead: 40}, person=make_person("bench"))


@pytest.mark.parametrize("role", ["owner", "yard", "kiln", "bench", "counter"])
def test_every_link_a_person_is_shown_opens_for_them(client, busy_shelves, role):
    client.force_login(make_person(role))
    todo = [reverse(f"stock:{name}") for name in ROOMS]
    todo = [url for url in todo if client.get(url).status_code == 200]
    assert todo, "nobody is shut out of every room"
    seen, closed, shapes = set(), set(), {}
    while todo:
        url = todo.pop(0)
        shape = re.sub(r"\d+", "N", url.split("?")[0])
        if url in seen or shapes.get(shape, 0) >= 3:
            continue
        seen.add(url)
        shapes[shape] = shapes.get(shape, 0) + 1
        page = client.get(url)
        if page.status_code != 200:
            closed.add(url)
        elif OWN.match(url) and "html" in page["Content-Type"]:
            links = re.findall(r'href="(/[^"#]*)"', page.content.decode())
            todo += [link.replace("&amp;", "&") for link in links if OWN.match(link)]
    assert not closed
    assert len(seen) > 7
