"""What happens now and then at the invented workshop: the rarer pages of its glass book."""

from collections.abc import Callable
from datetime import date
from decimal import Decimal

from django.utils import timezone

from orders.demo.changes import (
    called_off,
    every_month,
    more_and_fewer,
    of_its_own_kind,
    part_leaves,
)
from orders.demo.market import (
    at_the_door,
    market_day,
    onto_the_table,
    strands_to_shelf,
    with_a_shop,
)
from orders.demo.story import Story
from orders.demo.supplies import ordered_again
from orders.making.services.holding_by_hand import hold_by_hand
from orders.models import Order
from stock.models import (
    Balance,
    GlassForm,
    GlassTest,
    LocationKind,
    Posting,
    PostingKind,
    Sack,
)
from stock.services.apart import clear_sack, write_test
from stock.services.counting import count_shelf
from stock.services.places import glass_item, usual_place
from stock.services.sacks import sort_glass, weigh_in_sack
from stock.services.stringing import take_apart
from stock.services.tags import publish_tag, tag_of
from stock.services.undo import take_back
from workshop.days import soonest

MG_PER_G = 1000


def odd_day(story: Story, day: date) -> None:
    """Whatever of the rarer things falls on this many days before today."""
    happens = ODD_DAYS.get((story.today - day).days)
    if happens is not None:
        with story.at(day, 16):
            happens(story)


def on_the_last_day(story: Story) -> None:
    """A hold by hand, a part handed over, a sale at the door, odd lines, a tag anybody may open."""
    _hold_by_hand(story)
    part_leaves(story)
    more_and_fewer(story)
    every_month(story)
    at_the_door(story)
    of_its_own_kind(story)
    called_off(story)
    onto_the_table(story)
    ordered_again(story)
    strung = Posting.objects.filter(kind=PostingKind.STRINGING, reversed_by__isnull=True)
    publish_tag(tag_of(strung.latest("pk")), True, person=story.owner)


def _mixed_sack(story: Story) -> None:
    """Sweepings of the market, all colours in one sack, not paid yet."""
    weigh_in_sack(
        story.collectors[1], colour=None, gross_g=9_400, tare_g=180, dirt_share=Decimal("0.06"),
        price_per_kg=Decimal("0.10"), note="swept up after the market", person=story.yard,
    )  # fmt: skip
    parts = {"green": 4_100, "amber": 2_300, "clear": 1_900}
    sort_glass(
        {story.colours[name]: grams for name, grams in parts.items()},
        taken_g=8_600, dirt_g=180, person=story.yard,
    )  # fmt: skip


def _old_beads(story: Story) -> None:
    """A tin of old beads of unknown glass; it stands apart."""
    weigh_in_sack(
        story.collectors[0], colour=None, gross_g=2_100, tare_g=250, dirt_share=Decimal("0.02"),
        origin=Sack.Origin.OLD_BEADS, note="a tin from an attic", person=story.yard,
    )  # fmt: skip


def _own_beads_back(story: Story) -> None:
    """Old beads that turn out to be bottle glass, and are cleared by the owner."""
    sack = weigh_in_sack(
        story.collectors[2], colour=story.colours["green"], gross_g=1_600, tare_g=180,
        dirt_share=Decimal("0.02"), origin=Sack.Origin.OLD_BEADS,
        note="our own beads of last year, brought back", person=story.yard,
    )  # fmt: skip
    clear_sack(sack, person=story.owner, why="our own beads, of green bottles only")


def _panes(story: Story) -> None:
    """Panes of a broken greenhouse, on a heap of their own; a joint with clear bottles cracked."""
    sack = weigh_in_sack(
        story.collectors[1], colour=story.colours["clear"], gross_g=9_400, tare_g=180,
        dirt_share=Decimal("0.02"), origin=Sack.Origin.SHEET, note="a greenhouse, broken by hail",
        person=story.yard,
    )  # fmt: skip
    assert sack.colour is not None
    for one, other, held in (
        (story.colours["clear"], sack.colour, False),
        (story.colours["green"], story.colours["amber"], True),
    ):
        test = GlassTest(
            one=one, other=other, held=held, tested_on=timezone.localdate(),
            how="two chips fused in a powder round, cooled in ash, looked at next day",
        )  # fmt: skip
        write_test(test, person=story.owner)


def _weighed_twice(story: Story) -> None:
    """The same sack logged a second time, and taken back when the yard keeper saw it."""
    sack = weigh_in_sack(
        story.collectors[0], colour=story.colours["clear"], gross_g=5_000, tare_g=180,
        dirt_share=Decimal("0.06"), person=story.yard,
    )  # fmt: skip
    assert sack.posting is not None
    take_back(sack.posting, person=story.yard, why="this sack was weighed in already")


def _count(story: Story) -> None:
    """The rejects' crates counted; one has less in it than the book says."""
    shelf = usual_place(LocationKind.GLASS_SHELF)
    item = glass_item(story.colours["aqua"], GlassForm.REJECTS)
    row = Balance.objects.filter(item=item, place=shelf, reserved=0).first()
    if row is not None and row.quantity > 60 * MG_PER_G:
        found = {item: row.quantity - 40 * MG_PER_G}
        count_shelf(shelf, found, person=story.bench, why="a jar was knocked over")


def _strands_to_stock(story: Story) -> None:
    """Bracelets made for the shelf; one was knotted wrongly and is cut open again."""
    design = strands_to_shelf(story, 2)
    assert design.item is not None
    take_apart(design.item, 1, person=story.bench)


ODD_DAYS: dict[int, Callable[[Story], None]] = {
    61: _mixed_sack,
    58: _panes,
    47: _own_beads_back,
    33: _old_beads,
    19: _weighed_twice,
    16: market_day,
    14: with_a_shop,
    12: _count,
    6: _strands_to_stock,
}


def _hold_by_hand(story: Story) -> None:
    """The order due first that waits for its moulds gets its glass put aside."""
    waiting = Order.objects.filter(state=Order.State.CONFIRMED, glass_needs__isnull=False)
    for order in waiting.distinct().order_by(soonest(), "number"):
        for need in order.glass_needs.select_related("colour"):
            left = need.needed_mg - need.used_mg
            shelf = Balance.objects.filter(
                item=glass_item(need.colour, need.form), place=usual_place(LocationKind.GLASS_SHELF)
            ).first()
            if shelf is not None and MG_PER_G <= left <= shelf.free_quantity:
                why = "put aside for the order that is due first"
                hold_by_hand(order, shelf, left, person=story.counter, why=why)
                return
