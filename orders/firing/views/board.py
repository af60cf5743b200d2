"""The firing board: which orders wait and why, and the kilns day by day."""

from collections import Counter
from decimal import Decimal

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from orders.firing.queries.burning import burning
from orders.firing.queries.kilns import kiln_calendar
from orders.firing.queries.plan_effects import (
    Figures,
    Late,
    figures,
    late_orders,
    unplaced_orders,
)
from orders.firing.queries.plan_words import late_words, plan_words
from orders.firing.queries.search_progress import search_shown
from orders.firing.queries.tray_board import MOST_LOADS, load_cards
from orders.firing.queries.waiting import Waiting, shares_in, waiting_of
from orders.floor.floor import Floor
from orders.floor.read_floor import read_floor
from orders.making.queries.orders import OrderDrawings, listed_orders, progress_of
from orders.models import FiringPlan
from stock.models import KilnLoad
from workshop.doors import may
from workshop.models import Kiln, NoFiring

MOST_ROWS = 60  # a longer list is drawn when it is asked for


@require_GET
def firing(request) -> HttpResponse:
    """The orders that wait, the earliest due first, and the loads planned for them."""
    show_all = "all" in request.GET
    floor = read_floor()
    waiting = waiting_of(floor.jobs, floor.missing, shares_in(floor.loads))
    late = late_orders(floor, floor.whole_plan)
    now = figures(floor, floor.whole_plan, late)
    context = {
        "rows": waiting_rows(waiting if show_all else waiting[:MOST_ROWS]),
        "waiting_count": len(waiting),
        "hidden": 0 if show_all else max(0, len(waiting) - MOST_ROWS),
        "groups": _groups(waiting),
        "short_bars": _short_bars(waiting),
        "now": now,
        "unplaced": unplaced_orders(floor, floor.whole_plan),
        "refused": floor.refused,
        **search_shown(floor.mark, now),
        **_loads_shown(request, floor, now, late),
        "may_act": may(request, "orders:plan_propose", "POST"),
        "may_ask": may(request, "orders:firing_advice"),
        "may_see_kept": may(request, "orders:dates_kept"),
        "may_see_calendar": may(request, "orders:calendar_address"),
    }
    return render(request, "orders/firing/board.html", context)


def _loads_shown(request, floor: Floor, now: Figures, late: list[Late]) -> dict:
    """The loads as a calendar and as cards, and the plan that they follow in words."""
    kilns = list(Kiln.objects.filter(in_use=True))
    plan = FiringPlan.objects.filter(accepted_at__isnull=False).select_related("made_by").first()
    hot = loads_with(floor.loads, {each.order for each in late})
    calendar = kiln_calendar(floor.loads, kilns, hot)
    cards = load_cards(floor.loads, hot, None if request.GET.get("loads") == "all" else MOST_LOADS)
    return {
        "burning": burning(),
        "may_log": may(request, "orders:load_start", "POST"),
        "calendar": calendar,
        "loads": floor.loads,
        "cards": cards,
        "all_loads": request.GET.get("loads") == "all",
        "more_loads": len(floor.loads) - len(cards),
        "plan_words": plan_words(now, plan),
        "late_words": late_words(now, plan) if floor.loads else "",
        "no_firing": NoFiring.objects.filter(day__gte=calendar.first_day).select_related("kiln"),
    }


def loads_with(loads: list[KilnLoad], orders: set[str]) -> set[int]:
    """The loads that hold beads of some orders."""
    return {
        load.pk
        for load in loads
        for tray in load.trays.all()
        for share in tray.shares.all()
        if str(share.job.order.number) in orders
    }


def waiting_rows(waiting: list[Waiting]) -> list[dict]:
    orders = {
        order.pk: order for order in listed_orders().filter(pk__in=[w.order.pk for w in waiting])
    }
    drawings = OrderDrawings(list(orders.values()))
    return [
        {
            "waiting": each,
            "drawn": drawings.of(orders[each.order.pk]),
            "stages": progress_of(each.order),
            "lines": orders[each.order.pk].lines.all(),
        }
        for each in waiting
        if each.order.pk in orders
    ]


def _groups(waiting: list[Waiting]) -> dict[str, int]:
    """How many orders wait on what, by the first thing that holds them."""
    found: Counter[str] = Counter()
    for each in waiting:
        found[each.holds] += 1
    return dict(found)


def _short_bars(waiting: list[Waiting]) -> list[dict]:
    """Raw glass missing for all that waits, by colour."""
    short: dict[int, list] = {}
    for each in waiting:
        for job in each.jobs:
            for lack in job.missing:
                if lack.short_mg:
                    row = short.setdefault(lack.colour.pk, [lack.colour, 0])
                    row[1] += lack.short_mg
    most = max((mg for _colour, mg in short.values()), default=1)
    return [
        {
            "name": colour.name,
            "colour": colour.swatch,
            "glass_g": Decimal(mg) / 1000,
            "share": mg / most,
            "short": True,
        }
        for colour, mg in sorted(short.values(), key=lambda pair: -pair[1])
    ]
