"""The front door: what needs doing today."""

from collections.abc import Sequence
from typing import Any

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from orders.firing.queries.burning import Burning, burning
from orders.firing.queries.waiting import waiting_on_firing
from orders.home.queries import today
from orders.home.queries.first_steps import first_steps, next_step
from orders.making.queries.orders import progress_of, progress_words
from orders.making.queries.to_prepare import glass_to_prepare_for_orders
from stock.models import KilnLoad
from workshop.doors import may
from workshop.models import Role
from workshop.services.second_look import waiting_for
from workshop.services.second_place import second_place_news

MOST_WAITING = 6


def home(request) -> HttpResponse:
    """Each role sees its own part of the day."""
    person = request.user
    context: dict[str, Any] = {"today": timezone.localdate()}
    if may(request, "workshop:second_look_list"):
        context["second_looks"] = waiting_for(person)
    if person.is_owner and (steps := first_steps(request.business)):
        context |= {"steps": steps, "next": next_step(steps)}
        return render(request, "orders/home/first_steps.html", context)
    sees = _parts_of(person)
    if "orders" in sees:
        context |= {
            "due": _with_progress(today.orders_due()),
            "to_collect": today.orders_to_collect(),
            "unconfirmed": today.orders_unconfirmed(),
        }
    if "firing" in sees:
        waiting = waiting_on_firing()
        context |= {
            "waiting": waiting[:MOST_WAITING],
            "waiting_count": len(waiting),
            "burning": (lit := burning()),
            "loads": (loads := today.loads_today()),
            "next_loads": _next_of_each_kiln(loads, lit),
            "may_log": may(request, "orders:load_start", "POST"),
        }
    if "string" in sees:
        context["to_string"] = today.orders_to_string()
    if "prepare" in sees:
        context["to_prepare"] = glass_to_prepare_for_orders(context["today"])
        context["may_prepare"] = may(request, "stock:preparation_log", "POST")
    if "glass" in sees:
        context["short"] = today.short_colours()
    if "sacks" in sees:
        context["sacks"] = today.sacks_to_pay()
    if person.is_owner:
        context["second_place"] = second_place_news()
    if person.sees_money:
        context["owing"] = today.who_owes()
    return render(request, "orders/home/home.html", context)


def first_next(request) -> HttpResponse:
    """On from one of the first steps to the next that is not done."""
    step = next_step(first_steps(request.business), request.GET.get("after", ""))
    return redirect(step.url if step else "orders:home")


def _parts_of(person) -> set[str]:
    return {
        Role.OWNER: {"orders", "firing", "string", "prepare", "glass", "sacks"},
        Role.COUNTER: {"orders", "firing"},
        Role.YARD: {"prepare", "glass", "sacks"},
        Role.KILN: {"firing", "glass"},
        Role.BENCH: {"prepare", "firing", "string"},
    }.get(person.role, set())


def _next_of_each_kiln(loads: Sequence[KilnLoad], lit: Sequence[Burning]) -> set[int]:
    """The load that each kiln is lit for next; a closed kiln that burns has none."""
    shut = {each.load.kiln_id for each in lit if not each.load.kiln.is_kept_hot}
    first: dict[int, int] = {}
    for load in loads:
        if load.kiln_id not in shut:
            first.setdefault(load.kiln_id, load.pk)
    return set(first.values())


def _with_progress(orders) -> list[dict]:
    return [
        {"order": order, "stages": progress_of(order), "words": progress_words(order)}
        for order in orders
    ]
