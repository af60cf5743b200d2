"""The pages that a phone keeps for the hours without a signal, those of work that lies open."""

from collections.abc import Iterator
from typing import Any

from django.db.models import F, QuerySet
from django.urls import reverse

from orders.models import Order, OrderLine, WorkOrder
from stock.models import KilnLoad, StockLocation
from workshop.days import soonest
from workshop.doors import open_to

LISTS = (
    *("orders:home", "orders:sell", "orders:counter_phone", "stock:sack_log"),
    *("stock:preparation_log", "orders:bench", "orders:firing"),
    *("stock:glass", "stock:beads", "stock:strand_list", "stock:count_list", "orders:order_list"),
    *("orders:design_list", "orders:glass_to_prepare", "workshop:safety", "workshop:phone_waiting"),
    *("workshop:photo_phone", "orders:scan"),
)
JOB_PAGES = {
    WorkOrder.Step.MOULDING: "orders:bench_mould",
    WorkOrder.Step.PAINTING: "orders:bench_paint",
    WorkOrder.Step.FINISHING: "orders:bench_finish",
}
LOAD_PAGES = {
    KilnLoad.State.PLANNED: ("orders:load", "orders:load_start"),
    KilnLoad.State.FIRING: ("orders:load", "orders:load_pierced", "orders:load_end"),
}
# Of each kind; a phone fetches them while its person looks at something else.
MOST = 20


def phone_pages(person: Any) -> list[str]:
    """Addresses open to this person, lists first (5 queries)."""
    lists = [reverse(name) for name in LISTS if open_to(person, name)]
    to_string = OrderLine.objects.filter(
        order__state=Order.State.CONFIRMED, strung__lt=F("strands")
    ).order_by("-order__stage", soonest("order__due_on"), "pk")
    due = Order.objects.filter(state=Order.State.CONFIRMED).order_by(soonest("due_on"), "pk")
    shelves = StockLocation.objects.filter(inside=True).order_by("pk")
    return [
        *lists,
        *_jobs(person),
        *_each(person, "orders:bench_string", to_string.values_list("pk", flat=True)),
        *_loads(person),
        *_each(person, "stock:count", shelves.values_list("pk", flat=True)),
        *_each(person, "orders:order_detail", due.values_list("number", flat=True)),
    ]


def _each(person: Any, name: str, keys: QuerySet) -> list[str]:
    """The page of each thing, where such pages are open to this person."""
    if not open_to(person, name):
        return []
    return [reverse(name, args=[key]) for key in keys[:MOST]]


def _jobs(person: Any) -> Iterator[str]:
    waiting = WorkOrder.objects.filter(step__in=JOB_PAGES).order_by("order__due_on", "pk")
    for pk, step in waiting.values_list("pk", "step")[:MOST]:
        name = JOB_PAGES[WorkOrder.Step(step)]
        if open_to(person, name):
            yield reverse(name, args=[pk])


def _loads(person: Any) -> Iterator[str]:
    open_loads = KilnLoad.objects.filter(state__in=LOAD_PAGES).order_by("starts_at", "pk")
    for number, state in open_loads.values_list("number", "state")[:MOST]:
        for name in LOAD_PAGES[KilnLoad.State(state)]:
            if open_to(person, name):
                yield reverse(name, args=[number])
