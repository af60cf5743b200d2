"""A step is one thing: called otherwise, its tickets are still paid by its rate."""

from datetime import date
from decimal import Decimal

import pytest
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.db.models import ProtectedError
from django.urls import reverse

from orders.money.services.pay import pay_due
from stock.models import WorkTicket
from tests.builders import make_business, make_person, make_rate
from tests.hard.test_asvs_forms import boxes_of
from workshop.models import LabourRate, WorkStep

MONDAY = date(2026, 3, 2)


def _ticket(step: str) -> WorkTicket:
    return WorkTicket.objects.create(
        hand=make_person("bench"), on=MONDAY, step_id=step, minutes=90, pieces=4
    )


def _called(client, rate: LabourRate, step: str):
    """The owner writes another name over the step of a rate."""
    client.force_login(make_person("owner"))
    path = reverse("workshop:rate_change", args=[rate.pk])
    typed = boxes_of(client.get(path).content.decode()) | {"step": step}
    answer = client.post(path, typed)
    assert answer.status_code == 302, answer.context["form"].errors


@pytest.mark.django_db
def test_tickets_are_paid_after_their_step_is_called_otherwise(client):
    """90 minutes at 10.00 an hour are 15.00, before the new name and after it."""
    make_business()
    earlier = make_rate("Threading", valid_from=date(2025, 1, 1))
    rate, ticket = make_rate("Threading"), _ticket("Threading")
    assert pay_due(ticket.hand, MONDAY, MONDAY).earned == 15
    _called(client, rate, "Stringing on cord")
    for row in (earlier, rate, ticket):
        row.refresh_from_db()
        assert row.step_id == "Stringing on cord"
    assert pay_due(ticket.hand, MONDAY, MONDAY).earned == 15
    assert list(WorkStep.objects.values_list("name", flat=True)) == ["Stringing on cord"]


@pytest.mark.django_db
def test_a_step_keeps_its_tickets_while_another_rate_is_its(client):
    make_business()
    own, ticket = make_rate("Filling", kind="fused"), _ticket("Filling")
    make_rate("Filling")
    _called(client, own, "Filling with chunks")
    ticket.refresh_from_db()
    assert ticket.step_id == "Filling"
    assert set(LabourRate.objects.values_list("step", flat=True)) == {
        "Filling", "Filling with chunks",
    }  # fmt: skip


@pytest.mark.django_db
def test_the_name_of_another_step_takes_over_one_rate_alone(client):
    make_business()
    make_rate("Packing")
    rate, ticket = make_rate("Tagging", kind="fused"), _ticket("Tagging")
    _called(client, rate, "Packing")
    ticket.refresh_from_db()
    assert ticket.step_id == "Tagging" and LabourRate.objects.filter(step="Packing").count() == 2


@pytest.mark.django_db
def test_no_ticket_is_left_without_its_step():
    _ticket("Sweeping")
    with pytest.raises(ProtectedError):
        WorkStep.objects.get(pk="Sweeping").delete()


@pytest.mark.django_db(transaction=True)
def test_an_old_book_has_a_row_for_every_step_that_is_named():
    """Steps that only a ticket names still, and those that only a rate does."""
    now = MigrationExecutor(connection).loader.graph.leaf_nodes()
    before = [("workshop", "0018_phones"), ("stock", "0024_one_load_in_a_kiln")]
    executor = MigrationExecutor(connection)
    executor.migrate(before)
    try:
        old = executor.loader.project_state(before).apps
        hand = old.get_model("workshop", "Person").objects.create(username="hand", role="bench")
        old.get_model("stock", "WorkTicket").objects.create(hand=hand, on=MONDAY, step="Pounding")
        for day in (1, 2):
            old.get_model("workshop", "LabourRate").objects.create(
                step="Grinding", skill="preparing", basis="kg", minutes_each=Decimal(25),
                hourly=9, valid_from=date(2026, 1, day),
            )  # fmt: skip
    finally:
        executor = MigrationExecutor(connection)
        executor.migrate(now)
    assert set(WorkStep.objects.values_list("name", flat=True)) == {"Grinding", "Pounding"}
    assert WorkTicket.objects.get().step_id == "Pounding"
    assert {rate.step_id for rate in LabourRate.objects.all()} == {"Grinding"}
