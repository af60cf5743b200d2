"""A posting of an order taken back: the order, its load and the board go back with the book.

Each kind of posting in the life of an order is taken back where that can be, and otherwise refused
with what to do first; `check_book`'s own checks look at the whole afterwards.
"""

from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone

from orders.bench.services import finish_job, mould_job, paint_job, string_line
from orders.counter.services.collecting import collect_order
from orders.firing.queries.waiting import waiting_on_firing
from orders.firing.services.log import TrayOut, log_firing
from orders.making.services.holds import hold_for
from orders.making.services.progress import glass_came_in
from orders.models import Order, Stage, WorkOrder
from stock.models import (
    Balance,
    GlassForm,
    KilnLoad,
    LocationKind,
    Posting,
    PostingKind,
    WorkTicket,
)
from stock.services.check import MORE_CHECKS, first_difference
from stock.services.preparation import prepare_glass, raw_of, ready
from stock.services.undo import take_back
from tests.builders import make_colour, make_design, make_order, make_person, put_glass
from tests.orders.firing.conftest import burning_load, moulded_job, painted_bead, waiting_job

pytestmark = pytest.mark.django_db
Step = WorkOrder.Step


def latest(kind: str) -> Posting:
    return Posting.objects.filter(kind=kind, reversed_by__isnull=True).latest("pk")


def undo(kind: str) -> Posting:
    return take_back(latest(kind), person=make_person(), why="a slip")


def refused(kind: str) -> str:
    before = Posting.objects.count()
    with pytest.raises(ValidationError) as error:
        undo(kind)
    assert Posting.objects.count() == before
    return " ".join(error.value.messages)


def in_step(order: Order) -> Order:
    """Everything agrees; gives the order as it is now."""
    assert first_difference() is None
    assert [sentence for check in MORE_CHECKS for sentence in check.differences()] == []
    order.refresh_from_db()
    return order


def fired(workshop, *, good: int = 20, **given):
    """A bracelet's beads, moulded and fired, to be finished; the rest of them rejects."""
    job = moulded_job(workshop, **given)
    load = burning_load(workshop, job)
    out = TrayOut(load.trays.get(), good=good, rejected=job.to_start - good)
    log_firing(load, [out], person=workshop["keeper"])
    job.refresh_from_db()
    return job, load


def finished(workshop, *, good: int = 20):
    job, load = fired(workshop, good=good)
    finish_job(job, good=good, rejected=job.to_start - good, person=workshop["hand"])
    job.refresh_from_db()
    return job, load


def strung(workshop) -> Order:
    job, _load = finished(workshop)
    string_line(job.order.lines.select_related("design", "order").get(), 1, person=workshop["hand"])
    return Order.objects.get(pk=job.order_id)


def test_moulding_taken_back_gives_the_glass_back_and_claims_it_again(workshop):
    job = waiting_job(workshop)
    need = job.order.glass_needs.get().needed_mg
    shelf = Balance.objects.get(place__kind=LocationKind.GLASS_SHELF)
    there = shelf.quantity
    mould_job(job, job.to_start, person=workshop["hand"])
    undo(PostingKind.MOULDING)
    job.refresh_from_db()
    shelf.refresh_from_db()
    assert (job.step, job.batch, shelf.quantity) == (Step.MOULDING, None, there)
    claim = job.order.glass_needs.get()
    assert claim.needed_mg - claim.used_mg == need
    assert in_step(job.order).stage == Stage.GLASS
    assert [each.order for each in waiting_on_firing()] == [job.order]
    mould_job(job, job.to_start, person=workshop["hand"])
    assert in_step(job.order).stage == Stage.MOULDED


def test_a_tray_taken_back_out_of_a_burning_kiln_leaves_its_load_to_be_lit(workshop):
    job = moulded_job(workshop)
    load = burning_load(workshop, job)
    undo(PostingKind.LOADING)
    load.refresh_from_db()
    job.refresh_from_db()
    assert (load.state, load.started_at) == (KilnLoad.State.PLANNED, None)
    assert job.step == Step.FIRING
    in_step(job.order)


def test_beads_in_the_kiln_are_not_unmoulded(workshop):
    job = moulded_job(workshop)
    burning_load(workshop, job)
    sentence = refused(PostingKind.MOULDING)
    assert "has gone on" in sentence and "into the kiln" in sentence
    in_step(job.order)


def test_a_firing_taken_back_is_burning_and_logged_anew(workshop):
    job, load = fired(workshop, good=20)
    undo(PostingKind.FIRING)
    load.refresh_from_db()
    job.refresh_from_db()
    tray = load.trays.get()
    assert (load.state, tray.good, job.step) == (KilnLoad.State.FIRING, None, Step.FIRING)
    assert in_step(job.order).stage == Stage.MOULDED
    log_firing(load, [TrayOut(tray, good=tray.beads)], person=workshop["keeper"])
    job.refresh_from_db()
    assert job.step == Step.FINISHING
    in_step(job.order)


def test_moulds_told_gone_with_a_log_are_owned_again_when_it_is_taken_back(workshop, client):
    job = moulded_job(workshop)
    load = burning_load(workshop, job)
    tray, mould = load.trays.get(), job.bead.mould
    owned = mould.owned
    client.force_login(workshop["keeper"])
    typed = {
        "version": load.version, "tended_min": "40",
        "ended_at": (timezone.localtime() + timedelta(minutes=2)).strftime("%Y-%m-%dT%H:%M"),
        f"good_{tray.pk}": str(job.to_start), f"rejected_{tray.pk}": "0",
        f"mould_{mould.pk}": "2", "beads_go": "bench", "rejects_to": "remade",
    }  # fmt: skip
    answer = client.post(reverse("orders:load_end", args=[load.number]), typed)
    assert answer.status_code == 302, answer.context["form"].errors
    mould.refresh_from_db()
    assert (mould.owned, mould.gone.get().load, WorkTicket.objects.count()) == (owned - 2, load, 2)
    undo(PostingKind.FIRING)
    mould.refresh_from_db()
    assert (mould.owned, mould.gone.exists()) == (owned, False)
    # The tending that was told with the log goes with it; the moulding was paid work all along.
    assert WorkTicket.objects.get().step_id == "moulding"
    in_step(job.order)


def test_work_that_a_slip_has_paid_keeps_its_ticket(workshop):
    job = moulded_job(workshop)
    WorkTicket.objects.update(paid=True)
    undo(PostingKind.MOULDING)
    assert WorkTicket.objects.get().paid
    assert job.order.jobs.get().step == Step.MOULDING


def test_beads_sorted_at_the_kiln_are_taken_back_with_their_hold(workshop):
    job = moulded_job(workshop)
    load = burning_load(workshop, job)
    out = TrayOut(load.trays.get(), good=19, rejected=job.to_start - 19)
    log_firing(load, [out], person=workshop["keeper"], to_shelf=True)
    assert job.order.allocations.get().quantity == 18
    undo(PostingKind.FINISHING)
    job.refresh_from_db()
    assert (job.good, job.step) == (0, Step.FIRING)
    assert not job.order.allocations.exists()
    job.batch.refresh_from_db()
    assert (job.batch.good, job.batch.rejected) == (0, 0)
    in_step(job.order)


def test_the_breakage_and_the_rest_of_a_load_are_taken_back_as_one(workshop):
    job = moulded_job(workshop)
    load = burning_load(workshop, job)
    out = TrayOut(load.trays.get(), good=job.to_start - 2, rejected=0, gone=2)
    log_firing(load, [out], person=workshop["keeper"])
    undo(PostingKind.FIRING)
    kiln = Balance.objects.get(place__kind=LocationKind.KILN, item__batch=job.batch)
    assert kiln.quantity == job.to_start
    in_step(job.order)


def test_a_first_firing_taken_back_goes_before_the_paint(workshop):
    bead = painted_bead()
    job, load = fired(workshop, good=22, design=make_design("Painted", beads=bead))
    assert job.step == Step.PAINTING
    paint_job(job, person=workshop["hand"])
    assert "posting" in refused(PostingKind.FINISHING)
    undo(PostingKind.PAINTING)
    job.refresh_from_db()
    assert job.step == Step.PAINTING
    undo(PostingKind.FINISHING)
    job.refresh_from_db()
    load.refresh_from_db()
    assert (job.step, load.state) == (Step.FIRING, KilnLoad.State.FIRING)
    in_step(job.order)


def test_finishing_taken_back_frees_the_hold_and_stands_to_be_finished(workshop):
    job, _load = finished(workshop, good=20)
    undo(PostingKind.FINISHING)
    job.refresh_from_db()
    assert (job.good, job.step) == (0, Step.FINISHING)
    assert not job.order.allocations.exists()
    assert in_step(job.order).stage == Stage.FIRED
    finish_job(job, good=18, rejected=job.to_start - 18, person=workshop["hand"])
    assert in_step(job.order).stage == Stage.FINISHED


def test_when_too_few_came_good_and_that_is_taken_back_nothing_is_begun_anew(workshop):
    job, _load = finished(workshop, good=10)
    assert (job.step, job.batch) == (Step.MOULDING, None)
    undo(PostingKind.FINISHING)
    job.refresh_from_db()
    assert job.step == Step.FINISHING and job.batch is not None
    in_step(job.order)


def test_what_was_moulded_anew_is_taken_back_first(workshop):
    job, _load = finished(workshop, good=10)
    mould_job(job, job.to_start, person=workshop["hand"])
    assert "Take their moulding back first" in refused(PostingKind.FINISHING)
    undo(PostingKind.MOULDING)
    undo(PostingKind.FINISHING)
    in_step(job.order)


def test_surplus_beads_held_for_another_order_stay_with_it(workshop):
    job, _load = finished(workshop, good=20)
    other = make_order(1, design=workshop["design"])
    assert other.allocations.get().quantity == 2
    assert f"Held for order {other.number}" in refused(PostingKind.FINISHING)
    in_step(job.order)


def test_stringing_taken_back_holds_the_beads_for_the_order_again(workshop):
    order = strung(workshop)
    assert order.stage == Stage.STRUNG
    assert "stringing" in refused(PostingKind.FINISHING)
    undo(PostingKind.STRINGING)
    order = in_step(order)
    assert (order.stage, order.lines.get().strung) == (Stage.FINISHED, 0)
    assert order.allocations.get().quantity == 18
    string_line(order.lines.select_related("design", "order").get(), 1, person=workshop["hand"])
    assert in_step(order).stage == Stage.STRUNG


def test_a_hand_over_taken_back_waits_to_be_collected_again(workshop):
    order = strung(workshop)
    collect_order(order, person=make_person("counter"))
    assert "hand-over" in refused(PostingKind.STRINGING) or "collected" in refused(
        PostingKind.STRINGING
    )
    undo(PostingKind.COLLECTION)
    order = in_step(order)
    assert (order.state, order.stage, order.collected_on) == ("confirmed", Stage.STRUNG, None)
    assert order.allocations.get().line == order.lines.get()
    collect_order(order, person=make_person("counter"))
    assert order.state == "collected"


def test_glass_taken_back_from_the_shelf_is_waited_for_again(workshop):
    colour = make_colour("amber")
    put_glass(colour, GlassForm.RAW, 5)
    bead = painted_bead()
    bead.colours.update(colour=colour)
    order = make_order(1, design=make_design("Amber", beads=bead))
    assert order.jobs.get().step == Step.GLASS
    prepare_glass(
        [raw_of(colour, 2_000_000)], [ready(colour, GlassForm.POWDER, 1_800_000)],
        form=GlassForm.POWDER, person=make_person("yard"),
    )  # fmt: skip
    glass_came_in(person=make_person("yard"))
    assert order.jobs.get().step == Step.MOULDING
    undo(PostingKind.PREPARATION)
    assert order.jobs.get().step == Step.GLASS
    assert in_step(order).stage == Stage.TAKEN


def test_strands_held_for_another_order_are_named(workshop):
    order = strung(workshop)
    line = order.lines.get()
    hold = order.allocations.get()
    other = make_order(1, design=workshop["design"])
    hold.delete()
    Balance.objects.filter(pk=hold.balance_id).update(reserved=0)
    line.strung = 0
    line.save()
    hold_for(other, hold.balance, 1)
    assert f"Held for order {other.number}" in refused(PostingKind.STRINGING)


def test_the_page_says_what_taking_back_means_and_keeps_what_was_typed(workshop, client):
    job, load = fired(workshop)
    client.force_login(make_person("kiln"))
    posting = latest(PostingKind.FIRING)
    page = reverse("stock:posting_back", args=[posting.pk])
    assert f"all that came out of load {load.number} is taken back together" in (
        client.get(page).content.decode()
    )
    assert client.post(page, {"why": ""}).status_code == 422
    client.post(page, {"why": "wrong tray"})
    job.refresh_from_db()
    assert job.step == Step.FIRING
    twice = client.post(page, {"why": "wrong tray"})
    assert "reversed already" in twice.content.decode()


def test_an_orders_beads_are_sorted_on_the_bench_and_not_behind_its_back(workshop, client):
    job = moulded_job(workshop)
    client.force_login(make_person("kiln"))
    page = reverse("stock:batch_finish", args=[job.batch_id])
    assert client.get(page).url == reverse("orders:order_detail", args=[job.order.number])
    load = burning_load(workshop, job)
    log_firing(load, [TrayOut(load.trays.get(), good=job.to_start)], person=workshop["keeper"])
    answer = client.post(page, {"good": "3", "rejected": "0"})
    assert answer.url == reverse("orders:bench_finish", args=[job.pk])
    job.refresh_from_db()
    assert job.step == Step.FINISHING and job.batch.good == 0
