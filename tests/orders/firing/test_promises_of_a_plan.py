"""A plan says whose promise it breaks before it is accepted, and leaves loads their numbers."""

from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone

from orders.firing.queries.burning import burning
from orders.firing.services.plan import accept_plan, propose_plan
from stock.models import KilnLoad
from tests.builders import make_person
from tests.orders.firing.conftest import burning_load, make_load, moulded_job, put_in
from workshop.models import AuditEntry, NoFiring

pytestmark = pytest.mark.django_db


def propose(workshop, **given):
    return propose_plan(person=workshop["keeper"], seconds=0.05, bound=False, **given)


def in_days(days: int):
    return timezone.localdate() + timedelta(days=days)


@pytest.fixture
def broken(workshop):
    """Its load stands in two days, just in time; on that day there is no firing after all."""
    job = moulded_job(workshop, due_on=in_days(2))
    job.order.customer.phone = "0470 11 22 33"
    job.order.customer.save()
    accept_plan(propose(workshop), person=workshop["keeper"], knows_it_breaks=True)
    shut = [NoFiring(day=in_days(n), why="feast") for n in range(3)]
    for row in shut[:-1]:
        row.save()
    KilnLoad.objects.update(
        starts_at=timezone.localtime().replace(hour=8, minute=0) + timedelta(days=2)
    )
    return job.order, propose(workshop, forbid=shut[-1])


def test_a_promise_that_a_plan_breaks_is_asked_about(workshop, broken):
    order, proposal = broken
    assert proposal.broken_promises == [str(order.number)]
    with pytest.raises(ValidationError, match="breaks a promise"):
        accept_plan(proposal, person=workshop["keeper"])
    proposal.refresh_from_db()
    assert proposal.accepted_at is None
    accept_plan(proposal, person=workshop["keeper"], knows_it_breaks=True)
    assert AuditEntry.objects.filter(
        act="accept firing plan", after__breaks=str(order.number)
    ).exists()


def test_the_page_names_the_order_the_trader_and_her_telephone(client, workshop, broken):
    order, proposal = broken
    client.force_login(workshop["keeper"])
    page = client.get(reverse("orders:plan", args=[proposal.pk])).content.decode()
    assert f"Order {order.number}" in page
    assert order.customer.name in page
    assert 'href="tel:0470112233"' in page


def test_an_order_that_is_late_already_is_counted_and_not_asked_about(workshop):
    """Due yesterday and not fired yet: no plan is to blame, and none leaves it out."""
    job = moulded_job(workshop)
    job.order.taken_on, job.order.due_on = in_days(-9), in_days(-1)
    job.order.save()
    proposal = propose(workshop)
    assert proposal.after["late_orders"] == 1
    (late,) = proposal.content["late"]
    assert (late["order"], late["was_late"]) == (str(job.order.number), True)
    accept_plan(proposal, person=workshop["keeper"])


def test_a_load_that_moves_takes_its_number_along(workshop):
    job = moulded_job(workshop)
    load = make_load(workshop, starts_at=timezone.now() + timedelta(days=3))
    put_in(load, job)
    accept_plan(propose(workshop), person=workshop["keeper"])
    (now,) = KilnLoad.objects.all()
    assert now.number == load.number
    assert now.starts_at < load.starts_at


def test_the_number_of_a_load_that_is_no_more_names_no_other(workshop):
    """Two half-empty loads become one: it keeps one number, the other is gone for good."""
    jobs = [moulded_job(workshop), moulded_job(workshop, customer="Tomas Reku")]
    loads = [make_load(workshop, starts_at=timezone.now() + timedelta(days=n + 1)) for n in (0, 1)]
    for load, job in zip(loads, jobs, strict=True):
        put_in(load, job)
    highest = max(load.number for load in loads)
    accept_plan(propose(workshop), person=workshop["keeper"])
    assert KilnLoad.objects.count() == 1
    moulded_job(workshop, customer="Ana Belo", due_on=in_days(20))
    accept_plan(propose(workshop), person=workshop["keeper"])
    kept = {load.number for load in loads}
    names = set(KilnLoad.objects.values_list("number", flat=True))
    assert len(names & kept) <= 1
    assert all(number > highest for number in names - kept)


def test_what_burns_is_told_with_its_heat_and_when_it_may_be_opened(client, workshop):
    """Lit the evening before: it is no load of today, and it burns."""
    job = moulded_job(workshop)
    load = burning_load(workshop, job)
    lit = timezone.now() - timedelta(hours=20)
    KilnLoad.objects.filter(pk=load.pk).update(started_at=lit, starts_at=lit)
    (each,) = burning()
    assert each.load == load
    # 60 minutes preheat, 30 held, 90 cooling.
    assert each.opens_at == timezone.localtime(lit) + timedelta(minutes=180)
    assert each.may_be_opened
    for role, page in (("owner", "orders:home"), ("kiln", "orders:firing")):
        client.force_login(make_person(role))
        shown = client.get(reverse(page)).content.decode()
        assert reverse("orders:load", args=[load.number]) in shown
        assert f"Load {load.number} burns" in shown or f"load {load.number}" in shown


def test_many_loads_are_written_at_once(workshop, django_assert_max_num_queries):
    for n in range(12):
        moulded_job(workshop, customer=f"Customer {n}", due_on=in_days(4 + n))
    proposal = propose(workshop)
    with django_assert_max_num_queries(75):
        accept_plan(proposal, person=workshop["keeper"], knows_it_breaks=True)


def test_the_keepers_home_offers_to_light_each_kilns_next_load_and_no_other(client, workshop):
    now = timezone.now()
    first, second = (make_load(workshop, starts_at=now + timedelta(hours=n)) for n in (1, 20))
    client.force_login(workshop["keeper"])
    page = client.get(reverse("orders:home")).content.decode()
    assert reverse("orders:load_start", args=[first.number]) in page
    assert reverse("orders:load_start", args=[second.number]) not in page
    assert reverse("orders:load", args=[second.number]) in page
