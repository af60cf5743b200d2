"""What is said of a price that stands below a floor, and what would lower the floor."""

from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orders.costing.new_loads import strands_that_pay
from orders.costing.pricing import LOSES
from orders.costing.results import LineCosting, OrderCosting
from orders.floor.promise import JoinedLoad, Joining
from workshop import formats


@dataclass(frozen=True)
class FloorWord:
    """A line whose price stands below a floor: which word, and the whole sentence."""

    line: int
    code: str
    sentence: str


def floor_words(costing: OrderCosting) -> list[FloorWord]:
    """What is to be said of the prices of an order; nothing where all stand on both floors."""
    return [
        FloorWord(line.index, line.word, _sentence(line)) for line in costing.lines if line.word
    ]


def _sentence(line: LineCosting) -> str:
    if line.word == LOSES:
        return _(
            "%(design)s loses money: this order alone takes %(sum)s out of the drawer, and it "
            "brings %(price)s."
        ) % {
            "design": line.name,
            "sum": formats.money(line.pocket),
            "price": formats.money(line.price_net),
        }
    return _(
        "%(design)s pays for itself but not its share of kiln and rent (short %(short)s). Fine now "
        "and then to fill a load."
    ) % {"design": line.name, "short": formats.money(line.cost - line.price_net)}


def ways_lower(costing: OrderCosting, joining: Joining | None) -> list[str]:
    """What would lower the floor of lines that light loads for themselves."""
    ruled = [line for line in costing.lines if line.pocket_rules and line.loads_cost]
    if not ruled:
        return []
    found = []
    if joining is not None and joining.loads:
        found.append(_joining_words(joining, ruled))
    for line in ruled:
        strands = strands_that_pay(line)
        if strands is not None and strands > line.quantity:
            found.append(
                ngettext(
                    "From %(n)s %(design)s on its price pays for the loads lit for it.",
                    "From %(n)s × %(design)s on the price pays for the loads lit for it.",
                    strands,
                )
                % {"n": formats.count(strands), "design": line.name}
            )
    return found


def _load_words(load: JoinedLoad) -> str:
    day = formats.date_short(load.day)
    if load.number is None:
        return _("the load of %(day)s") % {"day": day}
    return _("load %(number)s of %(day)s") % {"number": load.number, "day": day}


def _joining_words(joining: Joining, ruled: list[LineCosting]) -> str:
    """The loads that could be joined, and what the floor would be then."""
    loads = ", ".join(_load_words(load) for load in joining.loads)
    saved = sum((line.loads_cost for line in ruled), Decimal(0))
    return _("Joining %(loads)s it would take %(saved)s less: collect from %(day)s then.") % {
        "loads": loads,
        "saved": formats.money(saved),
        "day": formats.date_short(joining.ready_on),
    }
