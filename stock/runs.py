"""How the runs of a kiln kept hot usually go, from the rounds on record."""

from collections.abc import Iterable
from datetime import datetime, timedelta
from decimal import Decimal
from itertools import pairwise
from typing import NamedTuple

from django.db.models import F, Sum
from django.db.models.functions import Coalesce
from django.utils import timezone

from stock.models import KilnLoad
from workshop.costs.amounts import ZERO
from workshop.costs.kiln_share import UsualRun
from workshop.models import Kiln, Person, Role, Skill

WINDOW = timedelta(days=365)
ENOUGH_ROUNDS = 8
A_RUN_AT_MOST = timedelta(days=1)  # a run lies in one working day
MJ_A_KWH = Decimal("3.6")
STARTING_ROUNDS = Decimal(5)  # starting figure: common practice, no source


def usual_runs(kilns: Iterable[Kiln]) -> dict[int, UsualRun]:
    """Rounds a run, minutes stood hot between them and turns of heat, of the last year (1 query).

    With fewer than eight rounds on record the starting figures hold: five, none, and none.
    """
    kilns = list(kilns)
    rows = (
        KilnLoad.objects.filter(
            kiln__in=kilns, started_at__gte=timezone.now() - WINDOW, free_after_min__isnull=False
        )
        .exclude(state=KilnLoad.State.PLANNED)
        .order_by("kiln_id", "started_at")
        .values_list("kiln_id", "started_at", "free_after_min", "lit", "hold_c")
    )
    records: dict[int, list[_Round]] = {}
    for pk, started, free_after, lit, hold_c in rows:
        if started is not None and free_after is not None:
            records.setdefault(pk, []).append(_Round(started, free_after, lit, hold_c))
    return {kiln.pk: _usual_run(kiln, records.get(kiln.pk, [])) for kiln in kilns}


class _Round(NamedTuple):
    """A round on record: when it began, its minutes, whether the kiln was lit for it, its heat."""

    started: datetime
    free_after_min: int
    lit: bool
    hold_c: int


def _usual_run(kiln: Kiln, rounds: list[_Round]) -> UsualRun:
    warm_up, change = Decimal(kiln.warm_up_min or 0), Decimal(kiln.change_min or 0)
    runs = sum(each.lit for each in rounds)
    if len(rounds) < ENOUGH_ROUNDS or not runs:
        return UsualRun(warm_up, change, rounds=STARTING_ROUNDS)
    waited, turned, hot = 0.0, 0, kiln.as_hot
    for before, each in pairwise(rounds):
        if not each.lit:
            free_at = before.started + timedelta(minutes=before.free_after_min)
            waited += max(0.0, (each.started - free_at).total_seconds() / 60)
            turned += hot.turn_min(before.hold_c, each.hold_c) if hot else 0
    # Every round bears the usual turn, that for which the kiln was lit too.
    turn = Decimal(turned) / len(rounds)
    waiting = Decimal(round(waited)) / runs
    return UsualRun(warm_up, change, waiting, Decimal(len(rounds)) / runs, turn)


def kiln_heat_mj(
    kiln: Kiln, hold_min: Decimal, run: UsualRun | None, waits_min: Decimal = ZERO
) -> Decimal:
    """Heat that the kiln itself takes over one load: its part of a warm-up, and what it loses while
    the fire is on. The kiln must know its body and loss.

    run        how its runs usually go; none in a closed kiln
    waits_min  while moulds are drawn one by one
    Source: body ÷ rounds a run + 3.6 × loss × hours (see workshop/physics/kiln_body.py).
    """
    assert kiln.body_mj is not None and kiln.loss_kw is not None
    rounds, minutes = Decimal(1), kiln.preheat_min + hold_min
    if run is not None:
        rounds, minutes = run.rounds, run.minutes_a_round(hold_min) + waits_min
    return kiln.body_mj / rounds + MJ_A_KWH * kiln.loss_kw * minutes / 60


def run_heat_mj(kiln: Kiln, run: UsualRun) -> Decimal:
    """The part of `kiln_heat_mj` that a run takes once: its warm-up and what it waits between."""
    assert kiln.body_mj is not None and kiln.loss_kw is not None
    minutes = run.warm_up_min + run.waiting_min
    return (kiln.body_mj + MJ_A_KWH * kiln.loss_kw * minutes / 60) / run.rounds


def places_of_runs(loads: Iterable[KilnLoad]) -> dict[int, int]:
    """Places filled in all rounds of a load's run that have begun, by the load's key (1 query).

    Loads of closed kilns have none.
    """
    began = [each for each in loads if each.kiln.is_kept_hot and each.started_at is not None]
    if not began:
        return {}
    starts = [each.started_at for each in began if each.started_at is not None]
    places = Coalesce(Sum(F("trays__moulds") * F("trays__bead__mould__places")), 0)
    rows = (
        KilnLoad.objects.filter(kiln__in={each.kiln_id for each in began})
        .filter(started_at__range=(min(starts) - A_RUN_AT_MOST, max(starts) + A_RUN_AT_MOST))
        .annotate(places=places)
        .order_by("kiln_id", "started_at", "pk")
        .values_list("pk", "kiln_id", "lit", "places")
    )
    runs: list[tuple[list[int], int]] = []
    kiln_before = None
    for pk, kiln, lit, filled in rows:
        if lit or kiln != kiln_before:
            runs.append(([], 0))
        rounds, so_far = runs[-1]
        runs[-1] = ([*rounds, pk], so_far + filled)
        kiln_before = kiln
    return {pk: filled for rounds, filled in runs for pk in rounds}


def piercing_hands() -> int:
    """Bench hands who can pierce, at least one (1 query)."""
    people = Person.objects.filter(role=Role.BENCH, is_active=True).values_list("skills", flat=True)
    ticked = [skills or () for skills in people]
    able = sum(1 for skills in ticked if not skills or Skill.PIERCING.value in skills)
    return max(1, able or len(ticked))
