"""Rows without a day come last, on either database and whichever way a list is sorted."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from orders.models import Order
from tests.builders import make_customer, make_person
from workshop.days import soonest
from workshop.models import Role

pytestmark = pytest.mark.django_db


def test_orders_without_a_day_come_last_up_and_down(client):
    today = timezone.localdate()
    days = {1: None, 2: today + timedelta(days=2), 3: None, 4: today + timedelta(days=1)}
    for number, due_on in days.items():
        Order.objects.create(
            number=number, customer=make_customer(), state="confirmed", due_on=due_on,
            taken_on=today,
        )  # fmt: skip
    by_day = Order.objects.order_by(soonest(), "number")
    assert [order.number for order in by_day] == [4, 2, 1, 3]
    client.force_login(make_person(role=Role.OWNER))
    for sort, dated in (("due_on", [4, 2]), ("-due_on", [2, 4])):
        page = client.get(reverse("orders:order_list"), {"sort": sort, "state": ""})
        rows = [row.record.number for row in page.context["table"].rows]
        assert rows[:2] == dated and set(rows[2:]) == {1, 3}
