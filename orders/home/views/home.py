"""The front door: what needs doing today."""

from functools import partial
from typing import Any

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.bench.queries.work import bench_work
from orders.firing.queries.burning import burning
from orders.firing.queries.waiting import waiting_on_firing
from orders.home.queries import today
from orders.home.queries.first_steps import first_steps, next_step
from orders.home.queries.next_acts import (
    MOST_ACTS,
    NextAct,
    at_the_bench,
    at_the_kilns,
    in_order,
    to_agree,
    to_buy,
    to_call,
    to_decide,
    to_hand_over,
    to_pay,
    to_prepare,
    to_remind,
    to_take_in,
)
from orders.home.queries.to_prepare import glass_to_prepare_for_orders
from orders.making.queries.findings import findings_to_buy, purchases_due
from orders.making.queries.orders import progress_of, progress_words
from workshop.doors import may
from workshop.models import Role
from workshop.services.second_look import waiting_for
from workshop.services.second_place import second_place_news

MOST_WAITING = 6


def home(request) -> HttpResponse:
    """Each role sees its own part of the day."""
    person = request.user
    context: dict[str, Any] = {"today": timezone.localdate()}
    # Somebody else cannot go on until they are looked at, so they come first.
    agree = to_agree(waiting_for(person)) if may(request, "workshop:second_look_list") else []
    if person.is_owner and (steps := first_steps(request.business)):
        context |= {"steps": steps, "next": next_step(steps), "acts": agree}
        return render(request, "orders/home/first_steps.html", context)
    sees, waiting = _parts_of(person), None
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
            "burning": burning(),
            "loads": today.loads_today(),
            "may_log": may(request, "orders:load_start", "POST"),
        }
    if "string" in sees:
        context["work"] = bench_work(waiting)
    if "prepare" in sees:
        context["to_prepare"] = glass_to_prepare_for_orders(context["today"])
        context["may_prepare"] = may(request, "stock:preparation_log", "POST")
    if "glass" in sees:
        context["short"] = today.short_colours()
    if "sacks" in sees:
        context["sacks"] = today.sacks_to_pay()
    if person.is_owner:
        context["second_place"] = second_place_news()
        context["below"] = today.orders_below_a_floor()
    if person.sees_money:
        context["owing"] = today.who_owes()
        context["to_buy"], context["awaited"] = findings_to_buy(), purchases_due()
    acts = [*agree, *_acts_of(person, context)]
    context |= {"acts": acts[:MOST_ACTS], "acts_count": len(acts), "first_acts": _begin(request)}
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


def _acts_of(person, context: dict[str, Any]) -> list[NextAct]:
    """The person's own next acts, what is late first."""
    kiln = partial(at_the_kilns, context.get("burning", ()), context.get("loads", ()))
    make = {
        Role.OWNER: lambda: [
            *to_call([row["order"] for row in context["due"]]),
            *to_remind(context["owing"]),
            *to_buy(context["to_buy"]),
            *to_take_in(context["awaited"]),
            *to_decide(context["unconfirmed"], context["below"]),
        ],
        Role.COUNTER: lambda: [
            *to_call([row["order"] for row in context["due"]]),
            *to_hand_over(context["to_collect"]),
            *to_buy(context["to_buy"]),
            *to_take_in(context["awaited"]),
        ],
        Role.YARD: lambda: [*to_prepare(context["to_prepare"]), *to_pay(context["sacks"])],
        Role.KILN: kiln,
        Role.BENCH: lambda: [
            *to_prepare(context["to_prepare"]),
            *at_the_bench(context["work"]),
        ],
    }.get(person.role)
    return in_order(make()) if make else []


def _begin(request) -> list[tuple[str, str]]:
    """What a person of this role begins all day, whatever waits: words and address."""
    at_the_counter = (
        (_("Take an order"), "orders:counter"),
        (_("Sell from the shelf"), "orders:sell"),
    )
    ways: dict[str, tuple[tuple[str, str], ...]] = {
        Role.OWNER: at_the_counter,
        Role.COUNTER: at_the_counter,
        Role.YARD: ((_("Log a sack"), "stock:sack_log"),),
    }.get(request.user.role, ())  # fmt: skip
    return [(words, reverse(page)) for words, page in ways]


def _with_progress(orders) -> list[dict]:
    return [
        {"order": order, "stages": progress_of(order), "words": progress_words(order)}
        for order in orders
    ]
