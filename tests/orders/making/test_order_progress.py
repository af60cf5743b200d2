"""An order on its way: glass, mould, fire, cord, and out of the door."""

from datetime import date
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError

from orders.counter.services.collecting import collect_order
from orders.making.services.progress import (
    glass_came_in,
    job_finished,
    job_fired,
    job_moulded,
    job_painted,
    string_for,
)
from orders.models import Order, Stage, WorkOrder
from stock.models import Balance, Bead, GlassForm, LocationKind, Posting, PostingKind
from stock.services.beads import load_beads, log_good_beads, mould_beads, unload_beads
from tests.builders import (
    make_colour,
    make_customer,
    make_design,
    make_order,
    make_person,
    make_programme,
    put_beads,
    put_glass,
)

pytestmark = pytest.mark.django_db
Step = WorkOrder.Step


def at(kind: str, **item) -> int:
    rows = Balance.objects.at(kind).filter(**{f"item__{k}": v for k, v in item.items()})
    return sum(row.quantity for row in rows)


def mould(job: WorkOrder):
    batch = mould_beads(job.bead, job.to_start, person=make_person("bench"))
    return job_moulded(job, batch, person=make_person("bench"))


def finish(job: WorkOrder, good: int):
    """Fire, finish and sort the job's batch: so many good, the rest rejects."""
    kiln = make_person("kiln")
    load_beads(job.batch, job.to_start, person=kiln)
    unload_beads(job.batch, job.to_start, person=kiln)
    job = job_fired(job, firing=1, person=kiln)
    log_good_beads(job.batch, good=good, rejected=job.to_start - good, person=kiln)
    return job_finished(job, good=good, person=kiln)


def test_glass_that_came_in_goes_to_the_order_due_first(workshop):
    later = make_order(10, design=workshop["design"], due_on=date(2027, 3, 12))
    sooner = make_order(10, design=workshop["design"], due_on=date(2027, 3, 5))
    needed_kg = Decimal(sooner.glass_needs.get().needed_mg) / 1_000_000
    put_glass(make_colour(), GlassForm.POWDER, needed_kg + Decimal("0.010"))
    moved = glass_came_in(person=make_person("yard"))
    assert [job.order_id for job in moved] == [sooner.pk]
    assert later.jobs.get().step == Step.GLASS
    sooner.refresh_from_db()
    assert sooner.stage == Stage.GLASS


def test_moulded_beads_have_taken_their_glass(workshop):
    put_glass(make_colour(), GlassForm.POWDER, 5)
    order = make_order(2, design=workshop["design"])
    job = mould(order.jobs.get())
    assert job.step == Step.FIRING and job.batch is not None
    need = order.glass_needs.get()
    assert need.used_mg == need.needed_mg
    order.refresh_from_db()
    assert order.stage == Stage.MOULDED


def test_a_painted_bead_goes_to_the_paint_and_into_the_kiln_again(workshop):
    Bead.objects.update(second_programme=make_programme("Paint", kind="painted"))
    put_glass(make_colour(), GlassForm.POWDER, 5)
    job = mould(make_order(1, design=workshop["design"]).jobs.get())
    kiln = make_person("kiln")
    assert job_fired(job, firing=1, person=kiln).step == Step.PAINTING
    assert job_painted(job, person=kiln).step == Step.SECOND
    assert job_fired(job, firing=2, person=kiln).step == Step.FINISHING


def test_good_beads_are_held_for_the_order_and_the_surplus_is_free(workshop):
    put_glass(make_colour(), GlassForm.POWDER, 5)
    order = make_order(1, design=workshop["design"])
    job = finish(mould(order.jobs.get()), good=20)
    assert job.step == Step.DONE
    shelf = Balance.objects.get(item__batch=job.batch, place__kind=LocationKind.BEAD_SHELF)
    assert (shelf.quantity, shelf.reserved) == (20, 18)
    order.refresh_from_db()
    assert order.stage == Stage.FINISHED


def test_when_too_few_come_good_the_rest_is_moulded_again(workshop):
    put_glass(make_colour(), GlassForm.POWDER, 5)
    order = make_order(1, design=workshop["design"])
    job = finish(mould(order.jobs.get()), good=10)
    assert (job.step, job.good, job.batch) == (Step.MOULDING, 10, None)
    assert sum(a.quantity for a in order.allocations.all()) == 10
    order.refresh_from_db()
    assert order.stage == Stage.GLASS


def test_strung_strands_leave_the_bead_shelf_and_are_held(workshop):
    put_beads(workshop["bead"], 50)
    order = make_order(2, design=workshop["design"])
    line = order.lines.get()
    string_for(line, 1, person=make_person("bench"))
    line.refresh_from_db()
    line.design.refresh_from_db()
    assert line.strung == 1
    assert at(LocationKind.BEAD_SHELF) == 50 - 18
    strand = Balance.objects.get(item=line.design.item, place__kind=LocationKind.STRAND_SHELF)
    assert (strand.quantity, strand.reserved) == (1, 1)
    assert sum(a.quantity for a in order.allocations.filter(line=None)) == 18


def test_more_strands_than_are_left_are_not_strung(workshop):
    put_beads(workshop["bead"], 50)
    order = make_order(2, design=workshop["design"])
    with pytest.raises(ValidationError, match="2 of Harbour bracelet are still to be strung"):
        string_for(order.lines.get(), 3, person=make_person("bench"))
    assert not Posting.objects.filter(kind=PostingKind.STRINGING).exists()


def test_strands_without_their_beads_are_not_strung(workshop):
    order = make_order(1, design=workshop["design"])
    with pytest.raises(ValidationError, match="18 more beads"):
        string_for(order.lines.get(), 1, person=make_person("bench"))


def test_a_collected_order_leaves_the_shelf_and_holds_nothing(workshop):
    put_beads(workshop["bead"], 40)
    order = make_order(2, design=workshop["design"])
    collect_order(order, person=make_person("counter"))
    order.refresh_from_db()
    assert (order.state, order.stage) == (Order.State.COLLECTED, Stage.COLLECTED)
    assert at(LocationKind.SOLD) == 2
    assert at(LocationKind.BEAD_SHELF) == 40 - 36
    assert not order.allocations.exists()
    assert not Balance.objects.exclude(reserved=0).exists()


def test_an_order_with_beads_missing_is_not_handed_over(workshop):
    put_beads(workshop["bead"], 20)
    order = make_order(2, design=workshop["design"])
    before = at(LocationKind.BEAD_SHELF)
    with pytest.raises(ValidationError):
        collect_order(order, person=make_person("counter"))
    order.refresh_from_db()
    assert order.state == Order.State.CONFIRMED
    assert at(LocationKind.BEAD_SHELF) == before and at(LocationKind.SOLD) == 0


def test_strands_that_lie_ready_are_promised_and_sold_first(workshop):
    design = workshop["design"]
    put_beads(workshop["bead"], 36)
    first = make_order(2, design=design, customer=make_customer("Tomas Reku"))
    string_for(first.lines.get(), 2, person=make_person("bench"))
    from orders.counter.services.ordering import cancel_order

    first.refresh_from_db()
    cancel_order(first, person=make_person("counter"))  # the two strands are anybody's now
    design.refresh_from_db()
    second = make_order(2, design=design)
    assert second.stage == Stage.STRUNG
    assert second.lines.get().strung == 2
    assert not second.jobs.exists()


def test_two_designs_share_the_beads_of_one_shelf(workshop):
    put_beads(workshop["bead"], 36)
    choker = make_design("Choker", beads=workshop["bead"], finished_mm=Decimal(180))
    one = make_order(1, design=workshop["design"])
    two = make_order(1, design=choker)
    assert sum(a.quantity for a in one.allocations.all()) == 18
    assert sum(a.quantity for a in two.allocations.all()) == 18


def test_the_last_moulding_closes_every_need_of_glass(workshop):
    """What rounding left open is no claim on the shelf once nothing is left to mould."""
    put_glass(make_colour(), GlassForm.POWDER, 50)
    order = make_order(3, design=workshop["design"], customer=make_customer())
    need = order.glass_needs.get()
    need.needed_mg += 5
    need.save()
    job = order.jobs.get()
    mould(job)
    need.refresh_from_db()
    assert need.used_mg == need.needed_mg
