"""What the keeper can do at the kilns now: open what may be opened, light what comes next."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.firing.queries.burning import Burning, as_burning
from stock.models import KilnLoad, LoadTray


@dataclass(frozen=True)
class KilnAct:
    """One act at a kiln, named by verb and load.

    at      the moment it was to be done
    is_due  it may be done now: opened, or its hour has come
    """

    load: KilnLoad
    words: str
    url: str
    at: datetime
    is_due: bool


def kiln_acts(lit: Sequence[Burning], loads: Sequence[KilnLoad]) -> list[KilnAct]:
    """The acts at all kilns, those that are due first, then by the clock (no queries).

    lit    what burns; loads  planned loads, earliest first, `kiln` with them
    """
    acts = [_opening(each) for each in lit]
    acts += [_lighting(load) for load in next_of_each_kiln(loads, lit)]
    return sorted(acts, key=lambda act: (not act.is_due, act.at, act.load.number))


def next_act_of(load: KilnLoad, trays: Sequence[LoadTray]) -> KilnAct | None:
    """What comes next for one load (no queries); `kiln` and `bead` must come with it."""
    if load.state == KilnLoad.State.PLANNED:
        return _lighting(load)
    if load.state == KilnLoad.State.FIRING:
        return _opening(as_burning(load, trays))
    return None


def next_of_each_kiln(loads: Sequence[KilnLoad], lit: Sequence[Burning]) -> list[KilnLoad]:
    """The load that each kiln is lit for next; a closed kiln that burns has none."""
    shut = {each.load.kiln_id for each in lit if not each.load.kiln.is_kept_hot}
    first: dict[int, KilnLoad] = {}
    for load in loads:
        if load.kiln_id not in shut and load.state == KilnLoad.State.PLANNED:
            first.setdefault(load.kiln_id, load)
    return list(first.values())


def _opening(each: Burning) -> KilnAct:
    number = each.load.number
    if each.to_pierce:
        words, page = _("All of load %(n)s are pierced"), "orders:load_pierced"
    elif each.is_out:
        words, page = _("Count and log load %(n)s"), "orders:load_end"
    else:
        words, page = _("Open and log load %(n)s"), "orders:load_end"
    at = each.cold_at if each.is_out else each.opens_at
    return KilnAct(
        each.load, words % {"n": number}, reverse(page, args=[number]), at, timezone.now() >= at
    )


def _lighting(load: KilnLoad) -> KilnAct:
    joins = load.kiln.is_kept_hot and not load.lit
    words = _("Put load %(n)s in") if joins else _("Light load %(n)s")
    return KilnAct(
        load, words % {"n": load.number}, reverse("orders:load_start", args=[load.number]),
        load.starts_at, timezone.now() >= load.starts_at,
    )  # fmt: skip
