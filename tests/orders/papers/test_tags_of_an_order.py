"""An order's page prints a tag for each of its strands, each with its own code."""

import pytest
from django.urls import reverse
from django.utils import timezone

from orders.designs.papers import order_pieces
from orders.making.services.progress import string_for
from orders.making.services.to_stock import beads_each, string_to_stock
from orders.models import ShelfTag
from stock.models import PostingKind
from stock.queries import strung_under
from stock.services.book import Move, post
from stock.services.places import usual_place
from stock.services.tags import publish_tag, tag_of
from stock.strand_codes import strand_code
from tests.builders import make_order, make_person, put_beads


@pytest.fixture
def half_strung(monday):
    """Four ordered: one lay ready on the shelf, two are strung for it, one is still to come."""
    design, bench = monday["design"], make_person("bench")
    [(bead, each)] = beads_each(design).items()
    put_beads(bead, 5 * each)
    shelf = string_to_stock(design, 1, person=bench)
    order = make_order(4, design=design)
    return order, string_for(order.lines.get(), 2, person=bench), shelf


def numbers(order) -> list[str]:
    return [number for _design, number, _story in order_pieces(order, str)]


def test_each_strand_has_its_code_the_one_from_the_shelf_that_of_its_stringing(half_strung):
    order, posting, shelf = half_strung
    codes = [strand_code(posting.pk, 1), strand_code(posting.pk, 2), strand_code(shelf.pk, 1)]
    assert numbers(order) == codes
    assert numbers(order) == codes, "asked again, the same"
    assert ShelfTag.objects.count() == 1
    assert strung_under((shelf.pk, 1)), "and the code is found again"
    tag = publish_tag(tag_of(posting), True, person=make_person("owner"))
    stories = [story for *_, story in order_pieces(order, lambda token: f"here/{token}")]
    assert stories == [f"here/{tag.token}", f"here/{tag.token}", ""]


def test_two_orders_never_name_one_strand_and_what_is_gone_is_not_named(monday):
    design, bench = monday["design"], make_person("bench")
    [(bead, each)] = beads_each(design).items()
    put_beads(bead, 5 * each)
    first = string_to_stock(design, 2, person=bench)
    second = string_to_stock(design, 3, person=bench)
    item = design.__class__.objects.get(pk=design.pk).item
    shelf = item.balances.get(inside=True).place
    post(
        PostingKind.COLLECTION, [Move(item, shelf, usual_place("sold"), 1)],
        on=timezone.localdate(), person=bench, why="sold at the door",
    )  # fmt: skip
    orders = [make_order(2, design=design), make_order(2, design=design)]
    # The oldest left first: of the first stringing one is left, of the second three.
    assert numbers(orders[0]) == [strand_code(first.pk, 2), strand_code(second.pk, 1)]
    assert numbers(orders[1]) == [strand_code(second.pk, 2), strand_code(second.pk, 3)]


def test_before_anything_is_strung_there_is_one_of_each_design_to_be_shown(monday):
    assert numbers(make_order(4, design=monday["design"])) == [""]


def test_the_orders_page_offers_them_a_hundred_at_a_time(client, half_strung):
    order, *_rest = half_strung
    client.force_login(make_person("counter"))
    address = reverse("orders:strand_tags", args=[order.number])
    page = client.get(reverse("orders:order_detail", args=[order.number])).content.decode()
    assert page.count(address) == 1
    order.lines.update(strands=200, strung=150)
    page = client.get(reverse("orders:order_detail", args=[order.number])).content.decode()
    assert f"{address}?from=97" in page and page.count(address) == 2
