"""The kilns planned from the book: what waits goes into loads, the keeper accepts."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from types import SimpleNamespace

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone

from orders.counter.services.ordering import cancel_order
from orders.firing.queries.plan_effects import figures, standing_holds, unplaced_orders
from orders.firing.queries.plan_words import plan_words
from orders.firing.queries.trays import trays_of
from orders.firing.services import plan as plan_services
from orders.firing.services.log import TrayOut, log_firing
from orders.firing.services.plan import accept_plan, pin_load, propose_plan, work_out
from orders.floor.read_floor import read_floor
from orders.models import LoadShare
from orders.planning.faults import faults
from orders.planning.instance import Plan
from orders.planning.json_form import instance_to_json, plan_to_json
from orders.planning.measure import measure
from stock.models import Bead, KilnLoad, LoadTray
from stock.services.beads import mould_beads
from stock.services.moulds import mould_gone
from tests.builders import (
    make_bead,
    make_design,
    make_kiln,
    make_mould,
    make_person,
    make_programme,
)
from tests.orders.firing.conftest import (
    burning_load,
    day_after_tomorrow,
    make_load,
    moulded_job,
    painted_bead,
    put_in,
    waiting_job,
)
from tests.planning.checker import violations
from workshop.formats import date_short
from workshop.models import NoFiring

pytestmark = pytest.mark.django_db
QUICK_S = 0.05


def propose(workshop, **given):
    return propose_plan(person=workshop["keeper"], seconds=QUICK_S, bound=False, **given)


def test_all_that_waits_finds_a_load(workshop):
    jobs = [
        moulded_job(workshop),
        waiting_job(workshop, customer="Tomas Reku"),
        waiting_job(workshop, design=make_design("Painted", beads=painted_bead())),
    ]
    accept_plan(propose(workshop), person=workshop["keeper"])
    floor = read_floor()
    assert unplaced_orders(floor, floor.whole_plan) == []
    for job in jobs:
        firings = {share.tray.firing for share in LoadShare.objects.filter(job=job)}
        assert firings == ({1, 2} if job.bead.firings == 2 else {1})


def test_a_plan_from_the_book_keeps_every_rule_of_an_independent_checker(workshop):
    for n, strands in enumerate([1, 2, 3, 1, 2]):
        moulded_job(workshop, strands, customer=f"Customer {n}")
    moulded_job(workshop, design=make_design("Painted", beads=painted_bead()))
    floor = read_floor()
    whole = floor.with_pinned(work_out(floor, QUICK_S))
    assert violations(instance_to_json(floor.instance), plan_to_json(whole)) == []
    assert not any(faults(floor.instance, whole, load) for load in whole.loads)


def test_a_pinned_load_stays_where_it_is(workshop):
    job = moulded_job(workshop)
    load = make_load(workshop)
    put_in(load, job)
    pin_load(load, True, person=workshop["keeper"])
    moulded_job(workshop, customer="Tomas Reku")
    before = load.starts_at, load.trays.get().pk
    accept_plan(propose(workshop), person=workshop["keeper"])
    load.refresh_from_db()
    assert (load.starts_at, load.trays.get().pk) == before
    assert KilnLoad.objects.count() == 2


def test_a_burning_load_is_counted_and_not_planned_twice(workshop):
    job = moulded_job(workshop)
    burning_load(workshop, job)
    accept_plan(propose(workshop), person=workshop["keeper"])
    assert KilnLoad.objects.get().state == KilnLoad.State.FIRING


def test_planning_again_without_news_keeps_the_numbers_of_the_loads(workshop):
    moulded_job(workshop)
    accept_plan(propose(workshop), person=workshop["keeper"])
    numbers = set(KilnLoad.objects.values_list("number", flat=True))
    accept_plan(propose(workshop), person=workshop["keeper"])
    assert set(KilnLoad.objects.values_list("number", flat=True)) == numbers


def test_a_proposal_moves_nothing_until_it_is_accepted(workshop):
    moulded_job(workshop)
    propose(workshop)
    assert not KilnLoad.objects.exists()


def test_accepting_twice_plans_once(workshop):
    moulded_job(workshop)
    proposal = propose(workshop)
    accept_plan(proposal, person=workshop["keeper"])
    versions = list(KilnLoad.objects.values_list("number", "version"))
    accept_plan(proposal, person=workshop["hand"])
    assert list(KilnLoad.objects.values_list("number", "version")) == versions
    proposal.refresh_from_db()
    assert proposal.accepted_by == workshop["keeper"]


def test_a_plan_of_other_facts_is_refused_and_says_who_changed_what(workshop):
    moulded_job(workshop)
    proposal = propose(workshop)
    late = make_load(workshop)
    pin_load(late, True, person=workshop["hand"])
    with pytest.raises(ValidationError) as refused:
        accept_plan(proposal, person=workshop["keeper"])
    sentence = refused.value.messages[0]
    assert "bench has changed load" in sentence and "Work the plan out again" in sentence
    proposal.refresh_from_db()
    assert proposal.accepted_at is None


def test_a_day_without_firing_is_seen_before_it_is_written_down(workshop):
    """Nothing burns on the day itself, and the load that stood there goes elsewhere."""
    moulded_job(workshop)
    today = timezone.localdate()
    proposal = propose(workshop, forbid=NoFiring(day=today, why="Wind"))
    assert not NoFiring.objects.exists()
    accept_plan(proposal, person=workshop["keeper"])
    assert NoFiring.objects.get().day == today
    assert timezone.localtime(KilnLoad.objects.get().starts_at).date() > today


def test_a_plan_is_drawn_before_and_after_with_what_changes_marked(client, workshop):
    """The load of today goes to another day: dotted where it stood, with both days in words."""
    moulded_job(workshop)
    accept_plan(propose(workshop), person=workshop["keeper"])
    load = KilnLoad.objects.get()
    today = timezone.localtime(load.starts_at).date()
    proposal = propose(workshop, forbid=NoFiring(day=today, why="Wind"))
    drawn = proposal.content["drawn"]
    (before,) = drawn["before"]
    moved, stood = sorted(drawn["after"], key=lambda bar: bar["state"] == "gone")
    assert before["number"] == moved["number"] == stood["number"] == str(load.number)
    assert moved["changed"] == f"from {date_short(today)}"
    assert (stood["state"], stood["start_min"]) == ("gone", before["start_min"])
    assert moved["start_min"] > before["start_min"]
    client.force_login(workshop["keeper"])
    page = client.get(reverse("orders:plan", args=[proposal.pk])).content.decode()
    assert "sd-gone" in page and "sd-load changed" in page and "where it stood" in page


def test_a_plan_that_moves_nothing_marks_nothing(workshop):
    moulded_job(workshop)
    accept_plan(propose(workshop), person=workshop["keeper"])
    drawn = propose(workshop).content["drawn"]
    assert [bar["changed"] for bar in drawn["after"]] == [""]
    assert drawn["before"][0]["start_min"] == drawn["after"][0]["start_min"]


def test_one_kiln_may_rest_while_the_others_burn(workshop):
    moulded_job(workshop)
    other = make_kiln("Tall kiln", preheat_min=60, cooling_min=90)
    today = timezone.localdate()
    rest = NoFiring(day=today, kiln=workshop["kiln"])
    accept_plan(propose(workshop, forbid=rest), person=workshop["keeper"])
    for load in KilnLoad.objects.all():
        burns = timezone.localtime(load.starts_at).date()
        assert load.kiln == other or burns > today


def test_a_bead_that_no_kiln_reaches_is_named_and_the_rest_is_planned(workshop):
    """The kilns go to 1,000 °C."""
    hot = make_programme("Too hot", hold_c=1200, from_c=1150, to_c=1250)
    bead = make_bead("White-hot round")
    bad = moulded_job(workshop, design=make_design("Hot", beads=bead))
    Bead.objects.filter(pk=bad.bead_id).update(programme=hot)  # the owner changes his mind
    job = moulded_job(workshop)
    proposal = propose(workshop)
    (sentence,) = proposal.content["refused"]
    assert "White-hot round" in sentence and "no kiln reaches" in sentence
    accept_plan(proposal, person=workshop["keeper"])
    assert LoadShare.objects.get().job == job


def test_a_mould_larger_than_every_kiln_is_named(workshop):
    great = make_mould("Great plate", places=40)
    bead = make_bead("Great round")
    moulded_job(workshop, design=make_design("Great", beads=bead))
    Bead.objects.filter(pk=bead.pk).update(mould=great)
    (sentence,) = propose(workshop).content["refused"]
    assert "takes 40 places" in sentence


def test_beads_moulded_for_the_shelf_are_fired_too(workshop):
    batch = mould_beads(workshop["bead"], 24, person=workshop["hand"])
    accept_plan(propose(workshop), person=workshop["keeper"])
    tray = LoadTray.objects.get()
    assert (tray.batch, tray.beads, tray.shares.count()) == (batch, 24, 0)


def test_the_order_is_told_its_likely_day_when_a_plan_is_accepted(workshop):
    job = moulded_job(workshop)
    accept_plan(propose(workshop), person=workshop["keeper"])
    job.order.refresh_from_db()
    floor = read_floor()
    out = floor.whole_plan.loads[0].start_min + 60 + floor.whole_plan.loads[0].minutes + 90
    name = str(job.order.number)
    assert job.order.likely_on == floor.finish({name: out})[name].day


def test_the_bound_by_another_process_is_put_into_words(workshop):
    """One load of one bead in the only kiln: no plan does with less than that load."""
    moulded_job(workshop)
    proposal = propose_plan(person=workshop["keeper"], seconds=QUICK_S)
    # 60 preheat + 25 the shortest programme + 90 cooling.
    assert proposal.least_kiln_minutes == 175
    floor = read_floor()
    accept_plan(proposal, person=workshop["keeper"])
    floor = read_floor()
    proposal.refresh_from_db()
    words = plan_words(figures(floor, floor.whole_plan), proposal)
    # The load is held 30 minutes, as its beads usually are, for nothing is made late by that.
    assert words == "1 load, 180 kiln minutes; no plan can do with less than 175."


def test_a_load_after_the_day_the_order_is_due_is_late(workshop):
    """Due tomorrow; its load stands in two days."""
    tomorrow = timezone.localdate() + timedelta(days=1)
    job = moulded_job(workshop, due_on=tomorrow)
    put_in(make_load(workshop), job)
    floor = read_floor()
    assert measure(floor.instance, floor.whole_plan).late_orders == 1


@pytest.mark.parametrize("many", [1, 6])
def test_the_floor_is_read_in_the_same_queries_whatever_waits(
    workshop, many, django_assert_num_queries
):
    for n in range(many):
        job = moulded_job(workshop, customer=f"Customer {n}")
        put_in(make_load(workshop, starts_at=timezone.now() + timedelta(days=n + 1)), job)
    read_floor()  # what stands in the workshop is read once by each process
    with django_assert_num_queries(15):
        read_floor()


def test_beads_out_too_late_to_be_strung_by_the_evening_are_late(workshop):
    """Open until 18:00; a strand takes 6 minutes, six minutes too many at 17:59."""
    day = timezone.localdate() + timedelta(days=2)
    job = moulded_job(workshop, due_on=day)
    # 60 preheat, 30 held, 90 cooling: lit at 14:54 it is out at 17:54, lit at 15:00 at 18:00.
    load = make_load(workshop, starts_at=day_after_tomorrow(14) + timedelta(minutes=54))
    put_in(load, job)
    assert measured_late(read_floor()) == 0
    KilnLoad.objects.filter(pk=load.pk).update(starts_at=day_after_tomorrow(15))
    assert measured_late(read_floor()) == 1


def measured_late(floor) -> int:
    return measure(floor.instance, floor.whole_plan).late_orders


def test_half_the_kiln_minutes_of_two_half_empty_loads_are_saved(workshop):
    """Two orders of one bead that each stood alone are fired together."""
    jobs = [moulded_job(workshop), moulded_job(workshop, customer="Tomas Reku")]
    for n, job in enumerate(jobs):
        put_in(make_load(workshop, starts_at=timezone.now() + timedelta(days=n + 1)), job)
    proposal = propose(workshop)
    assert (proposal.before["loads"], proposal.after["loads"]) == (2, 1)
    assert proposal.after["kiln_minutes"] * 2 < proposal.before["kiln_minutes"] + 20
    assert Decimal(proposal.after["late_orders"]) == 0


def test_a_cancelled_order_leaves_the_loads_planned_for_it(workshop):
    job = waiting_job(workshop)
    put_in(make_load(workshop), job)
    cancel_order(job.order, person=make_person("counter"))
    assert not LoadTray.objects.exists()


def test_beads_of_a_cancelled_order_are_fired_for_the_shelf(workshop):
    job = moulded_job(workshop)
    put_in(make_load(workshop), job)
    job.order.refresh_from_db()
    cancel_order(job.order, person=make_person("counter"))
    accept_plan(propose(workshop), person=workshop["keeper"])
    (tray,) = LoadTray.objects.all()
    assert (tray.batch, tray.beads, tray.shares.count()) == (job.batch, job.to_start, 0)


def test_the_part_that_came_out_of_its_first_firing_early_is_not_planned_twice(workshop):
    """Two of three moulds were fired once; all of the beads still need the paint and the second
    firing, and the last mould the first one too."""
    job = moulded_job(workshop, 2, design=make_design("Painted", beads=painted_bead()))
    load = burning_load(workshop, job, beads=24)
    log_firing(load, [TrayOut(trays_of(load)[0], 24)], person=workshop["keeper"])
    accept_plan(propose(workshop), person=workshop["keeper"])
    floor = read_floor()
    assert unplaced_orders(floor, floor.whole_plan) == []
    shares = LoadShare.objects.filter(job=job, tray__load__state=KilnLoad.State.PLANNED)
    by_firing = {1: 0, 2: 0}
    for share in shares.select_related("tray"):
        by_firing[share.tray.firing] += share.beads
    assert by_firing == {1: job.to_start - 24, 2: job.to_start}


def test_a_new_plan_is_never_later_than_the_one_that_stands(workshop, monkeypatch):
    """A search that finds only a plan two days later leaves the kilns as they stand."""
    for n in range(3):
        moulded_job(workshop, customer=f"Customer {n}")
    accept_plan(propose(workshop), person=workshop["keeper"])
    floor = read_floor()
    stands = measure(floor.instance, floor.whole_plan)

    def later(instance, **given):
        loads = (
            replace(load, start_min=load.start_min + 2 * 1440) for load in floor.standing.loads
        )
        return SimpleNamespace(plan=Plan(tuple(loads)))

    monkeypatch.setattr(plan_services, "replan", later)
    found = work_out(floor, QUICK_S)
    assert measure(floor.instance, floor.with_pinned(found)) == stands


def test_a_plan_that_stands_no_longer_holds_nothing_back(workshop):
    """A mould broke since: what stands wants more of them than are owned, so it is planned anew."""
    job = moulded_job(workshop, 3)
    accept_plan(propose(workshop), person=workshop["keeper"])
    assert standing_holds(read_floor())
    mould_gone(job.bead.mould, job.bead.mould.owned - 1, person=workshop["hand"])
    floor = read_floor()
    assert not standing_holds(floor)
    found = work_out(floor, QUICK_S)
    assert max(sum(item.moulds for item in load.items) for load in found.loads) == 1
