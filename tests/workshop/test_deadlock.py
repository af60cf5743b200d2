"""Two acts that wait for each other: PostgreSQL ends one, and nobody at a screen hears of it."""

import threading

import pytest
from django.db import OperationalError, connection, connections
from django.http import HttpResponseRedirect
from django.test import RequestFactory

from orders.models import Customer
from tests.builders import make_customer, make_person
from tests.patience import PATIENCE_S
from workshop.models import Person
from workshop.views.idempotent import DEADLOCK_DETECTED, DEADLOCK_TRIES, idempotent

pytestmark = pytest.mark.django_db(transaction=True)


class _Deadlock(Exception):
    sqlstate = DEADLOCK_DETECTED


def _refuse_the_first(tries: int, cause: Exception | None):
    seen = []

    @idempotent
    def view(request):
        seen.append(request)
        Person.objects.update(full_name=f"try {len(seen)}")
        if len(seen) <= tries:
            raise OperationalError("deadlock detected") from cause
        return HttpResponseRedirect("/")

    return view, seen


def test_an_act_that_met_a_deadlock_is_done_again_from_the_start():
    view, seen = _refuse_the_first(2, _Deadlock())
    make_person("owner")
    assert view(RequestFactory().post("/")).status_code == 302
    assert len(seen) == 3
    assert Person.objects.get().full_name == "try 3"


def test_it_is_not_tried_for_ever_and_leaves_nothing():
    view, seen = _refuse_the_first(99, _Deadlock())
    before = make_person("owner").full_name
    with pytest.raises(OperationalError):
        view(RequestFactory().post("/"))
    assert len(seen) == DEADLOCK_TRIES
    assert Person.objects.get().full_name == before


def test_another_fault_of_the_database_is_told_at_once():
    view, seen = _refuse_the_first(1, None)
    with pytest.raises(OperationalError):
        view(RequestFactory().post("/"))
    assert len(seen) == 1


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite has one writer at a time")
def test_two_real_acts_that_lock_crosswise_both_come_through():
    people = [make_customer("Marisa Orlo"), make_customer("Noor Wick")]
    both_hold_one = threading.Barrier(2)
    tries, answers = [], []

    @idempotent
    def view(request):
        tries.append(request.path)
        order = people if request.path == "/a" else people[::-1]
        Customer.objects.filter(pk=order[0].pk).update(note=request.path)
        if len(tries) <= 2:
            both_hold_one.wait(PATIENCE_S)
        Customer.objects.filter(pk=order[1].pk).update(note=request.path)
        return HttpResponseRedirect("/")

    def send(path):
        answers.append(view(RequestFactory().post(path)).status_code)
        connections.close_all()

    threads = [threading.Thread(target=send, args=(path,)) for path in ("/a", "/b")]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(PATIENCE_S)
    assert answers == [302, 302]
    # The one that was ended may be back before the other has woken, and they meet once more.
    assert len(tries) >= 3
