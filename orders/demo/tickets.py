"""The demo's work tickets: what the hands logged for the batches, loads and strands of its days.

Invented: each step takes about its standard time, some a little more, some a little less.
"""

from datetime import date
from decimal import Decimal
from random import Random

from orders.bench.queries.packing import ref_of
from orders.floor.labour import Labour
from orders.models import Order, OrderLine
from stock.models import Bead, BeadBatch, KilnLoad, WorkTicket
from workshop.models import LabourRate, Person, Role, Skill


def write_tickets(today: date) -> None:
    """Moulding, polishing, tending, stringing and packing, as they were logged up to today."""
    dice, labour = Random(77), Labour.in_force(today)
    people = {person.role: person for person in Person.objects.all()}
    hand, keeper = people[Role.BENCH], people[Role.KILN]
    tickets = []
    batches = BeadBatch.objects.filter(started__gt=0).select_related("bead__mould")
    for batch in batches.order_by("number"):
        moulds = -(-batch.started // batch.bead.mould.cavities)
        ref = f"batch {batch.number}"
        tickets += _tickets(
            labour, dice, Skill.MOULDING, hand, batch.made_on, ref,
            beads=batch.started, moulds=moulds, bead=batch.bead,
        )  # fmt: skip
        if batch.good:
            tickets += _tickets(
                labour, dice, Skill.POLISHING, hand, batch.made_on, ref,
                beads=batch.good, rejected=batch.rejected, bead=batch.bead,
            )  # fmt: skip
    cooled = KilnLoad.objects.filter(state=KilnLoad.State.COOLED).prefetch_related("trays__bead")
    for load in cooled.order_by("number"):
        tickets += _tickets(
            labour, dice, Skill.FIRING, keeper, load.starts_at.date(), f"load {load.number}"
        )
        pierced = [t for t in load.trays.all() if t.bead.pierced_hot and load.hands]
        for tray in pierced:
            tickets += _tickets(
                labour, dice, Skill.PIERCING, hand, load.starts_at.date(), f"load {load.number}",
                beads=tray.beads, moulds=tray.moulds, bead=tray.bead,
            )  # fmt: skip
    strung = OrderLine.objects.filter(strung__gt=0, order__state=Order.State.COLLECTED)
    for line in strung.select_related("order").order_by("pk"):
        on = line.order.collected_on or today
        ref = f"order {line.order.number}"
        tickets += _tickets(
            labour, dice, Skill.STRINGING, hand, min(on, today), ref, strands=line.strung
        )
    for order in Order.objects.filter(state=Order.State.COLLECTED, sale=None).order_by("number"):
        on = min(order.collected_on or today, today)
        tickets += [
            _ticket(rate, dice, hand, on, ref_of(order), pieces=1)
            for rate in labour.once_an_order()
        ]
    WorkTicket.objects.bulk_create(tickets)


def _tickets(
    labour: Labour, dice: Random, skill: str, hand: Person, on: date, ref: str, **done
) -> list[WorkTicket]:
    """One ticket of the skill's first step; nothing where the workshop has no rate for it."""
    bead = done.pop("bead", None)
    rate = next(iter(labour.by_the_piece(skill, bead.kind if bead else "")), None)
    if rate is None:
        return []
    pieces = {
        LabourRate.Basis.MOULD: done.get("moulds", 0),
        LabourRate.Basis.STRAND: done.get("strands", 0),
        LabourRate.Basis.LOAD: 1,
    }.get(LabourRate.Basis(rate.basis), done.get("beads", 0))
    rejected = done.get("rejected", 0)
    return [_ticket(rate, dice, hand, on, ref, pieces, rejected, bead)]


def _ticket(
    rate: LabourRate,
    dice: Random,
    hand: Person,
    on: date,
    ref: str,
    pieces: int,
    rejected: int = 0,
    bead: Bead | None = None,
) -> WorkTicket:
    standard = rate.setup_min + rate.minutes_each * (1 + rate.allowance) * (pieces + rejected)
    minutes = round(standard * Decimal(dice.randint(82, 124)) / 100)
    return WorkTicket(
        on=on, hand=hand, step_id=rate.step_id, bead=bead, belongs_ref=ref, pieces=pieces,
        rejected=rejected, minutes=max(1, minutes),
    )  # fmt: skip


__all__ = ["write_tickets"]
