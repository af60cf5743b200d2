"""A longer search for a better plan, in a process of its own; the keeper is not kept waiting.

The search belongs to no web worker: it goes on when the server is started anew, and nobody has
to collect it when it ends. It reads the floor once, searches in memory and writes a line of its
progress every few seconds, so the counter never waits for it.
"""

from collections.abc import Iterator

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.firing.queries.plan_effects import figures, ready_days
from orders.firing.queries.search_progress import is_running, latest_search
from orders.firing.services.plan import SEED, as_lit, keep_plan
from orders.floor.floor import Floor
from orders.floor.kiln_room import hold_the_kilns
from orders.floor.read_floor import read_floor
from orders.models import FiringPlan, FiringSearch
from orders.planning.errors import PlanningError
from orders.planning.instance import Plan
from orders.planning.replan import replan
from workshop import formats
from workshop.models import Person
from workshop.services.acts import record_act
from workshop.services.beside import start_beside

SECONDS = 60
SLICE_S = 4.0  # a line of progress is written so often


@transaction.atomic
def search_longer(*, person: Person) -> FiringSearch:
    """Ask for a search; it starts when the transaction is over. Refused while one is under way."""
    hold_the_kilns()
    running = search_under_way()
    if running is not None:
        raise ValidationError(
            _("A search is under way since %(time)s. Look at the board again in a minute.")
            % {"time": formats.time_short(timezone.localtime(running.asked_at))}
        )
    search = FiringSearch.objects.create(asked_by=person, seconds=SECONDS)
    record_act(person, "search longer", search)
    transaction.on_commit(lambda: _start(search))
    return search


def _start(search: FiringSearch) -> None:
    if not start_beside("search_firing", "--search", str(search.pk)):
        _end(search, said=_("The search could not be started on this machine."))


def search_under_way() -> FiringSearch | None:
    """The search that runs now (1 query)."""
    latest = latest_search()
    return latest if latest is not None and is_running(latest) else None


def run_search(search: FiringSearch) -> FiringPlan | None:
    """Search for the time asked, then lay the best plan before the keeper.

    Gives None when nothing can be planned; the search then says why.
    """
    person = search.asked_by
    floor = read_floor()
    found = Plan()
    try:
        for found, spent_s in _slices(floor, float(search.seconds)):
            so_far = figures(floor, floor.with_pinned(found)).told()
            FiringSearch.objects.filter(pk=search.pk).update(
                seen_at=timezone.now(), searched_s=round(spent_s), so_far=so_far
            )
    except PlanningError as error:
        _end(search, said=str(error))
        return None
    plan = keep_plan(
        floor, as_lit(floor, found), person=person, standing=floor, before=ready_days(floor),
        searched_s=search.seconds,
    )  # fmt: skip
    changed = read_floor().mark != plan.state_mark
    said = _("Orders, loads or hours have changed while it searched. Search again.")
    _end(search, plan=plan, said=said if changed else "")
    return plan


def _slices(floor: Floor, seconds: float) -> Iterator[tuple[Plan, float]]:
    """Plans that get better and better, with the seconds spent: a third of the time by restarts,
    the rest by solving neighbourhoods."""
    from orders.planning.search import longer_search

    slice_s, spent, best = min(SLICE_S, seconds / 6), 0.0, None
    while spent < seconds - 1e-6:
        piece = min(slice_s, seconds - spent)
        seed = SEED + round(spent / slice_s)
        if best is None or spent < seconds / 3:
            best = replan(floor.instance, seconds=piece, seed=seed, start=best).plan
        else:
            best = longer_search(floor.instance, best, seconds=piece, seed=seed).plan
        best = _unpinned(floor, best)
        spent += piece
        yield best, spent


def _unpinned(floor: Floor, plan: Plan) -> Plan:
    fixed = {(pin.load.kiln, pin.load.start_min) for pin in floor.instance.pinned}
    return Plan(tuple(x for x in plan.loads if (x.kiln, x.start_min) not in fixed))


def _end(search: FiringSearch, *, plan: FiringPlan | None = None, said: str = "") -> None:
    FiringSearch.objects.filter(pk=search.pk).update(
        ended_at=timezone.now(), seen_at=timezone.now(), plan=plan, said=said[:400]
    )
