"""Plans of the kilns: worked out, laid before the keeper, accepted; and loads pinned.

Working a plan out takes a second and writes nothing, so it runs outside any transaction. What it
found is kept as a FiringPlan; accepting it is one short transaction, refused when anything that
it was worked out from has changed.
"""

from datetime import date

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.firing.queries.plan_effects import (
    Late,
    Shift,
    figures,
    late_orders,
    moved_days,
    ready_days,
    standing_holds,
)
from orders.firing.services.plan_heat import usual_plan
from orders.firing.services.plan_picture import plan_bars
from orders.firing.services.plan_rows import tell_orders, write_plan
from orders.floor.facts import LIT_LATE_MIN
from orders.floor.five_minutes import lit_on_the_five
from orders.floor.floor import Floor
from orders.floor.kiln_room import hold_the_kilns
from orders.floor.read_floor import read_floor
from orders.models import FiringPlan
from orders.planning.bound_process import bounds_apart
from orders.planning.errors import PlanningError
from orders.planning.instance import Plan
from orders.planning.json_form import plan_from_json, plan_to_json
from orders.planning.measure import Key, measure
from orders.planning.replan import replan
from stock.models import KilnLoad
from workshop import formats
from workshop.models import AuditEntry, NoFiring, Person
from workshop.services.acts import record_act

SEARCH_S = 1.0
SEED = 1


# --- a new plan -------------------------------------------------------------------------------


def propose_plan(
    *,
    person: Person,
    forbid: NoFiring | None = None,
    before: dict[str, date] | None = None,
    seconds: float = SEARCH_S,
    bound: bool = True,
) -> FiringPlan:
    """Work out a new plan of everything not pinned and keep it for the keeper to look at.

    forbid  a day without firing that is only being thought about; it is written down when the
            plan is accepted
    before  the days the orders had before something went wrong; left out, by the loads that stand
    Raises ValidationError when nothing can be planned.
    """
    floor = read_floor(no_firing=[forbid] if forbid else [])
    standing = read_floor() if forbid else floor
    plan = work_out(floor, seconds)
    days = ready_days(standing) if before is None else before
    return keep_plan(
        floor, plan, person=person, standing=standing, forbid=forbid, before=days, bound=bound,
    )  # fmt: skip


def keep_plan(
    floor: Floor,
    plan: Plan,
    *,
    person: Person,
    standing: Floor,
    before: dict[str, date],
    forbid: NoFiring | None = None,
    bound: bool = True,
    searched_s: float = 0,
) -> FiringPlan:
    """Write a plan down for the keeper to look at, beside what stands and what no plan beats."""
    whole = floor.with_pinned(plan)
    found = bounds_apart(floor.instance) if bound else None
    late = late_orders(floor, whole, before)
    content = {
        "plan": plan_to_json(plan),
        "first_day": str(floor.clock.first_day),
        "moved": [_shift_told(shift) for shift in moved_days(floor, before, whole)],
        "late": [_late_told(each) for each in late],
        "refused": [each.sentence for each in floor.refused],
        "searched_s": searched_s,
        "drawn": plan_bars(standing, floor, plan),
    }
    return FiringPlan.objects.create(
        made_by=person,
        forbid_day=forbid.day if forbid else None,
        forbid_kiln=forbid.kiln if forbid else None,
        why=forbid.why if forbid else "",
        before=figures(standing, standing.whole_plan).told(),
        after=figures(floor, whole, late).told(),
        least_kiln_minutes=found.kiln_minutes if found else None,
        least_loads=found.loads if found else None,
        least_late_orders=found.late_orders if found else None,
        content=content,
        state_mark=standing.mark,
    )


def _shift_told(shift: Shift) -> dict[str, str | None]:
    return {
        "order": shift.order,
        "due_on": _day(shift.due_on),
        "before_on": _day(shift.before_on),
        "after_on": _day(shift.after_on),
    }


def _late_told(late: Late) -> dict[str, str | bool | None]:
    return {
        "order": late.order,
        "due_on": _day(late.due_on),
        "ready_on": _day(late.ready_on),
        "was_late": late.was_late,
    }


def _day(on: date | None) -> str | None:
    return str(on) if on else None


def work_out(floor: Floor, seconds: float) -> Plan:
    """The best plan found in the time for what is not pinned; a PlanningError as a refusal.

    Where nothing as good as the plan that stands was found, the search goes on from that one: a
    new plan is never later than what it would take the place of.
    """
    found = _searched(floor, seconds)
    if not standing_holds(floor) or _key(floor, found) < _key(floor, floor.standing):
        return found
    bettered = _searched(floor, seconds, start=floor.standing)
    return min(bettered, floor.standing, key=lambda plan: _key(floor, plan))


def _searched(floor: Floor, seconds: float, start: Plan | None = None) -> Plan:
    try:
        found = replan(floor.instance, seconds=seconds, seed=SEED, start=start).plan
    except PlanningError as error:
        raise ValidationError(str(error)) from error
    fixed = {(pin.load.kiln, pin.load.start_min) for pin in floor.instance.pinned}
    free = tuple(load for load in found.loads if (load.kiln, load.start_min) not in fixed)
    return as_lit(floor, Plan(free))


def _key(floor: Floor, plan: Plan) -> Key:
    return measure(floor.instance, floor.with_pinned(plan))


def as_lit(floor: Floor, plan: Plan) -> Plan:
    """The planner's loads as a keeper lights them: on the five minutes, at the usual heat."""
    return usual_plan(floor, lit_on_the_five(floor.instance, plan))


@transaction.atomic
def accept_plan(
    proposal: FiringPlan, *, person: Person, knows_it_breaks: bool = False
) -> FiringPlan:
    """Put a worked-out plan in the place of the loads that are planned and not pinned.

    What was kept for orders since they were confirmed is planned by it now.

    knows_it_breaks  whoever accepts was told which promises the plan breaks
    Raises ValidationError when it breaks one untold, or anything has changed since.
    """
    broken = proposal.broken_promises
    if broken and not knows_it_breaks:
        raise ValidationError(_("This plan breaks a promise. Say that you know, or leave it."))
    hold_the_kilns()
    now = timezone.now()
    claimed = FiringPlan.objects.filter(pk=proposal.pk, accepted_at__isnull=True).update(
        accepted_at=now, accepted_by=person
    )
    if not claimed:
        return FiringPlan.objects.get(pk=proposal.pk)
    floor = read_floor()
    if floor.mark != proposal.state_mark:
        raise ValidationError(changed_since(proposal))
    plan = plan_from_json(proposal.content["plan"])
    if any(load.start_min < floor.now_min - LIT_LATE_MIN for load in plan.loads):
        raise ValidationError(
            _("A load of this plan should have been lit by now. Work the plan out again.")
        )
    if proposal.forbid_day is not None:
        NoFiring.objects.get_or_create(
            day=proposal.forbid_day, kiln=proposal.forbid_kiln, defaults={"why": proposal.why}
        )
    write_plan(floor, plan)
    tell_orders(floor, floor.with_pinned(plan))
    after = proposal.after | ({"breaks": ", ".join(broken)} if broken else {})
    record_act(person, "accept firing plan", proposal, before=proposal.before, after=after)
    proposal.accepted_at, proposal.accepted_by = now, person
    return proposal


def changed_since(proposal: FiringPlan) -> str:
    """What somebody did since a plan was worked out, as a sentence."""
    latest = (
        AuditEntry.objects.filter(
            at__gt=proposal.made_at,
            subject_kind__in=["kilnload", "workorder", "order", "firingplan"],
            refused=False,
        )
        .select_related("person")
        .order_by("-pk")
        .first()
    )
    again = _("Work the plan out again; nothing was changed.")
    if latest is None:
        return _(
            "Orders, loads or hours have changed since this plan was worked out. %(again)s"
        ) % {"again": again}
    return _("Since this plan was worked out, %(who)s has changed %(what)s. %(again)s") % {
        "who": latest.person or _("somebody"),
        "what": subject_words(latest.subject_kind, latest.subject_ref),
        "again": again,
    }


def subject_words(kind: str, ref: str) -> str:
    """What a refusal of the planner speaks about, in words."""
    words = {
        "kilnload": _("load %(ref)s"),
        "order": _("order %(ref)s"),
        "firingplan": _("the firing plan"),
        "workorder": _("beads of an order"),
    }
    return words.get(kind, _("the book")) % {"ref": ref}


@transaction.atomic
def allow_again(row: NoFiring, *, person: Person) -> None:
    """A day on which nothing was to be fired is a firing day again."""
    record_act(person, "allow firing", row, before={"day": str(row.day), "why": row.why})
    row.delete()


# --- one load by hand -------------------------------------------------------------------------


@transaction.atomic
def pin_load(load: KilnLoad, pinned: bool, *, person: Person) -> KilnLoad:
    """A pinned load stays where it is whenever the kilns are planned again."""
    hold_the_kilns()
    changed = KilnLoad.objects.filter(
        pk=load.pk, state=KilnLoad.State.PLANNED, version=load.version
    ).update(pinned=pinned, version=F("version") + 1)
    if not changed:
        raise ValidationError(load_changed(load))
    load.refresh_from_db()
    record_act(person, "pin load" if pinned else "unpin load", load, after={"pinned": pinned})
    return load


def load_changed(load: KilnLoad) -> str:
    """Who changed a load meanwhile, and what it is now."""
    now = KilnLoad.objects.filter(pk=load.pk).first()
    if now is None:
        return _(
            "Load %(number)s is gone: the kilns were planned anew. Look at the plan again."
        ) % {"number": load.number}
    latest = (
        AuditEntry.objects.filter(
            Q(subject_kind="kilnload", subject_ref=str(load.number)) | Q(act="accept firing plan"),
            refused=False,
        )
        .select_related("person")
        .order_by("-pk")
        .first()
    )
    if latest is None or latest.person is None:
        return _(
            "Load %(number)s was changed meanwhile and is %(state)s now. Look at it again."
        ) % {
            "number": now.number,
            "state": now.get_state_display(),
        }
    return _(
        "%(who)s changed load %(number)s at %(time)s; it is %(state)s now. Look at it again."
    ) % {
        "who": latest.person,
        "number": now.number,
        "time": formats.time_short(timezone.localtime(latest.at)),
        "state": now.get_state_display(),
    }
