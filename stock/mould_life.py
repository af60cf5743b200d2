"""How often moulds were filled, and how many have gone since."""

from dataclasses import dataclass
from datetime import date

from django.db.models import F, QuerySet, Sum

from stock.models import KilnLoad, LoadTray, MouldGone
from workshop.days import day_begins

State = KilnLoad.State


@dataclass(frozen=True)
class MouldUse:
    """Fillings of a mould in loads that ended, second firings too, and moulds of it gone."""

    fillings: int = 0
    gone: int = 0


def mould_uses(since: date | None, *, mould: int | None = None) -> dict[int, MouldUse]:
    """By mould key, of those filled or gone since a day; of one mould only (2 queries)."""
    trays = LoadTray.objects.filter(load__state__in=[State.COOLED, State.SPOILED])
    gone = MouldGone.objects.all()
    if since is not None:
        trays = trays.filter(load__ended_at__gte=day_begins(since))
        gone = gone.filter(on__gte=since)
    if mould is not None:
        trays, gone = trays.filter(bead__mould=mould), gone.filter(mould=mould)
    filled = _sums(trays.annotate(mould=F("bead__mould")), "moulds")
    lost = _sums(gone, "count")
    return {
        key: MouldUse(filled.get(key, 0), lost.get(key, 0)) for key in filled.keys() | lost.keys()
    }


def _sums(rows: QuerySet, of: str) -> dict[int, int]:
    return dict(rows.order_by().values("mould").annotate(sum=Sum(of)).values_list("mould", "sum"))
