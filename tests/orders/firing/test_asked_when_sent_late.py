"""What kiln or bench can no longer do when a phone sends it late comes back as a question."""

import html
import uuid

import pytest
from django.urls import reverse
from django.utils import timezone

from orders.counter.services.ordering import cancel_order
from orders.firing.queries.trays import trays_of
from orders.firing.services.log import TrayOut, log_firing
from stock.models import WorkTicket
from tests.builders import make_person
from tests.hard.coming_in import sign_in
from tests.orders.firing.conftest import (
    burning_load,
    light,
    make_load,
    moulded_job,
    put_in,
    waiting_job,
)
from tests.workshop.test_phones import paired
from workshop.models import IdempotencyKey
from workshop.phone_door.folder import Desk

pytestmark = pytest.mark.django_db


@pytest.fixture
def phone(workshop, settings, tmp_path):
    """The owner's phone, for she may do every act."""
    settings.PHONES, settings.PHONES_DIR = Desk("Tidewrack Beads", 8000), tmp_path
    owner = make_person("owner")
    phone = paired(owner)
    sign_in(phone, owner.username)
    return phone


def send_late(phone, name, key, **boxes):
    return phone.post(
        reverse(name, args=[key]),
        {"key": str(uuid.uuid4()), **boxes},
        headers={"X-Happened-At": timezone.now().isoformat()},
    )


def question(answer) -> str:
    """Why it was not done; nothing of it is left in the book, the key of its form included."""
    assert answer.status_code in {404, 409, 422}
    assert not IdempotencyKey.objects.exists()
    return html.unescape(answer.content.decode())


def test_a_load_that_another_lit_meanwhile_is_asked_about(phone, workshop):
    load = make_load(workshop)
    tray = put_in(load, moulded_job(workshop))
    light(load, workshop["keeper"])
    boxes = {f"beads_{tray.pk}": tray.beads, "at": timezone.localtime().strftime("%Y-%m-%dT%H:%M")}
    said = question(send_late(phone, "orders:load_start", load.number, **boxes))
    assert "This was not done" in said and f"oad {load.number}" in said
    assert f'data-path="{reverse("orders:load", args=[load.number])}"' in said
    # At the desk the same press is led on, and reads why there.
    answer = phone.post(reverse("orders:load_start", args=[load.number]), boxes)
    assert answer.url == reverse("orders:load", args=[load.number])


def test_beads_that_another_hand_moulded_meanwhile_are_asked_about(phone, workshop):
    job = moulded_job(workshop)
    said = question(send_late(phone, "orders:bench_mould", job.pk, count=job.to_start))
    assert "bench has moved" in said
    assert WorkTicket.objects.count() == 1


@pytest.mark.parametrize("name", ["orders:bench_mould", "orders:bench_string"])
def test_work_on_an_order_that_was_cancelled_is_asked_about(phone, workshop, name):
    job = waiting_job(workshop)
    key = job.pk if name == "orders:bench_mould" else job.order.lines.get().pk
    cancel_order(job.order, person=make_person("owner"))
    before = WorkTicket.objects.count()
    assert question(send_late(phone, name, key, count=job.to_start, strands=1))
    assert WorkTicket.objects.count() == before


def test_a_load_that_was_logged_meanwhile_is_asked_about(phone, workshop):
    load = burning_load(workshop, moulded_job(workshop))
    outs = [TrayOut(tray, tray.beads, 0) for tray in trays_of(load)]
    log_firing(load, outs, person=workshop["keeper"])
    assert "This was not done" in question(send_late(phone, "orders:load_end", load.number))
