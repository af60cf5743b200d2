"""The firing board: which orders wait and why, and the kilns day by day."""

from collections import Counter, defaultdict
from decimal import Decimal

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from orders.firing.queries.burning import burning
from orders.firing.queries.kiln_acts import kiln_acts
from orders.firing.queries.kiln_picture import kiln_calendar, main_colours
from orders.firing.queries.plan_effects import (
    Figures,
    Late,
    figures,
    late_orders,
    unplaced_orders,
)
from orders.firing.queries.plan_words import late_words, plan_words
from orders.firing.queries.search_progress import search_shown
from orders.firing.queries.step_on import steps_on
from orders.firing.queries.tray_board import MOST_LOADS, load_cards
from orders.firing.queries.waiting import Waiting, next_of, waiting_of
from orders.floor.floor import Floor
from orders.floor.glass_shelf import shares_by_bead
from orders.floor.read_floor import read_floor
from orders.making.queries.orders import OrderDrawings, listed_orders, progress_of
from orders.models import FiringPlan
from stock.models import KilnLoad
from workshop.doors import may
from workshop.models import Kiln, NoFiring

MOST_ROWS = 30  # a longer list is drawn when it is asked for


@require_GET
def firing(request) -> HttpResponse:
    """The orders that wait, the earliest due first, and the loads planned for them."""
    show_all = "all" in request.GET
    floor = read_floor()
    waiting = waiting_of(floor.jobs, floor.missing, next_of(floor.loads))
    late = late_orders(floor, floor.whole_plan)
    now = figures(floor, floor.whole_plan, late)
    context = {
        "rows": waiting_rows(request, waiting if show_all else waiting[:MOST_ROWS]),
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
    late_in = late_orders_in(floor.loads, {each.order for each in late})
    no_firing = list(NoFiring.objects.filter(day__gte=timezone.localdate()).select_related("kiln"))
    moves = may(request, "orders:plan_propose", "POST")
    shares = shares_by_bead(tray.bead_id for load in floor.loads for tray in load.trays.all())
    calendar = kiln_calendar(
        floor.loads, kilns, main_colours(shares), late_in, no_firing=no_firing, movable=moves
    )
    every = request.GET.get("loads") == "all"
    cards = load_cards(floor.loads, shares, late_in, None if every else MOST_LOADS)
    lit = burning()
    acts = kiln_acts(lit, floor.loads) if may(request, "orders:load_start", "POST") else []
    return {
        "burning": lit,
        "act": next(iter(acts), None),
        "may_log": may(request, "orders:load_start", "POST"),
        "calendar": calendar,
        "loads": floor.loads,
        "cards": cards,
        "all_loads": every,
        "more_loads": len(floor.loads) - len(cards),
        "plan_words": plan_words(now, plan),
        "late_words": late_words(now, plan) if floor.loads else "",
        "no_firing": no_firing,
    }


def late_orders_in(loads: list[KilnLoad], late: set[str]) -> dict[int, list[str]]:
    """By load, the orders in it that miss their day."""
    numbers, found = set(map(int, late)), defaultdict(set)
    for load in loads if late else ():
        for tray in load.trays.all():
            for share in tray.shares.all():
                if share.job.order.number in numbers:
                    found[load.pk].add(share.job.order.number)
    return {pk: [str(number) for number in sorted(own)] for pk, own in found.items()}


def waiting_rows(request, waiting: list[Waiting]) -> list[dict]:
    orders = {
        order.pk: order for order in listed_orders().filter(pk__in=[w.order.pk for w in waiting])
    }
    drawings = OrderDrawings(list(orders.values()))
    return [
        {
            "waiting": each,
            "act": next((step for step in steps_on(each) if may(request, step.page)), None),
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
