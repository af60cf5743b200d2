"""The latest longer search, as the board tells of it."""

from datetime import timedelta

from django.utils import timezone
from django.utils.translation import gettext as _

from orders.firing.queries.plan_effects import Figures
from orders.firing.queries.plan_words import better_plan, plan_words
from orders.models import FiringSearch

SILENT = timedelta(seconds=30)  # a search that says nothing for so long was cut off: our choice
TOLD_FOR = timedelta(hours=12)  # what an ended search found is told for so long


def latest_search() -> FiringSearch | None:
    """The search asked for last, with its plan and who asked (1 query)."""
    return FiringSearch.objects.select_related("plan", "asked_by").order_by("-pk").first()


def is_running(search: FiringSearch) -> bool:
    """It has not ended, and was heard of lately."""
    heard = search.seen_at or search.asked_at
    return search.ended_at is None and heard > timezone.now() - SILENT


def search_shown(mark: str, now: Figures) -> dict[str, object]:
    """For the board, whose floor has this mark and figures: what runs, what was found
    (2 queries)."""
    search = latest_search()
    running = search is not None and is_running(search)
    better = better_plan(mark, now)
    found: dict[str, object] = {"search": search, "searching": running, "better": better}
    if search is None or running:
        if search is not None and search.so_far:
            found["so_far"] = plan_words(Figures(**search.so_far), None)
        return found
    if better is None and timezone.now() - search.asked_at < TOLD_FOR:
        found["search_said"] = _outcome(search)
    return found


def _outcome(search: FiringSearch) -> str:
    if search.ended_at is None:
        return _("The last search was cut off before its end, and found nothing. Search again.")
    return search.said or _("The last search found nothing better than the loads that stand.")
