"""Which orders wait on firing, why, and for how long."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal

from django.db.models import Q, QuerySet, Sum
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from orders.firing.queries.burning import cools_apart
from orders.floor.glass_shelf import GlassShelf, Missing, shares_by_bead
from orders.floor.rows import dress_jobs
from orders.models import LoadShare, Order, WorkOrder
from stock.models import BeadColour, GlassForm, KilnLoad
from workshop import formats
from workshop.days import soonest

Step = WorkOrder.Step
HELD_BY = {
    "glass": gettext_lazy("short of glass"),
    "moulds": gettext_lazy("waits for moulds"),
    "bench": gettext_lazy("at the bench"),
    "fire": gettext_lazy("ready to fire"),
    "burning": gettext_lazy("burns"),
    "cooling": gettext_lazy("cools apart"),
}
AT_STEP = {
    Step.GLASS: gettext_lazy("glass is there, to be moulded"),
    Step.MOULDING: gettext_lazy("to be moulded"),
    Step.FIRING: gettext_lazy("ready to fire"),
    Step.PAINTING: gettext_lazy("second firing, to be painted first"),
    Step.SECOND: gettext_lazy("ready for the second firing"),
}
# A load, and whether its room was kept when the order was confirmed.
InLoad = tuple[KilnLoad, bool]
BEFORE_FIRE = (Step.GLASS, Step.MOULDING, Step.FIRING, Step.PAINTING, Step.SECOND)


@dataclass(frozen=True)
class WaitingJob:
    """Beads of one kind of an order that are not fired yet.

    missing   prepared glass that is not there, by colour
    load      the planned load that holds them, if there is one
    busy      every mould of its kind is filled at present
    reserved  the load's room was kept when the order was confirmed, and is not planned yet
    """

    job: WorkOrder
    since: datetime
    missing: tuple[Missing, ...]
    load: KilnLoad | None
    busy: bool = False
    reserved: bool = False

    @property
    def burns(self) -> bool:
        """In a lit load, in the kiln or cooling apart."""
        return self.load is not None and self.load.state == KilnLoad.State.FIRING

    @property
    def cools_apart(self) -> bool:
        if self.load is None:
            return False
        pierced = self.job.bead.pierced_hot and self.job.step == Step.FIRING
        return cools_apart(self.load, to_pierce=pierced and self.load.pierced_until is None)

    @property
    def glass_is_there(self) -> bool:
        return self.job.step in {Step.GLASS, Step.MOULDING} and not self.missing


@dataclass(frozen=True)
class Waiting:
    """One order that waits on firing.

    since         when its longest-waiting beads came to the step where they stand
    """

    order: Order
    jobs: tuple[WaitingJob, ...]
    days: int
    is_late: bool
    reasons: tuple["Reason", ...] = field(default=())

    @property
    def due_on(self) -> date | None:
        return self.order.due_on

    @property
    def holds(self) -> str:
        """What holds it first: "glass", "moulds", "bench", "fire", "burning" or "cooling"."""
        steps = {job.job.step for job in self.jobs}
        if self.is_short:
            return "glass"
        if steps & {Step.GLASS, Step.MOULDING} and all(
            job.busy for job in self.jobs if job.job.step in {Step.GLASS, Step.MOULDING}
        ):
            return "moulds"
        if steps & {Step.GLASS, Step.MOULDING, Step.PAINTING}:
            return "bench"
        if not all(job.burns for job in self.jobs):
            return "fire"
        return "cooling" if all(job.cools_apart for job in self.jobs) else "burning"

    @property
    def next_load(self) -> KilnLoad | None:
        """The first load that holds beads of it."""
        loads = [job.load for job in self.jobs if job.load is not None]
        return min(loads, key=lambda load: (load.starts_at, load.number), default=None)

    @property
    def brief(self) -> str:
        """What it waits on, in eight words at most."""
        words = HELD_BY[self.holds]
        load = self.next_load
        if load is None:
            return _("%(words)s, in no load") % {"words": words}
        day = formats.date_short(timezone.localtime(load.starts_at))
        return _("%(words)s, %(day)s") % {"words": words, "day": day}

    @property
    def is_short(self) -> bool:
        return any(reason.short for reason in self.reasons)


@dataclass(frozen=True)
class Reason:
    """Why it waits, in words; `short` when glass must be brought in first."""

    sentence: str
    short: bool = False


def waiting_on_firing(orders: Iterable[Order] | None = None) -> list[Waiting]:
    """Open orders with beads not yet fired, the earliest due first (10 queries, whatever many).

    Prepared glass is shared out in that order, so the same kilogram is not promised twice; an
    order looked at alone comes after those that take of the same glass before it.
    """
    jobs = WorkOrder.objects.filter(
        order__state=Order.State.CONFIRMED, step__in=BEFORE_FIRE
    ).order_by(soonest("order__due_on"), "order__number", "pk")
    asked = None if orders is None else {order.pk for order in orders}
    if asked is not None:
        jobs = jobs.filter(Q(order__in=asked) | Q(pk__in=_taking_of_the_same_glass(asked)))
    rows = list(jobs)
    dress_jobs(rows)
    shares = shares_by_bead(job.bead_id for job in rows)
    shelf = GlassShelf.of_today()
    missing = {
        job.pk: tuple(shelf.take_for(job, shares.get(job.bead_id, ())))
        for job in rows
        if job.step in {Step.GLASS, Step.MOULDING}
    }
    if asked is not None:
        rows = [job for job in rows if job.order_id in asked]
    return waiting_of(rows, missing, _next_loads(rows))


def _taking_of_the_same_glass(orders: set[int]) -> QuerySet[WorkOrder]:
    """Beads not moulded yet that share a colour with those of some orders."""
    unmoulded = WorkOrder.objects.filter(
        order__state=Order.State.CONFIRMED, step__in=[Step.GLASS, Step.MOULDING]
    )
    colours = BeadColour.objects.filter(bead__in=unmoulded.filter(order__in=orders).values("bead"))
    beads = BeadColour.objects.filter(colour__in=colours.values("colour")).values("bead")
    return unmoulded.filter(bead__in=beads).order_by().values("pk")


def waiting_of(
    jobs: Iterable[WorkOrder],
    missing: Mapping[int, tuple[Missing, ...]],
    loads: Mapping[int, InLoad],
) -> list[Waiting]:
    """The same from rows read already (1 query): jobs in their order, the glass that is missing
    and the next load, by job."""
    filled = _moulds_filled()
    by_order: dict[int, list[WaitingJob]] = {}
    for job in jobs:
        load, reserved = loads.get(job.pk, (None, False))
        waiting = WaitingJob(
            job, job.step_since, missing.get(job.pk, ()), load, _is_busy(job, filled), reserved
        )  # fmt: skip
        by_order.setdefault(job.order_id, []).append(waiting)
    today = timezone.localdate()
    return [_waiting(waiting, today) for waiting in by_order.values()]


def _moulds_filled() -> dict[int, int]:
    """Moulds that hold beads now, waiting for the fire or in it, by mould (1 query)."""
    rows = (
        WorkOrder.objects.filter(order__state=Order.State.CONFIRMED, step=Step.FIRING)
        .order_by()
        .values("bead__mould")
        .annotate(filled=Sum("moulds"))
    )
    return {row["bead__mould"]: row["filled"] for row in rows}


def _is_busy(job: WorkOrder, filled: dict[int, int]) -> bool:
    mould = job.bead.mould
    return job.step in {Step.GLASS, Step.MOULDING} and filled.get(mould.pk, 0) >= mould.owned


def _next_loads(jobs: Sequence[WorkOrder]) -> dict[int, InLoad]:
    """The next planned or burning load of each job (2 queries)."""
    shares = (
        LoadShare.objects.filter(
            job__in=[job.pk for job in jobs],
            tray__load__state__in=[KilnLoad.State.PLANNED, KilnLoad.State.FIRING],
        )
        .order_by("-tray__load__starts_at")
        .values_list("job_id", "tray__load_id", "reserved")
    )
    told = {job: (load, reserved) for job, load, reserved in shares}
    loads = KilnLoad.objects.select_related("kiln").in_bulk({load for load, _r in told.values()})
    return {job: (loads[load], reserved) for job, (load, reserved) in told.items()}


def next_of(loads: Iterable[KilnLoad]) -> dict[int, InLoad]:
    """Of these loads the next of each job; trays and shares must come with them."""
    found: dict[int, InLoad] = {}
    for load in loads:
        for tray in load.trays.all():
            for share in tray.shares.all():
                found.setdefault(share.job_id, (load, share.reserved))
    return found


def _waiting(jobs: list[WaitingJob], today: date) -> Waiting:
    order = jobs[0].job.order
    since = min(job.since for job in jobs)
    return Waiting(
        order=order,
        jobs=tuple(jobs),
        days=(today - timezone.localtime(since).date()).days,
        is_late=order.due_on is not None and order.due_on < today,
        reasons=tuple(_reasons(jobs)),
    )


def _reasons(jobs: Sequence[WaitingJob]) -> Iterable[Reason]:
    """Each reason once: missing glass by colour, then what else the beads wait for."""
    yield from _glass_reasons(jobs)
    groups: dict[tuple[str, str], list[KilnLoad]] = {}
    for waiting in jobs:
        if waiting.missing and waiting.load is None:
            continue
        loads = groups.setdefault((_step_words(waiting), _how_placed(waiting)), [])
        if waiting.load is not None and waiting.load not in loads:
            loads.append(waiting.load)
    for (words, how), loads in groups.items():
        yield Reason(_placed_words(words, how, loads))


def _glass_reasons(jobs: Sequence[WaitingJob]) -> Iterable[Reason]:
    missing: dict[tuple[str, str], list[int]] = {}
    for waiting in jobs:
        for lack in waiting.missing:
            sums = missing.setdefault((lack.colour.name, lack.form), [0, 0])
            sums[0] += lack.to_prepare_mg
            sums[1] += lack.short_mg
    for (colour, form), (to_prepare, short) in missing.items():
        if form == GlassForm.REJECTS:
            colour = _("%(colour)s rejects") % {"colour": colour}
        words = {
            "colour": colour,
            "short": formats.mass(Decimal(short) / 1000),
            "raw": formats.mass(Decimal(to_prepare) / 1000),
        }
        if short and to_prepare:
            yield Reason(
                _("%(colour)s, %(short)s raw short and %(raw)s raw to prepare") % words, short=True
            )
        elif short and form == GlassForm.REJECTS:
            yield Reason(_("%(colour)s, %(short)s short") % words, short=True)
        elif short:
            yield Reason(_("%(colour)s, %(short)s raw short") % words, short=True)
        else:
            yield Reason(_("%(colour)s, %(raw)s raw to prepare") % words)


KEPT, IN_LOAD, BURNS, COOLS, NOWHERE = "kept", "load", "burns", "cools", ""


def _how_placed(waiting: WaitingJob) -> str:
    if waiting.load is None:
        return NOWHERE
    if waiting.burns:
        return COOLS if waiting.cools_apart else BURNS
    return KEPT if waiting.reserved else IN_LOAD


def _step_words(waiting: WaitingJob) -> str:
    step = Step(waiting.job.step)
    if waiting.busy:
        mould = waiting.job.bead.mould
        return _("mould busy: all %(owned)s of %(mould)s are filled") % {
            "owned": mould.owned,
            "mould": mould.name,
        }
    if waiting.missing:
        return _("glass to come")
    return str(AT_STEP[step])


def _placed_words(words: str, how: str, loads: Sequence[KilnLoad]) -> str:
    if not loads:
        return _("%(words)s, in no load yet") % {"words": words}
    named = {
        "words": words,
        "numbers": ", ".join(str(load.number) for load in loads),
        "day": formats.date_short(timezone.localtime(max(load.starts_at for load in loads))),
    }
    if how == BURNS:
        return ngettext(
            "burning, in load %(numbers)s since %(day)s", "burning, in loads %(numbers)s",
            len(loads),
        ) % named  # fmt: skip
    if how == COOLS:
        return ngettext(
            "cooling apart, out of load %(numbers)s", "cooling apart, out of loads %(numbers)s",
            len(loads),
        ) % named  # fmt: skip
    if how == KEPT:
        return (
            ngettext(
                "%(words)s, room kept in load %(numbers)s on %(day)s",
                "%(words)s, room kept in loads %(numbers)s, the last on %(day)s",
                len(loads),
            )
            % named
        )
    return (
        ngettext(
            "%(words)s, in load %(numbers)s on %(day)s",
            "%(words)s, in loads %(numbers)s, the last on %(day)s",
            len(loads),
        )
        % named
    )
