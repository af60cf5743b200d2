"""Strands made for the shelf, a day at the market with them, and a sale at the door."""

from contextlib import suppress
from decimal import Decimal

from django.db import transaction

from orders.counter.services.consigning import There, count_at_shop, lend
from orders.counter.services.sale_returns import take_sale_back
from orders.counter.services.selling import sell
from orders.counter.services.stall import Home, carry_out, come_home
from orders.counter.services.telling import say_sent, texts_for
from orders.demo.story import Story
from orders.demo.supplies import fetched_for
from orders.making.services.to_stock import beads_each, string_to_stock
from orders.models import CustomerGroup, Order, Sale, Stage, StrandDesign, WantedLine
from orders.money.services.goods_back import CameBack
from orders.money.services.payments import PaymentDetails
from stock.queries import bead_stock
from stock.services.beads import load_beads, log_good_beads, mould_beads, unload_beads
from stock.services.book import NotEnough

STALL = "Harbour steps"
AT_THE_STALL = PaymentDetails("cash", drawer=STALL)
ON_SALE, ON_THE_TABLE = "Cube bracelet", "Amber pea choker"
FOR_THE_TABLE = ("Barrel strand", "Pea bracelet")
MOST_OF_A_DESIGN = 2
AT_THE_MARKET = Decimal(24)  # a few more than at the door: the stall costs its day


def strands_to_shelf(story: Story, strands: int, name: str = ON_SALE) -> StrandDesign:
    """Strands of beads that are fired once, from the mould to the strand shelf."""
    design = next(each for each in story.designs if each.name == name)
    for bead, each in beads_each(design).items():
        batch = mould_beads(bead, strands * each + 4, person=story.bench, note="for the shelf")
        load_beads(batch, batch.started, person=story.kiln)
        unload_beads(batch, batch.started, person=story.kiln)
        log_good_beads(batch, good=batch.started - 2, rejected=2, person=story.bench)
    fetched_for(story, design, strands)
    string_to_stock(design, strands, person=story.bench)
    design.refresh_from_db()
    assert design.item is not None, "strands of it were just strung"
    return design


def market_day(story: Story) -> None:
    """Six bracelets go out: two are sold one by one, three come home, one is sold by the count."""
    design = strands_to_shelf(story, 6)
    counter = story.counter
    day = carry_out({design.pk: 6}, person=counter, stall=STALL)
    for _buyer in range(2):
        sell(
            [WantedLine(design.pk, 1, AT_THE_MARKET)],
            person=counter,
            way=AT_THE_STALL,
            day=day,
            on=day.on,
        )
    come_home(day, [Home(design.pk, home=3, price=AT_THE_MARKET)], person=counter, way=AT_THE_STALL)
    _comes_back(story, Sale.objects.filter(stall_day=day).earliest("pk"))


def _comes_back(story: Story, sale: Sale) -> None:
    """Its clasp would not close; it is taken back and lies on the shelf again."""
    back = CameBack(sale.order.lines.get().pk, good=1)
    reason = "The clasp would not close; it is mended."
    take_sale_back(sale, [back], person=story.counter, reason=reason, way=AT_THE_STALL)


def at_the_door(story: Story) -> None:
    """Somebody passes by and buys one of three chokers; whose order is ready is told so."""
    design = strands_to_shelf(story, 3, ON_THE_TABLE)
    way = PaymentDetails("mobile", network="Harbour Coin", reference="HC-DOOR-1")
    word = "The first of its kind goes at the price of the list."
    sell([WantedLine(design.pk, 1)], person=story.owner, way=way, owner_word=word)
    ready = Order.objects.open().filter(stage=Stage.STRUNG).order_by("number").first()
    if ready is not None:
        text = next(each for each in texts_for(ready, story.business) if each.kind == "ready")
        to = ready.customer.phone
        say_sent(ready, text.kind, text.text, to=to, person=story.counter)


def onto_the_table(story: Story) -> None:
    """What lies over is strung for whoever comes to the door: a few of every design it is enough
    for, and chokers and bracelets made for it."""
    for design in story.designs:
        free, each = bead_stock(), beads_each(design)
        enough = min(
            (free[b.pk].free // n if b.pk in free else 0 for b, n in each.items()), default=0
        )
        if strands := min(enough, MOST_OF_A_DESIGN):
            fetched_for(story, design, strands)
            string_to_stock(design, strands, person=story.bench)
    for name in FOR_THE_TABLE:
        with suppress(NotEnough), transaction.atomic():  # the grinder stands still these days
            strands_to_shelf(story, MOST_OF_A_DESIGN, name)


def with_a_shop(story: Story) -> None:
    """Eight bracelets are lent to a shop for a third; three are sold by the first count, and one
    comes back with a frayed cord."""
    shop = next(each for each in story.customers if each.group == CustomerGroup.SHOP)
    design = strands_to_shelf(story, 8)
    goods = lend(shop, {design.pk: 8}, person=story.owner, share=Decimal("0.33"))
    counted = [There(design.pk, still=4, back=1)]
    word = "A new shop; its window is worth it."
    count_at_shop(goods, counted, person=story.owner, owner_word=word)
