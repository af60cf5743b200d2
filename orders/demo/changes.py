"""Orders that do not go as they were taken: a part that leaves first, more and fewer strands,
lines of their own kind, one called off."""

from collections.abc import Sequence
from datetime import timedelta
from decimal import Decimal

from orders.counter.services.changing import change_order
from orders.counter.services.collecting import hand_over_part
from orders.counter.services.ordering import cancel_order, confirm_order, draft_order
from orders.counter.services.standing import (
    Rhythm,
    agree_standing,
    pause_standing,
    take_due,
)
from orders.demo.story import Story
from orders.designs.services.as_asked import Asked, as_asked, loose_beads, work_on_a_piece
from orders.models import Order, Stage, WantedLine
from orders.money.services.payments import PaymentDetails, record_payment
from orders.money.services.settling import settle_deposit
from stock.models import Balance, LocationKind
from workshop.models import Skill


def part_leaves(story: Story) -> None:
    """A trader takes half of what can be strung for her with her, and pays it; the rest waits."""
    ready = Order.objects.open().filter(stage__gte=Stage.FINISHED)
    for order in ready.select_related("customer").order_by("number"):
        line = order.lines.filter(strands__gte=3, handed=0).order_by("pk").first()
        if line is not None:
            way = PaymentDetails("cash")
            hand_over_part(order, {line.pk: line.strands // 2}, person=story.counter, way=way)
            return


def more_and_fewer(story: Story) -> None:
    """While the beads of an order are under way, its trader wants two more of one and fewer of
    another."""
    under_way = Order.objects.open().exclude(stage__gte=Stage.STRUNG).exclude(stage=Stage.TAKEN)
    under_way = under_way.exclude(lines__handed__gt=0)
    for order in under_way.select_related("customer").order_by("number"):
        lines = list(order.lines.all())
        if len(lines) > 1 and lines[1].strands > 1:
            others = order.lines.exclude(pk__in=[line.pk for line in lines[:2]])
            wanted = [WantedLine(line.design_id, line.strands) for line in others]
            wanted += [
                WantedLine(lines[0].design_id, lines[0].strands + 2),
                WantedLine(lines[1].design_id, lines[1].strands - 1),
            ]
            change_order(order, wanted, person=story.owner, owner_word="agreed by telephone")
            return


def of_its_own_kind(story: Story) -> None:
    """A bracelet for a wrist that was measured, loose beads, and a choker to be strung anew."""
    reed = next(each for each in story.designs if each.name == "Reed")
    worn = as_asked(reed, Asked(worn=("wrist", Decimal(165))), person=story.counter)
    shelf = Balance.objects.at(LocationKind.BEAD_SHELF).free().select_related("item__batch__bead")
    most = max(shelf, key=lambda row: row.free_quantity)
    assert most.item.batch is not None
    loose = loose_beads(most.item.batch.bead, person=story.counter)
    work = work_on_a_piece(
        "Restring a choker", {Skill.STRINGING: Decimal(20)}, person=story.counter
    )
    lines = [
        WantedLine(worn.pk, 2),
        WantedLine(loose.pk, min(24, most.free_quantity)),
        WantedLine(work.pk, 1),
    ]
    _taken_with_deposit(story, lines)


def called_off(story: Story) -> None:
    """An order is cancelled before its beads are begun; its deposit goes back, as the slip says."""
    reed = next(each for each in story.designs if each.name == "Reed")
    order = _taken_with_deposit(story, [WantedLine(reed.pk, 4)])
    cancel_order(order, person=story.counter, why="the fair is off")
    settle_deposit(order, person=story.counter, way=PaymentDetails("cash"))


def _taken_with_deposit(story: Story, lines: Sequence[WantedLine]) -> Order:
    """An order of a trader, confirmed, with the deposit that was asked for."""
    customer = story.customers[0]
    order = draft_order(customer, lines, person=story.counter)
    order = confirm_order(order, person=story.owner, owner_word="a regular").order
    assert order.deposit_asked
    record_payment(
        customer, order.deposit_asked, person=story.counter, way=PaymentDetails("cash"), order=order
    )
    return Order.objects.get(pk=order.pk)


def every_month(story: Story) -> None:
    """A trader's bracelets for the first of every month; the next ones are taken, the kilns looked
    at. A shop rests over the winter."""
    first = (story.today.replace(day=1) + timedelta(days=40)).replace(day=1)
    traders = [each for each in story.customers if each.group == "trader"]
    design = next(each for each in story.designs if each.name == "Cube bracelet")
    for customer, strands, pause in ((traders[0], 6, None), (traders[1], 4, first.replace(day=28))):
        rhythm = Rhythm(every=1, unit="months", from_on=first, ahead_days=21)
        line = WantedLine(design.pk, strands)
        standing = agree_standing(customer, [line], rhythm, person=story.counter)
        if pause:
            pause_standing(standing, pause + timedelta(days=60), person=story.counter)
    take_due(person=story.owner)
