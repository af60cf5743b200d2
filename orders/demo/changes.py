"""Orders that do not go as they were taken: a part that leaves first."""

from orders.counter.services.collecting import hand_over_part
from orders.demo.story import Story
from orders.models import Order
from orders.money.services.payments import PaymentDetails


def part_leaves(story: Story) -> None:
    """A trader takes some of what hangs ready with her, and pays it; the rest waits."""
    for order in Order.objects.open().select_related("customer").order_by("number"):
        line = order.lines.filter(strung__gte=3, handed=0).order_by("pk").first()
        if line is not None:
            way = PaymentDetails("cash")
            hand_over_part(order, {line.pk: line.ready // 2}, person=story.counter, way=way)
            return
