"""Work at the bench: what lies ready, and what follows when it is done."""

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from orders.bench.queries.work import bench_work
from orders.bench.services import finish_job, mould_job, string_line
from orders.counter.services.ordering import confirm_order, draft_order
from orders.designs.services.as_asked import loose_beads, work_on_a_piece
from orders.facts.order import WantedLine
from orders.firing.queries.trays import trays_of
from orders.firing.services.log import TrayOut, beads_by_place, log_firing
from orders.models import Order, StockReservation, WorkOrder
from stock.models import Balance, GlassForm, WorkTicket
from stock.services.places import glass_item
from tests.builders import (
    make_bead,
    make_colour,
    make_customer,
    make_design,
    make_order,
    make_person,
    make_rate,
    put_beads,
)
from tests.orders.firing.conftest import burning_load, moulded_job, painted_bead, waiting_job

pytestmark = pytest.mark.django_db
Step = WorkOrder.Step


def cooled_job(workshop, rejected: int = 2, **given) -> WorkOrder:
    """Beads out of the kiln, some of them seen to be rejects."""
    job = moulded_job(workshop, **given)
    load = burning_load(workshop, job)
    (tray,) = trays_of(load)
    out = TrayOut(tray, tray.beads - rejected, rejected)
    log_firing(load, [out], person=workshop["keeper"])
    job.refresh_from_db()
    return job


def test_the_glass_to_weigh_out_is_told_in_grams_by_colour(workshop):
    """A ball of 10 mm with a 2 mm bore through it, 2.5 g/cm³, 2 % polished off, 2 % spilt.

    A sphere with a hole of half-length h = sqrt(5² - 1²) = 4.899 has the volume 4/3 π h³ =
    492.5 mm³ (napkin ring theorem), so 1.2313 g; ÷ 0.98 ÷ 0.98 = 1.2821 g in the mould.
    """
    job = waiting_job(workshop)
    (ready,) = bench_work().to_mould
    (weigh,) = ready.weigh
    assert weigh.colour == make_colour()
    assert float(weigh.grams) == pytest.approx(1.2821 * job.to_start, abs=0.15)


def test_moulding_takes_the_glass_and_moves_the_order_on(workshop):
    make_rate("Filling moulds", skill="moulding", basis="mould", minutes_each=Decimal(6))
    job = waiting_job(workshop)
    shelf = Balance.objects.get(item=glass_item(make_colour(), GlassForm.POWDER), inside=True)
    before = shelf.quantity
    mould_job(job, job.to_start, person=workshop["hand"], minutes=14)
    shelf.refresh_from_db()
    job.refresh_from_db()
    assert job.step == Step.FIRING and shelf.quantity < before
    ticket = WorkTicket.objects.get()
    # Paid by the mould: two moulds of twelve for these beads.
    assert (ticket.step_id, ticket.pieces, ticket.minutes) == ("Filling moulds", 2, 14)
    assert ticket.belongs_ref == f"order {job.order.number}"


def test_fewer_beads_than_the_order_needs_are_not_enough(workshop):
    job = waiting_job(workshop)
    with pytest.raises(ValidationError) as refused:
        mould_job(job, 17, person=workshop["hand"])
    assert "needs 18 good beads" in refused.value.message_dict["count"][0]
    assert not WorkTicket.objects.exists()


def test_the_second_hand_is_told_who_moulded_them_meanwhile(workshop):
    job = waiting_job(workshop)
    mould_job(job, job.to_start, person=workshop["hand"])
    with pytest.raises(ValidationError) as refused:
        mould_job(job, job.to_start, person=workshop["keeper"])
    assert "bench has moved" in refused.value.messages[0]
    assert WorkTicket.objects.count() == 1


def test_finished_beads_are_held_for_their_order(workshop):
    job = cooled_job(workshop)
    finish_job(job, good=job.to_start - 3, rejected=3, person=workshop["hand"], minutes=12)
    job.refresh_from_db()
    assert job.step == Step.DONE
    assert StockReservation.objects.get(order=job.order).quantity == 18
    ticket = WorkTicket.objects.get(rejected=3)
    assert ticket.pieces == job.to_start - 3


def test_sorted_beads_must_be_those_that_came_out(workshop):
    job = cooled_job(workshop)
    for good, word in ((job.to_start, "only"), (job.to_start - 5, "what became of")):
        with pytest.raises(ValidationError) as refused:
            finish_job(job, good=good, rejected=1, person=workshop["hand"])
        assert word in refused.value.message_dict["good"][0]
    assert beads_by_place(job.batch) == {"out of the kiln": job.to_start}


def test_the_count_at_the_kiln_is_where_sorting_starts_from(workshop):
    job = cooled_job(workshop, rejected=4)
    (ready,) = bench_work().to_finish
    assert (ready.job, ready.good, ready.rejected) == (job, job.to_start - 4, 4)


def test_strands_are_strung_from_the_beads_held_and_ticketed(workshop):
    job = cooled_job(workshop)
    finish_job(job, good=job.to_start, rejected=0, person=workshop["hand"])
    (ready,) = bench_work().to_string
    string_line(ready.line, 1, person=workshop["hand"], minutes=7)
    ready.line.refresh_from_db()
    assert ready.line.strung == 1
    assert WorkTicket.objects.get(step="Stringing").pieces == 1
    assert bench_work().to_string == []


def test_what_a_load_waits_for_is_moulded_first(workshop):
    from tests.orders.firing.conftest import make_load, put_in

    unplanned = waiting_job(workshop)
    planned = waiting_job(workshop, customer="Tomas Reku")
    put_in(make_load(workshop), planned)
    assert [each.job for each in bench_work().to_mould] == [planned, unplanned]


def test_a_job_whose_moulds_are_all_filled_is_held_up(workshop):
    """Six moulds are owned, and all of them hold beads that wait for the fire."""
    moulded_job(workshop, 3)
    waiting_job(workshop, customer="Tomas Reku")
    work = bench_work()
    assert work.to_mould == []
    (held,) = work.held_up
    assert held.busy


def test_one_tap_does_it_and_a_second_tap_does_nothing_more(client, workshop):
    job = waiting_job(workshop)
    client.force_login(workshop["hand"])
    form = {
        "count": str(job.to_start), "minutes": "14",
        "key": "7f0f2a52-4a3f-4f6e-9b2e-6f1f8a0f6a11",
    }  # fmt: skip
    address = reverse("orders:bench_mould", args=[job.pk])
    first, second = client.post(address, form), client.post(address, form)
    assert first.url == second.url == reverse("orders:bench")
    assert WorkTicket.objects.count() == 1


def test_a_count_that_cannot_be_keeps_what_was_typed(client, workshop):
    job = waiting_job(workshop)
    client.force_login(workshop["hand"])
    answer = client.post(
        reverse("orders:bench_mould", args=[job.pk]), {"count": "3", "minutes": "14"}
    )
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "needs 18 good beads" in page and 'value="3"' in page and 'value="14"' in page


def test_bench_hands_see_no_prices_and_no_debts(client, workshop):
    make_order(2, design=workshop["design"])
    cooled_job(workshop, customer="Tomas Reku")
    client.force_login(workshop["hand"])
    page = client.get(reverse("orders:bench")).content.decode()
    assert "Tomas Reku" in page
    assert "€" not in page and "owes" not in page
    for order in Order.objects.all():
        assert f"{order.total}" not in page


@pytest.mark.parametrize("role", ["counter", "yard"])
def test_the_bench_is_closed_to_counter_and_yard(client, workshop, role):
    client.force_login(make_person(role))
    assert client.get(reverse("orders:bench")).status_code == 404


@pytest.mark.parametrize("many", [1, 5])
def test_the_bench_page_takes_the_same_queries_whatever_lies_ready(
    client, workshop, many, django_assert_num_queries
):
    for n in range(many):
        bead = make_bead(f"Bead {n}")
        waiting_job(workshop, design=make_design(f"Strand {n}", beads=bead), customer=f"C {n}")
        cooled_job(workshop, design=make_design(f"Done {n}", beads=make_bead(f"Fired {n}")))
    strung = cooled_job(workshop)
    finish_job(strung, good=strung.to_start, rejected=0, person=workshop["hand"])
    client.force_login(workshop["hand"])
    client.get(reverse("orders:bench"))  # what stands is read once
    with django_assert_num_queries(24):
        assert client.get(reverse("orders:bench")).status_code == 200


def test_painted_beads_wait_for_the_paint(workshop):
    job = cooled_job(workshop, design=make_design("Painted", beads=painted_bead()))
    (ready,) = bench_work().to_paint
    assert (ready.job, ready.beads) == (job, job.to_start - 2)


def test_loose_beads_are_counted_out_and_take_no_minutes_of_stringing(workshop):
    owner = make_person("owner")
    put_beads(workshop["bead"], 200)
    loose = loose_beads(workshop["bead"], person=owner)
    order = draft_order(make_customer(), [WantedLine(loose.pk, 144)], person=owner)
    confirm_order(order, person=owner, owner_word="as agreed")
    (line,) = bench_work().to_string
    assert (line.strands, line.minutes) == (144, 0)
    string_line(line.line, 144, person=workshop["hand"])
    assert not WorkTicket.objects.exists()


def test_work_on_a_piece_is_told_by_the_skills_that_it_takes(workshop):
    """30 min of polishing and 10 of stringing a piece: 60 min of two pieces are 45 and 15."""
    owner = make_person("owner")
    make_rate("Rubbing", skill="polishing", hourly=Decimal(12), minutes_each=3)
    takes = {"polishing": Decimal(30), "stringing": Decimal(10)}
    work = work_on_a_piece("Restore an heirloom", takes, person=owner)
    order = draft_order(make_customer(), [WantedLine(work.pk, 2)], person=owner)
    confirm_order(order, person=owner, owner_word="as agreed")
    (line,) = bench_work().to_string
    assert line.minutes == 80  # 2 × (30 + 10)
    string_line(line.line, 2, person=workshop["hand"], minutes=60)
    told = {(each.step_id, each.minutes, each.pieces) for each in WorkTicket.objects.all()}
    assert told == {("Rubbing", 45, 0), ("Stringing", 15, 0)}
