"""Plans of the kilns: worked out, laid before the keeper, accepted; and trays moved by hand.

Working a plan out takes a second and writes nothing, so it runs outside any transaction. What it
found is kept as a FiringPlan; accepting it is one short transaction, refused when anything that
it was worked out from has changed.
"""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, timedelta

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.floor import Floor
from orders.models import FiringPlan, LoadShare, Order
from orders.planning.bound_process import bounds_apart
from orders.planning.errors import PlanningError
from orders.planning.faults import faults
from orders.planning.instance import Item, Load, Plan
from orders.planning.json_form import plan_from_json, plan_to_json
from orders.planning.measure import measure
from orders.planning.replan import replan
from orders.planning_adapter import read_floor
from orders.queries.plans import Figures, figures, moved_days, ready_by, ready_days
from stock.models import KilnLoad, LoadTray
from workshop import formats
from workshop.models import Kiln, NoFiring, Person, Programme
from workshop.services.acts import record_act
from workshop.services.numbers import take_number

SEARCH_S = 1.0
SEED = 1
MOST_LENGTHENED = 80  # beyond so many loads the shortest times are kept: our choice
LIT_LATE_MIN = 60  # a load lit so much later than planned is planned anew: our choice


# --- a new plan -------------------------------------------------------------------------------


def propose_plan(
    *,
    person: Person,
    forbid: NoFiring | None = None,
    before: dict[str, date] | None = None,
    seconds: float = SEARCH_S,
    bound: bool = True,
    search_s: float = 0,
) -> FiringPlan:
    """Work out a new plan of everything not pinned and keep it for the keeper to look at.

    forbid  a day without firing that is only being thought about; it is written down when the
            plan is accepted
    before  the days the orders had before something went wrong; left out, by the loads that stand
    search_s  seconds for the longer search, which loads the solver: not while somebody waits
    Raises ValidationError when nothing can be planned.
    """
    floor = read_floor(no_firing=[forbid] if forbid else [])
    standing = read_floor() if forbid else floor
    plan = work_out(floor, seconds, search_s)
    whole = floor.with_pinned(plan)
    found = bounds_apart(floor.instance) if bound else None
    days = moved_days(floor, ready_days(standing) if before is None else before, whole)
    content = {
        "plan": plan_to_json(plan),
        "first_day": str(floor.clock.first_day),
        "moved": [
            {
                "order": s.order,
                "due_on": s.due_on and str(s.due_on),
                "before_on": s.before_on and str(s.before_on),
                "after_on": s.after_on and str(s.after_on),
            }
            for s in days
        ],
        "refused": [each.sentence for each in floor.refused],
        "searched_s": search_s,
    }
    return FiringPlan.objects.create(
        made_by=person,
        forbid_day=forbid.day if forbid else None,
        forbid_kiln=forbid.kiln if forbid else None,
        why=forbid.why if forbid else "",
        before=_told(figures(standing, standing.whole_plan)),
        after=_told(figures(floor, whole)),
        least_kiln_minutes=found.kiln_minutes if found else None,
        least_loads=found.loads if found else None,
        least_late_orders=found.late_orders if found else None,
        content=content,
        state_mark=standing.mark,
    )


def work_out(floor: Floor, seconds: float = SEARCH_S, search_s: float = 0) -> Plan:
    """The best plan found in the time for what is not pinned; a PlanningError as a refusal."""
    try:
        found = replan(floor.instance, seconds=seconds, seed=SEED).plan
        if search_s:
            from orders.planning.search import longer_search

            found = longer_search(floor.instance, found, seconds=search_s, seed=SEED).plan
    except PlanningError as error:
        raise ValidationError(str(error)) from error
    fixed = {(pin.load.kiln, pin.load.start_min) for pin in floor.instance.pinned}
    free = [load for load in found.loads if (load.kiln, load.start_min) not in fixed]
    heated = [_at_usual_heat(floor, load) for load in free]
    return Plan(tuple(_at_usual_length(floor, heated)))


def _programmes(floor: Floor, load: Load) -> list[Programme]:
    found = []
    for item in load.items:
        work = floor.work[item.job]
        programme = [work.bead.programme, work.bead.second_programme][item.firing + work.first - 2]
        assert programme is not None, "the planner places only firings that a bead has"
        found.append(programme)
    return found


def _at_usual_heat(floor: Floor, load: Load) -> Load:
    """As near the beads' usual temperatures as all in the load allow; the planner takes the
    coolest that does."""
    programmes = _programmes(floor, load)
    kiln = next(kiln for kiln in floor.instance.kilns if kiln.id == load.kiln)
    low = max([kiln.temp_min_c, *(p.from_c for p in programmes)])
    high = min([kiln.temp_max_c, *(p.to_c for p in programmes)])
    if not programmes or low > high:
        return load
    usual = round(sum(p.hold_c for p in programmes) / len(programmes))
    return replace(load, temp_c=min(max(usual, low), high))


def _at_usual_length(floor: Floor, loads: list[Load]) -> list[Load]:
    """Held as long as the beads usually are, wherever that breaks no rule and makes nobody later;
    the planner takes the shortest time that all in the load allow."""
    if len(loads) > MOST_LENGTHENED:
        return loads
    late = measure(floor.instance, floor.with_pinned(Plan(tuple(loads)))).tardiness_min
    for number, load in enumerate(loads):
        programmes = _programmes(floor, load)
        longest = min((p.to_min for p in programmes), default=0)
        minutes = min(max((p.hold_min for p in programmes), default=0), longest)
        if minutes <= load.minutes:
            continue
        longer = replace(load, minutes=minutes)
        trial = [*loads[:number], longer, *loads[number + 1 :]]
        whole = floor.with_pinned(Plan(tuple(trial)))
        if (
            not faults(floor.instance, whole, longer)
            and measure(floor.instance, whole).tardiness_min <= late
        ):
            loads = trial
    return loads


def _told(found: Figures) -> dict[str, int]:
    return {
        "tardiness_min": found.tardiness_min,
        "late_orders": found.late_orders,
        "kiln_minutes": found.kiln_minutes,
        "loads": found.loads,
        "unplaced": found.unplaced,
    }


@transaction.atomic
def accept_plan(proposal: FiringPlan, *, person: Person) -> FiringPlan:
    """Put a worked-out plan in the place of the loads that are planned and not pinned."""
    claimed = FiringPlan.objects.filter(pk=proposal.pk, accepted_at__isnull=True).update(
        accepted_at=timezone.now(), accepted_by=person
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
    _tell_orders(floor, floor.with_pinned(plan))
    record_act(person, "accept firing plan", proposal, before=proposal.before, after=proposal.after)
    proposal.refresh_from_db()
    return proposal


def _tell_orders(floor: Floor, plan: Plan) -> None:
    """The likely day of each order follows the loads; the careful day keeps its distance."""
    days = ready_by(floor, plan)
    orders = Order.objects.open().filter(number__in=[int(name) for name in days])
    moved = []
    for order in orders:
        day = days[str(order.number)]
        if order.likely_on != day:
            spare = (
                order.careful_on - order.likely_on
                if order.careful_on and order.likely_on
                else timedelta(0)
            )
            order.likely_on, order.careful_on = day, day + spare
            moved.append(order)
    Order.objects.bulk_update(moved, ["likely_on", "careful_on"])


def changed_since(proposal: FiringPlan) -> str:
    """What somebody did since a plan was worked out, as a sentence."""
    from workshop.models import Act

    latest = (
        Act.objects.filter(
            at__gt=proposal.made_at,
            subject_kind__in=["kilnload", "beadjob", "order", "firingplan"],
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
        "beadjob": _("beads of an order"),
    }
    return words.get(kind, _("the book")) % {"ref": ref}


def write_plan(floor: Floor, plan: Plan) -> list[KilnLoad]:
    """The plan's loads in the place of the unpinned planned ones; numbers are kept where they can
    be. Call inside a transaction."""
    old = [row for row in floor.loads if row.state == KilnLoad.State.PLANNED and not row.pinned]
    LoadTray.objects.filter(load__in=old).delete()
    wanted = sorted(plan.loads, key=lambda load: (load.start_min, load.kiln))
    kilns = {kiln.name: kiln for kiln in Kiln.objects.filter(in_use=True)}
    same = {(row.kiln.name, floor.clock.minute(row.starts_at)): row for row in old}
    kept = {load: row for load in wanted if (row := same.get((load.kiln, load.start_min)))}
    spare = [row for row in old if row not in kept.values()]
    written = []
    for load in wanted:
        row = kept.get(load) or (spare.pop(0) if spare else KilnLoad(number=take_number("load")))
        row.kiln = kilns[load.kiln]
        row.starts_at = floor.clock.moment(load.start_min)
        row.hold_c, row.hold_min = round(load.temp_c), load.minutes
        row.state = KilnLoad.State.PLANNED
        row.version += 1
        row.save()
        fill_load(row, load.items, floor)
        written.append(row)
    KilnLoad.objects.filter(pk__in=[row.pk for row in spare]).delete()
    return written


def fill_load(row: KilnLoad, items: Iterable[Item], floor: Floor) -> None:
    """A tray for each part of a job in a load, with the share that belongs to its order."""
    for item in items:
        work = floor.work.get(item.job)
        if work is None or item.beads < 1:
            continue
        tray = LoadTray.objects.create(
            load=row,
            bead=work.bead,
            batch=work.batch,
            firing=item.firing + work.first - 1,
            moulds=item.moulds,
            beads=item.beads,
        )
        if work.job is not None:
            LoadShare.objects.create(tray=tray, job=work.job, moulds=item.moulds, beads=item.beads)


@transaction.atomic
def allow_again(row: NoFiring, *, person: Person) -> None:
    """A day on which nothing was to be fired is a firing day again."""
    record_act(person, "allow firing", row, before={"day": str(row.day), "why": row.why})
    row.delete()


# --- one load by hand -------------------------------------------------------------------------


@transaction.atomic
def pin_load(load: KilnLoad, pinned: bool, *, person: Person) -> KilnLoad:
    """A pinned load stays where it is whenever the kilns are planned again."""
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
    from workshop.models import Act

    now = KilnLoad.objects.filter(pk=load.pk).first()
    if now is None:
        return _(
            "Load %(number)s is gone: the kilns were planned anew. Look at the plan again."
        ) % {"number": load.number}
    latest = (
        Act.objects.filter(subject_kind="kilnload", subject_ref=str(load.number), refused=False)
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
