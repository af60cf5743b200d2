"""Orders that do not go as they were taken: a part that leaves first, more and fewer strands."""

from orders.counter.services.changing import change_order
from orders.counter.services.collecting import hand_over_part
from orders.demo.story import Story
from orders.facts.order import WantedLine
from orders.models import Order, Stage
from orders.money.services.payments import PaymentDetails


def part_leaves(story: Story) -> None:
    """A trader takes some of what hangs ready with her, and pays it; the rest waits."""
    for order in Order.objects.open().select_related("customer").order_by("number"):
        line = order.lines.filter(strung__gte=3, handed=0).order_by("pk").first()
        if line is not None:
            way = PaymentDetails("cash")
            hand_over_part(order, {line.pk: line.ready // 2}, person=story.counter, way=way)
            return


def more_and_fewer(story: Story) -> None:
    """While the beads of an order are under way, its trader wants two more of one and fewer of
    another."""
    under_way = Order.objects.open().exclude(stage__gte=Stage.STRUNG).exclude(stage=Stage.TAKEN)
    for order in under_way.select_related("customer").order_by("number"):
        lines = list(order.lines.filter(handed=0))
        if len(lines) > 1 and lines[1].strands > 1:
            wanted = [WantedLine(line.design_id, line.strands) for line in lines[2:]]
            wanted += [
                WantedLine(lines[0].design_id, lines[0].strands + 2),
                WantedLine(lines[1].design_id, lines[1].strands - 1),
            ]
            change_order(order, wanted, person=story.owner, owner_word="agreed by telephone")
            return
