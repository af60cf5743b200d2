"""A plan of the kilns in words: what it takes, what no plan can beat, who is late."""

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orders.firing.queries.plan_effects import Figures
from orders.models import FiringPlan
from workshop import formats


def plan_words(now: Figures, plan: FiringPlan | None) -> str:
    """Loads and kiln minutes; beside them the bound, while it still is about these loads."""
    if not now.loads:
        return _("No load is planned.")
    words = ngettext(
        "%(loads)s load, %(minutes)s kiln minutes", "%(loads)s loads, %(minutes)s kiln minutes",
        now.loads,
    ) % {"loads": formats.count(now.loads), "minutes": formats.count(now.kiln_minutes)}  # fmt: skip
    least = least_words(now, plan)
    return f"{words}; {least}." if least else f"{words}."


def least_words(now: Figures, plan: FiringPlan | None) -> str:
    """ "no plan can do with less than 600", if the plan's bound was for the work that stands."""
    if plan is None or plan.least_kiln_minutes is None or not _same(now, plan.after):
        return ""
    least = plan.least_kiln_minutes
    if now.kiln_minutes <= least:
        return _("no plan can do with less")
    return _("no plan can do with less than %(least)s") % {"least": formats.count(least)}


def _same(now: Figures, told: dict[str, int]) -> bool:
    return now.kiln_minutes == told["kiln_minutes"] and now.loads == told["loads"]


def late_words(now: Figures, plan: FiringPlan | None) -> str:
    """How many orders come out too late for their day, and whether that can be helped."""
    if not now.late_orders:
        return _("Every order in a load comes out in time.")
    words = ngettext(
        "%(n)s order misses its day.",
        "%(n)s orders miss their day.",
        now.late_orders,
    ) % {"n": now.late_orders}
    if plan is None or not plan.least_late_orders or not _same(now, plan.after):
        return words
    more = ngettext(
        "No plan can have fewer than %(n)s late.", "No plan can have fewer than %(n)s late.",
        plan.least_late_orders,
    ) % {"n": plan.least_late_orders}  # fmt: skip
    return f"{words} {more}"


def better_plan(mark: str, now: Figures) -> FiringPlan | None:
    """What a longer search found since, if it still holds and beats the loads that stand
    (1 query)."""
    found = (
        FiringPlan.objects.filter(
            accepted_at__isnull=True, state_mark=mark, content__searched_s__gt=0
        )
        .order_by("-pk")
        .first()
    )
    return found if found is not None and _key(Figures(**found.after)) < _key(now) else None


def _key(plan: Figures) -> tuple[int, ...]:
    return (
        plan.unplaced, plan.tardiness_min, plan.late_orders, plan.kiln_minutes, plan.loads,
    )  # fmt: skip
