"""Fillings that a mould lasts, from moulds filled and moulds gone."""

from dataclasses import replace
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

from orders.learning.queries.row import FILLINGS, Kind, LearnedRow
from orders.learning.sums import Learned, lasting
from stock.mould_life import mould_uses
from stock.services.standards import life_of
from workshop.costs.minutes import ENOUGH_GONE
from workshop.models import Mould

LONGEST_LIFE = 32_767  # as a mould keeps it


def mould_lives(since: date | None = None) -> list[LearnedRow]:
    """Each mould of which some have gone (3 queries).

    No interval, so nothing to accept, before ENOUGH_GONE have gone. A mould of which none has
    gone says nothing yet: it lasts longer than it was filled.
    """
    uses = {key: use for key, use in mould_uses(since).items() if use.gone}
    rows = []
    for mould in Mould.objects.filter(pk__in=uses):
        use = uses[mould.pk]
        found = _whole(lasting(max(use.fillings, use.gone), use.gone))
        if use.gone < ENOUGH_GONE:
            found = replace(found, low=None, high=None)
        rows.append(
            LearnedRow(
                Kind.MOULD_LIFE, mould.pk, mould.name, life_of(mould), found, use.gone, FILLINGS
            )
        )
    return rows


def _whole(found: Learned) -> Learned:
    """As a mould keeps it, so that what is shown is what is accepted."""
    value = found.value.quantize(Decimal(1), ROUND_HALF_UP)
    return replace(found, value=min(max(value, Decimal(1)), Decimal(LONGEST_LIFE)))
