"""One search over everything, the things last worked on, and the keys."""

from functools import partial

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET

from orders.home.queries.finding import find as find_all
from orders.home.queries.finding import recent
from workshop.doors import may

LATEST_ACTS = 60
MOST_RECENT = 8


@require_GET
def find(request) -> HttpResponse:
    """What was asked for, kind by kind; the only thing found opens at once."""
    words = " ".join(request.GET.get("q", "").split())[:80]
    may_open = partial(may, request)
    groups = find_all(words, may_open)
    hits = [hit for group in groups for hit in group.hits]
    if len(hits) == 1 and "look" not in request.GET:
        return redirect(hits[0].url)
    latest = request.user.acts.filter(refused=False).order_by("-pk")[:LATEST_ACTS]
    context = {
        "words": words,
        "groups": groups,
        "recent": recent(latest, may_open)[:MOST_RECENT] if not words else [],
    }
    return render(request, "orders/home/find.html", context)
