"""Holds changed by hand: let go, held from elsewhere, taken over from a younger order."""

from datetime import date
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from orders.bench.services import mould_job
from orders.counter.services.collecting import collect_order
from orders.counter.services.ordering import cancel_order
from orders.making.services.holding_by_hand import hold_by_hand, let_go_by_hand, take_over
from orders.making.services.progress import string_for
from orders.making.services.to_stock import string_to_stock
from orders.models import Stage, StockReservation, WorkOrder
from stock.models import Balance, GlassForm, LocationKind
from stock.services.check import MORE_CHECKS, first_difference
from tests.builders import make_colour, make_order, make_person, put_beads, put_glass
from workshop.models import AuditEntry

pytestmark = pytest.mark.django_db
EACH = 18  # beads of one bracelet


def tray(item):
    return Balance.objects.get(item=item, place__kind=LocationKind.BEAD_SHELF)


def sound():
    assert first_difference() is None
    assert [sentence for check in MORE_CHECKS for sentence in check.differences()] == []


@pytest.fixture
def two_batches(workshop):
    """Twenty beads of an old batch and forty of a newer one; an order of one bracelet."""
    put_glass(make_colour(), GlassForm.POWDER, 5)
    old = put_beads(workshop["bead"], 20, made_on=date(2026, 1, 5))
    new = put_beads(workshop["bead"], 40, made_on=date(2026, 2, 5))
    order = make_order(1, design=workshop["design"])
    return {"order": order, "old": tray(old), "new": tray(new), **workshop}


def test_what_is_let_go_is_free_again_and_made_anew(two_batches):
    order, hold = two_batches["order"], two_batches["order"].allocations.get()
    assert hold.balance == two_batches["old"] and hold.quantity == EACH
    changed = let_go_by_hand(hold, 8, person=make_person())
    assert changed.beads == {"Green round": 8}
    assert order.allocations.get().quantity == 10
    assert tray(two_batches["old"].item).free_quantity == 10
    job = order.jobs.get()
    assert job.needed == 8 <= job.to_start and job.step == WorkOrder.Step.MOULDING
    order.refresh_from_db()
    assert order.stage == Stage.GLASS
    assert order.glass_needs.get().needed_mg > 0
    sound()


def test_beads_held_from_a_named_batch_need_not_be_made(two_batches):
    order = two_batches["order"]
    let_go_by_hand(order.allocations.get(), EACH, person=make_person())
    hold_by_hand(order, two_batches["new"], EACH, person=make_person(), why="the greener ones")
    hold = order.allocations.get()
    assert (hold.balance, hold.by_hand) == (two_batches["new"], True)
    assert not order.jobs.exists()
    order.refresh_from_db()
    assert order.stage == Stage.FINISHED
    assert order.glass_needs.get().needed_mg == 0
    assert AuditEntry.objects.filter(act="hold").latest("pk").after["why"] == "the greener ones"
    string_for(order.lines.get(), 1, person=make_person())
    assert tray(two_batches["new"].item).quantity == 40 - EACH
    sound()


def test_no_more_is_held_than_the_order_takes(two_batches):
    with pytest.raises(ValidationError) as refused:
        hold_by_hand(two_batches["order"], two_batches["new"], 1, person=make_person())
    assert "needs no more of" in str(refused.value)
    let_go_by_hand(two_batches["order"].allocations.get(), 5, person=make_person())
    with pytest.raises(ValidationError) as refused:
        hold_by_hand(two_batches["order"], two_batches["new"], 6, person=make_person())
    assert "can use 5 more" in str(refused.value)


def test_no_more_is_let_go_than_is_held(two_batches):
    with pytest.raises(ValidationError) as refused:
        let_go_by_hand(two_batches["order"].allocations.get(), 19, person=make_person())
    assert "holds 18 of" in str(refused.value)


def test_beads_that_lie_elsewhere_are_not_taken_from_another(two_batches):
    """Of 22 free beads of the newer batch nobody can hold 23."""
    other = make_order(1, design=two_batches["design"])
    rest = let_go_by_hand(other.allocations.latest("pk"), 2, person=make_person())
    assert rest.beads
    Balance.objects.filter(pk=two_batches["new"].pk).update(reserved=40)
    with pytest.raises(ValidationError) as refused:
        hold_by_hand(other, two_batches["new"], 2, person=make_person())
    assert "0 is free" in str(refused.value)


def test_an_older_order_takes_over_what_a_younger_one_holds(workshop):
    put_glass(make_colour(), GlassForm.POWDER, 5)
    older = make_order(1, design=workshop["design"])
    batch = tray(put_beads(workshop["bead"], EACH))
    younger = make_order(1, design=workshop["design"])
    hold = younger.allocations.get()
    done = take_over(older, hold, EACH, person=make_person("counter"), why="the boat sails Friday")
    assert older.allocations.get().balance == batch and not younger.allocations.exists()
    assert done.beads == {"Green round": -EACH} and done.other_beads == {"Green round": EACH}
    assert not older.jobs.exists() and younger.jobs.get().needed == EACH
    told = {act.subject_ref: act.after for act in AuditEntry.objects.filter(act__contains="hold")}
    assert told[str(older.number)]["of"] == younger.number
    assert told[str(younger.number)]["why"] == "the boat sails Friday"
    sound()


def test_a_younger_order_takes_nothing_from_an_older_one(two_batches):
    hold = two_batches["order"].allocations.get()
    younger = make_order(3, design=two_batches["design"])
    with pytest.raises(ValidationError) as refused:
        take_over(younger, hold, 5, person=make_person(), why="in a hurry")
    assert "was taken before" in str(refused.value)
    with pytest.raises(ValidationError):
        take_over(two_batches["order"], younger.allocations.latest("pk"), 5,
                  person=make_person(), why=" ")  # fmt: skip


def test_a_ready_strand_held_by_hand_frees_the_beads_kept_for_it(two_batches):
    order, design = two_batches["order"], two_batches["design"]
    string_to_stock(design, 1, person=make_person("bench"))
    design.refresh_from_db()
    ready = Balance.objects.get(item=design.item, place__kind=LocationKind.STRAND_SHELF)
    hold_by_hand(order, ready, 1, person=make_person())
    assert order.lines.get().strung == 1
    assert order.allocations.get().balance == ready
    order.refresh_from_db()
    assert order.stage == Stage.STRUNG
    let_go_by_hand(order.allocations.get(), 1, person=make_person())
    assert order.lines.get().strung == 0 and order.jobs.get().needed == EACH
    sound()


def test_glass_held_for_an_order_is_taken_by_nobody_else_and_used_when_it_is_moulded(workshop):
    item = put_glass(make_colour(), GlassForm.POWDER, Decimal("0.200"))
    shelf = Balance.objects.get(item=item, place__kind=LocationKind.GLASS_SHELF)
    order = make_order(1, design=workshop["design"])
    need = order.glass_needs.get()
    with pytest.raises(ValidationError):
        hold_by_hand(order, shelf, need.needed_mg + 1, person=make_person())
    hold_by_hand(order, shelf, need.needed_mg, person=make_person())
    other = make_order(10, design=workshop["design"])
    assert other.jobs.get().step == WorkOrder.Step.GLASS
    job = order.jobs.get()
    mould_job(job, job.to_start, person=make_person("bench"))
    assert not order.allocations.exists()
    shelf.refresh_from_db()
    assert shelf.reserved == 0
    sound()


def test_beads_under_way_come_to_the_shelf_whatever_is_held_instead(two_batches):
    order = two_batches["order"]
    let_go_by_hand(order.allocations.get(), EACH, person=make_person())
    job = order.jobs.get()
    mould_job(job, job.to_start, person=make_person("bench"))
    hold_by_hand(order, two_batches["new"], EACH, person=make_person())
    job.refresh_from_db()
    assert (job.needed, job.step) == (0, WorkOrder.Step.FIRING)
    # Less let go than were started is fine; more than are under way cannot be made in time.
    hold = order.allocations.get()
    let_go_by_hand(hold, EACH, person=make_person())
    job.refresh_from_db()
    assert job.needed == EACH
    sound()


def test_only_a_confirmed_order_changes_its_holds(two_batches):
    hold = two_batches["order"].allocations.get()
    cancel_order(two_batches["order"], person=make_person())
    with pytest.raises(ValidationError) as refused:
        let_go_by_hand(hold, 1, person=make_person())
    assert "cancelled" in str(refused.value)


def test_the_page_shows_what_is_held_and_changes_it(two_batches, client):
    order = two_batches["order"]
    client.force_login(make_person("counter"))
    page = reverse("orders:order_holds", args=[order.number])
    assert page in client.get(reverse("orders:order_detail", args=[order.number])).content.decode()
    text = client.get(page).content.decode()
    assert "18 held" in text and two_batches["old"].item.batch.bead.name in text
    hold = order.allocations.get()
    bad = client.post(page, {"row": f"let-{hold.pk}", "quantity": "nineteen"})
    assert bad.status_code == 422 and "nineteen" in bad.content.decode()
    much = client.post(page, {"row": f"let-{hold.pk}", "quantity": "19"})
    assert "holds 18 of" in much.content.decode() and 'value="19"' in much.content.decode()
    done = client.post(page, {"row": f"let-{hold.pk}", "quantity": "1 dozen"}, follow=True)
    assert "12 more good Green round are to be made" in done.content.decode()
    assert order.allocations.get().quantity == 6
    client.post(page, {"row": f"hold-{two_batches['new'].pk}", "quantity": "12"})
    assert sum(order.allocations.values_list("quantity", flat=True)) == EACH


def test_a_hold_that_is_gone_is_said_to_be_gone(two_batches, client):
    client.force_login(make_person("counter"))
    page = reverse("orders:order_holds", args=[two_batches["order"].number])
    answer = client.post(page, {"row": "let-424242", "quantity": "1"})
    assert answer.status_code == 422 and "That hold is gone" in answer.content.decode()
    assert client.post(page, {"row": "steal-1", "quantity": "1"}).status_code == 404


def test_the_bench_looks_at_holds_and_does_not_change_them(two_batches, client):
    client.force_login(make_person("bench"))
    page = reverse("orders:order_holds", args=[two_batches["order"].number])
    answer = client.get(page)
    assert answer.status_code == 200 and "Let go" not in answer.content.decode()
    hold = two_batches["order"].allocations.get()
    assert client.post(page, {"row": f"let-{hold.pk}", "quantity": "1"}).status_code == 404


def test_the_page_takes_a_fixed_number_of_queries(two_batches, client, django_assert_num_queries):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    client.force_login(make_person("counter"))
    page = reverse("orders:order_holds", args=[two_batches["order"].number])
    client.get(page)
    with CaptureQueriesContext(connection) as before:
        client.get(page)
    for _n in range(6):
        put_beads(two_batches["bead"], 30)
        make_order(1, design=two_batches["design"])
    let_go_by_hand(two_batches["order"].allocations.get(), 9, person=make_person())
    client.get(page)
    with CaptureQueriesContext(connection) as after:
        client.get(page)
    assert len(after) <= len(before) + 2  # the reasons to look for others, once each


def test_a_collected_order_leaves_no_hold_behind(two_batches):
    order = two_batches["order"]
    collect_order(order, person=make_person())
    assert not StockReservation.objects.filter(order=order).exists()
    sound()
