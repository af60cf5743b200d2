"""Workshop costs that goods bore beyond what they were, taken off their value again.

A minute bears the workshop's costs by a usual month. In a year with more work than usual they would
be borne more than once. Source: IAS 2.13: in times of abnormally high production the share of a
unit falls, so that goods never stand above cost.
"""

from datetime import date
from decimal import Decimal

from django.db import transaction
from django.utils.translation import gettext as _

from stock.models import Balance, ChargeName, Posting
from stock.models import PostingKind as Kind
from stock.services.book import post
from stock.services.moves import Cost, split_whole
from workshop.costs.amounts import SIX_PLACES, six
from workshop.models import Person
from workshop.services.acts import record_act


@transaction.atomic
def take_off_excess(excess: Decimal, *, on: date, person: Person) -> Posting | None:
    """Take an excess of workshop costs off all goods, in proportion to their value.

    No more than the goods stand at; gives None where nothing stands at anything.
    """
    rows = list(
        Balance.objects.inside().filter(value__gt=0).select_related("item", "place").order_by("pk")
    )
    values = [int(row.value / SIX_PLACES) for row in rows]
    millionths = min(int(six(excess) / SIX_PLACES), sum(values))
    if millionths <= 0:
        return None
    charges = [
        Cost(ChargeName.WORKSHOP, -part * SIX_PLACES, item=row.item, place=row.place)
        for row, part in zip(rows, split_whole(millionths, values), strict=True)
        if part
    ]
    posting = post(
        Kind.ANEW, [], on=on, person=person, charges=charges,
        why=str(_("workshop costs that more work than usual had borne")),
    )  # fmt: skip
    record_act(person, "take off excess", posting, after={"amount": str(millionths * SIX_PLACES)})
    return posting


__all__ = ["take_off_excess"]
