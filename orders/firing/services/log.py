"""A load from the fire being lit to its beads being counted. Each act is one transaction.

A tray's beads go into the kiln, come out, and are counted. Beads gone altogether are written off
at once. The others either stand on the bench until they are polished and sorted, or go straight
to the shelf; then what each order needs of them is held for it in the same transaction, so that
no other order can take them. Good beads of a first firing go on to be painted.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F, Sum
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.firing.queries.piercing import is_pierced
from orders.firing.queries.trays import batch_of, not_ready, trays_of
from orders.firing.services.plan import load_changed
from orders.floor.kiln_room import free_planned, hold_the_kilns
from orders.floor.labour import Labour
from orders.floor.run_times import settle_rounds
from orders.making.services.progress import job_finished, job_fired, part_finished
from orders.models import LoadShare, Order, WorkOrder
from stock.models import (
    Balance,
    BeadBatch,
    KilnLoad,
    LoadTray,
    LocationKind,
    Posting,
    WorkTicket,
)
from stock.services.beads import TO_GLASS, TO_REMAKE, load_beads, log_good_beads, unload_beads
from stock.services.load_costs import charges_of_load
from stock.services.moves import Cost
from stock.services.places import COOLED, MOULDED, PAINTED, TO_PAINT
from stock.services.rejects import tally_rejects
from stock.services.supplies import use_at_load
from workshop import formats
from workshop.models import LabourRate, Person, Skill
from workshop.services.acts import record_act

State, Step = KilnLoad.State, WorkOrder.Step

# Where beads lie that are still to come out of a firing.
UNFIRED = {
    1: (MOULDED, LocationKind.KILN),
    2: (PAINTED, TO_PAINT, LocationKind.KILN),
}


@dataclass(frozen=True)
class TrayIn:
    """Beads of one tray that really go into the kiln; 0 leaves the tray out."""

    tray: LoadTray
    beads: int


@dataclass(frozen=True)
class TrayOut:
    """What came out of one tray: good, rejects, and beads gone altogether; they add up.

    causes  of the rejects, as far as they were tapped
    """

    tray: LoadTray
    good: int
    rejected: int = 0
    gone: int = 0
    breakage: str = ""
    causes: Mapping[str, int] = field(default_factory=dict)


@dataclass
class Outcome:
    """A load as logged, the beads that must be made again, and where the others went."""

    load: KilnLoad
    again: list[WorkOrder] = field(default_factory=list)
    on: list[WorkOrder] = field(default_factory=list)


@transaction.atomic
def start_load(
    load: KilnLoad, going_in: Sequence[TrayIn], *, person: Person, at: datetime | None = None
) -> KilnLoad:
    """Light the kiln: the beads of each tray go in; trays left out wait for another load.

    Raises ValidationError when somebody changed the load meanwhile, when a tray's beads are not
    ready, or when more are to go in than there are.
    """
    at = at or timezone.now()
    # Two keepers at the same kiln: the second waits here, and then sees what the first has lit.
    hold_the_kilns()
    holding = KilnLoad.objects.filter(kiln=load.kiln, in_kiln=True).exclude(pk=load.pk)
    # Out of a kiln kept hot the beads of one round still cool apart while the next one burns.
    if load.kiln.is_kept_hot:
        holding.update(in_kiln=False)
    elif (busy := holding.first()) is not None:
        raise ValidationError(
            _("%(kiln)s still holds load %(number)s. Log what came out of it first.")
            % {"kiln": load.kiln, "number": busy.number}
        )
    _claim(load, State.PLANNED, state=State.FIRING, in_kiln=True, started_at=at, keeper=person)
    chosen = [each for each in going_in if each.beads]
    if not chosen:
        raise ValidationError(_("Nothing goes into this load. Tick at least one tray."))
    for each in chosen:
        _put_in(load, each, person)
    left_out = [each.tray for each in going_in if not each.beads]
    LoadTray.objects.filter(pk__in=[tray.pk for tray in left_out]).delete()
    _check_room(load)
    settle_rounds()
    record_act(
        person, "light the kiln", load,
        after={"beads": sum(each.beads for each in chosen), "left out": len(left_out)},
    )  # fmt: skip
    return load


def _put_in(load: KilnLoad, each: TrayIn, person: Person) -> None:
    tray = each.tray
    if problem := not_ready(tray):
        raise ValidationError(_("%(problem)s Leave its tray out.") % {"problem": problem})
    batch = batch_of(tray)
    assert batch is not None
    tray.batch, tray.beads = batch, each.beads
    tray.moulds = -(-each.beads // tray.bead.mould.cavities)
    tray.save(update_fields=["batch", "beads", "moulds"])
    left = each.beads
    shares = list(tray.shares.all())
    for number, share in enumerate(shares, 1):
        share.beads = left if number == len(shares) else min(left, share.beads)
        share.moulds = -(-share.beads // tray.bead.mould.cavities)
        share.save(update_fields=["beads", "moulds"])
        left -= share.beads
    load_beads(
        batch, each.beads, person=person, load=str(load.number), firing=tray.firing
    )  # fmt: skip


def _check_room(load: KilnLoad) -> None:
    places = load.trays.aggregate(places=Sum(F("moulds") * F("bead__mould__places")))["places"] or 0
    if places > load.kiln.places:
        raise ValidationError(
            _(
                "%(kiln)s has %(has)s places and these trays take %(takes)s. "
                "Put fewer beads in, or leave a tray out."
            )
            % {"kiln": load.kiln, "has": load.kiln.places, "takes": places}
        )


@transaction.atomic
def log_firing(
    load: KilnLoad,
    came_out: Sequence[TrayOut],
    *,
    person: Person,
    ended_at: datetime | None = None,
    peak_c: int | None = None,
    held_min: int | None = None,
    fuel_used: Decimal | None = None,
    tended_min: int = 0,
    lit_min: int = 0,
    to_shelf: bool = False,
    rejects_to: str = TO_REMAKE,
    note: str = "",
    pierced_until: datetime | None = None,
    pierced_by: Sequence[Person] = (),
) -> Outcome:
    """A cooled load: what came out of each tray, and everything that follows from it.

    tended_min, lit_min  of the load or round, and once a run of lighting and warming up, where
              that is paid as a step of its own
    pierced_until, pierced_by  of a round pierced hot that was not told at once (`log_piercing`)
    to_shelf  the beads are polished and sorted already; else they stand on the bench for it
    Raises ValidationError when somebody logged the load meanwhile, and where a tray's figures do
    not add up to what went in.
    """
    ended_at = ended_at or timezone.now()
    hold_the_kilns()
    _check_counts(came_out)
    _check_end(load, ended_at)
    _claim(
        load, State.FIRING, state=State.COOLED, in_kiln=False, ended_at=ended_at, peak_c=peak_c,
        held_min=held_min, fuel_used=fuel_used, note=note[:200],
    )  # fmt: skip
    outcome = Outcome(load)
    charges = charges_of_load(load, [out.tray for out in came_out])
    postings = [
        _take_out(load, out, to_shelf, rejects_to, person, charges.get(out.tray.pk, ()))
        for out in came_out
    ]
    wash = sum(
        (cost.amount for own in charges.values() for cost in own if cost.step == "wash"), Decimal(0)
    )
    use_at_load(
        str(load.number), load.kiln.fuel, used_kg=fuel_used or Decimal(0), wash=wash,
        person=person, on=timezone.localtime(ended_at).date(),
    )  # fmt: skip
    _tickets(load, tended_min, lit_min, person, next(iter(postings), None))
    if pierced_until is not None and load.pierced_until is None:
        _pierced(load, [out.tray for out in came_out], pierced_until, pierced_by)
    for job in _jobs_in(came_out):
        _move_on(job, came_out, outcome, person)
    record_act(
        person, "log firing", load,
        after={"good": sum(out.good for out in came_out), "peak_c": peak_c},
    )  # fmt: skip
    return outcome


@transaction.atomic
def log_piercing(
    load: KilnLoad, *, until: datetime, hands: Sequence[Person], person: Person
) -> KilnLoad:
    """The last bead of a round is pierced; its beads cool apart and are counted when cold.

    The minutes of the hands run from the first mould out, and are paid like any other work.
    """
    trays = [tray for tray in trays_of(load) if is_pierced(tray)]
    if not trays:
        raise ValidationError(_("No bead of this load is pierced at the kiln."))
    if load.pierced_until is not None:
        raise ValidationError(
            _("This round was pierced until %(when)s already.")
            % {"when": formats.time_short(timezone.localtime(load.pierced_until))}
        )
    if until > timezone.now() + timedelta(minutes=5):
        raise ValidationError(
            {"pierced_until": _("That is still to come; write when the last bead was pierced.")}
        )
    if not hands:
        raise ValidationError({"pierced_by": _("Tick who pierced; nobody pierces without hands.")})
    _claim(load, State.FIRING)
    _pierced(load, trays, until, hands)
    record_act(
        person, "pierce round", load,
        after={"until": until.isoformat(), "hands": [str(hand) for hand in hands]},
    )  # fmt: skip
    return load


def _pierced(
    load: KilnLoad, trays: Sequence[LoadTray], until: datetime, hands: Sequence[Person]
) -> None:
    load.pierced_until, load.in_kiln = until, False
    load.save(update_fields=["pierced_until", "in_kiln"])
    _piercing_tickets(load, trays, hands)


@transaction.atomic
def spoil_load(
    load: KilnLoad,
    *,
    person: Person,
    why: str,
    glass_kept: bool = True,
    ended_at: datetime | None = None,
    peak_c: int | None = None,
) -> Outcome:
    """A whole load is lost: no bead of it came good, and its orders wait again.

    glass_kept  the beads are rejects whose glass can be used again; else it is gone
    """
    if not why.strip():
        raise ValidationError({"why": _("Write what went wrong with the load.")})
    ended_at = ended_at or timezone.now()
    hold_the_kilns()
    _check_end(load, ended_at)
    _claim(
        load, State.FIRING, state=State.SPOILED, in_kiln=False, ended_at=ended_at, peak_c=peak_c,
        note=why.strip()[:200],
    )  # fmt: skip
    came_out = [
        TrayOut(
            tray, 0,
            rejected=tray.beads if glass_kept else 0,
            gone=0 if glass_kept else tray.beads,
            breakage=why.strip()[:80],
        )
        for tray in trays_of(load)
    ]  # fmt: skip
    outcome = Outcome(load)
    for out in came_out:
        _take_out(load, out, True, TO_REMAKE, person, spoiled=True)
    for job in _jobs_in(came_out):
        _move_on(job, came_out, outcome, person)
    record_act(person, "spoil load", load, after={"why": why})
    return outcome


# --- steps of the two acts --------------------------------------------------------------------


def _claim(load: KilnLoad, was: str, /, **now: object) -> None:
    """Change the load only if it still is what the keeper saw; else say who did what."""
    claimed = KilnLoad.objects.filter(pk=load.pk, state=was, version=load.version).update(
        version=F("version") + 1, **now
    )
    if not claimed:
        raise ValidationError(load_changed(load))
    load.refresh_from_db()


def _check_end(load: KilnLoad, ended_at: datetime) -> None:
    if load.started_at and ended_at < load.started_at:
        raise ValidationError(
            {"ended_at": _("The kiln was lit later than that; write when it had cooled.")}
        )
    if ended_at > timezone.now() + timedelta(minutes=5):
        raise ValidationError({"ended_at": _("That is still to come; write when it had cooled.")})


def _check_counts(came_out: Iterable[TrayOut]) -> None:
    for out in came_out:
        found = out.good + out.rejected + out.gone
        if min(out.good, out.rejected, out.gone) < 0:
            raise ValidationError(_("Beads cannot be fewer than none; count the tray again."))
        if found != out.tray.beads:
            raise ValidationError(f"{out.tray.bead}: {count_problem(out, found)}")


def count_problem(out: TrayOut, found: int) -> str:
    """Why a tray's figures cannot be right."""
    words = {
        "went": out.tray.beads,
        "found": found,
        "left": abs(out.tray.beads - found),
    }
    if found > out.tray.beads:
        return _("%(found)s came out and only %(went)s went in. Count the tray again.") % words
    return (
        _(
            "%(went)s went in and %(found)s are accounted for. Say what became of the "
            "other %(left)s: rejects, or gone altogether."
        )
        % words
    )


def _take_out(
    load: KilnLoad,
    out: TrayOut,
    to_shelf: bool,
    rejects_to: str,
    person: Person,
    charges: Sequence[Cost] = (),
    *,
    spoiled: bool = False,
) -> Posting:
    """One tray's beads out of the kiln, with what the load put into them; in the tray's row too."""
    tray, batch = out.tray, out.tray.batch
    assert batch is not None, "a burning tray has its batch"
    belongs = ("load", str(load.number))
    first_of_two = tray.firing == 1 and batch.bead.firings == 2
    if to_shelf or first_of_two:
        posting = log_good_beads(
            batch, good=out.good, rejected=out.rejected, broken=out.gone, firing=tray.firing,
            rejects_to=rejects_to, person=person, belongs=belongs, charges=charges,
            spoiled=spoiled,
        )  # fmt: skip
        if to_shelf and not first_of_two:
            _hold_for_orders(tray, out.good, person)
    else:
        # Those gone altogether were fired too, so they bear their part of the load.
        posting = unload_beads(
            batch, tray.beads, person=person, load=str(load.number), charges=charges
        )
        if out.gone:
            log_good_beads(
                batch, good=0, rejected=0, broken=out.gone, firing=tray.firing, person=person,
                belongs=belongs,
            )  # fmt: skip
    lost = out.rejected + out.gone
    tally_rejects(batch, out.causes, posting=posting, rejected=lost, load=load)
    tray.good, tray.rejected = out.good, lost
    tray.breakage = out.breakage[:80]
    tray.save(update_fields=["good", "rejected", "breakage"])
    return posting


def _hold_for_orders(tray: LoadTray, good: int, person: Person) -> None:
    for share, part in parts_by_share(tray, good):
        # An order cancelled while its beads burnt leaves them to the shelf.
        if part and share.job.order.state == Order.State.CONFIRMED:
            part_finished(share.job, good=part, person=person)


def parts_by_share(tray: LoadTray, good: int) -> list[tuple[LoadShare, int]]:
    """A tray's good beads shared among its orders as the beads were; the last takes the rest."""
    shares = list(tray.shares.all())
    found, left = [], good
    for number, share in enumerate(shares, 1):
        part = left if number == len(shares) else good * share.beads // tray.beads
        left -= part
        found.append((share, part))
    return found


def _jobs_in(came_out: Iterable[TrayOut]) -> list[WorkOrder]:
    jobs = {share.job_id: share.job for out in came_out for share in out.tray.shares.all()}
    for job in jobs.values():
        job.refresh_from_db()
    return list(jobs.values())


def _move_on(job: WorkOrder, came_out: Iterable[TrayOut], outcome: Outcome, person: Person) -> None:
    """When nothing of a job is left to burn in this firing, it goes to its next step."""
    firing = next(
        out.tray.firing
        for out in came_out
        if any(share.job_id == job.pk for share in out.tray.shares.all())
    )
    where = beads_by_place(job.batch)
    unfired = sum(where.get(spot, 0) for spot in UNFIRED[firing])
    if unfired or job.step not in {Step.FIRING, Step.SECOND}:
        return
    if job.order.state != Order.State.CONFIRMED:
        return
    first_of_two = firing == 1 and job.bead.firings == 2
    sound = where.get(TO_PAINT, 0) if first_of_two else where.get(COOLED, 0)
    if first_of_two:
        fit_second_firing(job, sound)
    if sound:
        outcome.on.append(job_fired(job, firing=firing, person=person))
        return
    # All sorted already: enough is on the shelf, or the rest is moulded again.
    job = job_finished(job, good=0, person=person)
    if job.step == Step.DONE:
        outcome.on.append(job)
    else:
        free_planned(job, person=person)  # later loads counted on beads that are no more
        outcome.again.append(job)


def beads_by_place(batch: BeadBatch | None) -> dict[str, int]:
    """Where a batch's beads are: bench spots by code, other places by kind (1 query)."""
    found: dict[str, int] = {}
    rows = Balance.objects.inside().filter(item__batch=batch, quantity__gt=0)
    for row in rows.select_related("place"):
        found[row.place.spot] = found.get(row.place.spot, 0) + row.quantity
    return found


def fit_second_firing(job: WorkOrder, survivors: int) -> None:
    """Trays planned for the second firing hold no more than came sound out of the first."""
    shares = (
        LoadShare.objects.filter(job=job, tray__firing=2, tray__load__state=State.PLANNED)
        .select_related("tray__bead__mould")
        .order_by("tray__load__starts_at", "pk")
    )
    left = survivors
    for share in shares:
        beads = min(left, share.beads)
        left -= beads
        if not beads:
            share.tray.delete()
        elif beads != share.beads:
            moulds = -(-beads // share.tray.bead.mould.cavities)
            LoadShare.objects.filter(pk=share.pk).update(beads=beads, moulds=moulds)
            LoadTray.objects.filter(pk=share.tray_id).update(beads=beads, moulds=moulds)


def _piercing_tickets(load: KilnLoad, trays: Sequence[LoadTray], hands: Sequence[Person]) -> None:
    """Each hand is down for its part of the beads pierced, and for the minutes it stood there."""
    pierced = [tray for tray in trays if is_pierced(tray)]
    if not (hands and pierced and load.pierced_until):
        return
    beads = sum(tray.beads for tray in pierced)
    first_out = first_out_at(load)
    minutes = max(0, round((load.pierced_until - first_out).total_seconds() / 60))
    labour = Labour.in_force()
    for tray in pierced:
        for number, hand in enumerate(hands):
            pieces = parted(tray.beads, len(hands), number)
            if not pieces:
                continue
            WorkTicket.objects.create(
                on=timezone.localtime(load.pierced_until).date(), hand=hand, bead=tray.bead,
                step_id=labour.step_name(Skill.PIERCING, tray.bead.kind),
                belongs_ref=f"load {load.number}", pieces=pieces,
                minutes=round(minutes * tray.beads / beads),
            )  # fmt: skip


def first_out_at(load: KilnLoad) -> datetime:
    """When the first mould of a round came out, by its start and its minutes."""
    start = load.started_at or load.starts_at
    return start + timedelta(minutes=load.first_after_min or load.hold_min)


def parted(whole: int, among: int, number: int) -> int:
    """
    >>> [parted(20, 3, n) for n in range(3)]
    [7, 7, 6]
    """
    return whole // among + (number < whole % among)


def run_step(load: KilnLoad) -> str:
    """The step that is paid once a run, of a round that the kiln was lit for; "" where none is."""
    if not (load.kiln.is_kept_hot and load.lit):
        return ""
    return _step_by(LabourRate.Basis.RUN)


def _step_by(basis: str) -> str:
    rates = Labour.in_force().of(Skill.FIRING)
    return next((rate.step_id for rate in rates if rate.basis == basis), "")


def _tickets(
    load: KilnLoad, tended_min: int, lit_min: int, person: Person, posting: Posting | None
) -> None:
    """One for tending the load or round, and one for the run where the kiln was lit for it.

    posting  one of those that the log wrote: they are taken back together
    """
    tending = _step_by(LabourRate.Basis.LOAD) or Labour.in_force().step_name(Skill.FIRING)
    for step, minutes in ((run_step(load), lit_min), (tending, tended_min)):
        if step and minutes:
            WorkTicket.objects.create(
                on=timezone.localdate(), hand=person, step_id=step,
                belongs_ref=f"load {load.number}", pieces=1, minutes=minutes, posting=posting,
            )  # fmt: skip


__all__ = ["TO_GLASS", "TO_REMAKE", "log_firing", "log_piercing", "spoil_load", "start_load"]
