"""An order handed over: its strands leave the shelf."""

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.making.services.holds import held_strands, let_all_go
from orders.making.services.progress import string_for
from orders.models import Order, Stage
from stock.services.convert import Taken
from stock.services.stringing import hand_over
from workshop.models import Person
from workshop.services.acts import record_act


@transaction.atomic
def collect_order(order: Order, *, person: Person) -> Order:
    """The customer takes the strands away. What is not strung yet but can be, is strung first.

    Refused while beads are still missing; nothing is posted then.
    """
    on = timezone.localdate()
    changed = Order.objects.filter(
        pk=order.pk, state=Order.State.CONFIRMED, version=order.version
    ).update(state=Order.State.COLLECTED, collected_on=on, version=F("version") + 1)
    if not changed:
        now = Order.objects.get(pk=order.pk)
        raise ValidationError(
            _("Order %(number)s is %(state)s, so it cannot be handed over.")
            % {"number": now.number, "state": now.get_state_display()}
        )
    parts = []
    for line in order.lines.with_designs().select_related("design__item", "order"):
        if line.strung < line.strands:
            string_for(line, line.strands - line.strung, person=person, on=on)
        for held in held_strands(line):
            parts.append(Taken(held.balance.item, held.balance.place, held.quantity, held.quantity))
    hand_over(
        parts,
        person=person,
        why=str(_("order %d collected") % order.number),
        belongs=("order", str(order.number)),
        on=on,
    )
    order.allocations.filter(line__isnull=False).delete()
    let_all_go(order)
    order.glass_needs.all().delete()
    order.refresh_from_db()
    order.stage, order.stage_since = Stage.COLLECTED, timezone.now()
    order.save(update_fields=["stage", "stage_since"])
    record_act(person, "hand over order", order, after={"collected_on": on.isoformat()})
    return order
