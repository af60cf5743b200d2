"""An order's page prints a tag for each of its strands, each strung one with its own code."""

import pytest
from django.urls import reverse

from orders.designs.papers import order_pieces
from orders.making.services.progress import string_for
from orders.making.services.to_stock import beads_each, string_to_stock
from stock.services.tags import publish_tag, tag_of
from stock.strand_codes import strand_code
from tests.builders import make_order, make_person, put_beads


@pytest.fixture
def half_strung(monday):
    """Four ordered: one lay ready on the shelf, two are strung for it, one is still to come."""
    design, bench = monday["design"], make_person("bench")
    [(bead, each)] = beads_each(design).items()
    put_beads(bead, 5 * each)
    string_to_stock(design, 1, person=bench)
    order = make_order(4, design=design)
    return order, string_for(order.lines.get(), 2, person=bench)


def numbers(order) -> list[str]:
    return [number for _design, number, _story in order_pieces(order, str)]


def test_each_strand_strung_for_it_has_its_code_and_one_from_the_shelf_none(half_strung):
    order, posting = half_strung
    assert numbers(order) == [strand_code(posting.pk, 1), strand_code(posting.pk, 2), ""]
    tag = publish_tag(tag_of(posting), True, person=make_person("owner"))
    stories = [story for *_, story in order_pieces(order, lambda token: f"here/{token}")]
    assert stories == [f"here/{tag.token}", f"here/{tag.token}", ""]


def test_before_anything_is_strung_there_is_one_of_each_design_to_be_shown(monday):
    assert numbers(make_order(4, design=monday["design"])) == [""]


def test_the_orders_page_offers_them_a_hundred_at_a_time(client, half_strung):
    order, _posting = half_strung
    client.force_login(make_person("counter"))
    address = reverse("orders:strand_tags", args=[order.number])
    page = client.get(reverse("orders:order_detail", args=[order.number])).content.decode()
    assert page.count(address) == 1
    order.lines.update(strands=200, strung=150)
    page = client.get(reverse("orders:order_detail", args=[order.number])).content.decode()
    assert f"{address}?from=97" in page and page.count(address) == 2
