"""A longer search runs beside the day's work and lays what it found before the keeper."""

from datetime import timedelta

import pytest
from django.core.management import CommandError, call_command
from django.urls import reverse
from django.utils import timezone

from orders.models import FiringPlan, FiringSearch
from stock.models import KilnLoad
from tests.orders.firing.conftest import make_load, moulded_job, put_in
from workshop.models import ClosedDay, Kiln, WorkingHours
from workshop.services import beside

pytestmark = pytest.mark.django_db


@pytest.fixture
def started(monkeypatch):
    """The commands that would have been started."""
    commands: list[list[str]] = []
    monkeypatch.setattr(beside.subprocess, "run", lambda command, **given: commands.append(command))
    return commands


def two_poor_loads(workshop) -> None:
    for n in (1, 2):
        job = moulded_job(workshop, customer=f"Customer {n}")
        put_in(make_load(workshop, starts_at=timezone.now() + timedelta(days=n)), job)


def test_what_it_finds_stands_on_the_board_and_moves_nothing(client, workshop):
    two_poor_loads(workshop)
    call_command("search_firing", seconds=1, person="kiln", verbosity=0)
    plan = FiringPlan.objects.get()
    assert plan.made_by == workshop["keeper"] and plan.after["loads"] == 1
    assert KilnLoad.objects.count() == 2
    client.force_login(workshop["keeper"])
    page = client.get(reverse("orders:firing")).content.decode()
    assert reverse("orders:plan", args=[plan.pk]) in page


def test_a_plan_of_other_facts_is_not_offered(client, workshop):
    two_poor_loads(workshop)
    call_command("search_firing", seconds=1, person="kiln", verbosity=0)
    make_load(workshop)
    client.force_login(workshop["keeper"])
    page = client.get(reverse("orders:firing")).content.decode()
    assert "found a better plan" not in page


def test_one_search_at_a_time(client, workshop, started, django_capture_on_commit_callbacks):
    client.force_login(workshop["keeper"])
    for _again in range(2):
        with django_capture_on_commit_callbacks(execute=True):
            answer = client.post(reverse("orders:plan_search"), follow=True)
    assert "under way since" in answer.content.decode()
    (command,) = started
    assert command[-2:] == ["--search", str(FiringSearch.objects.get().pk)]


def test_the_board_shows_how_far_it_has_come(client, workshop):
    two_poor_loads(workshop)
    so_far = {"tardiness_min": 0, "late_orders": 0, "kiln_minutes": 1050, "loads": 14}
    FiringSearch.objects.create(
        asked_by=workshop["keeper"], seconds=60, searched_s=24, so_far=so_far,
        seen_at=timezone.now(),
    )  # fmt: skip
    client.force_login(workshop["keeper"])
    page = client.get(reverse("orders:plan_search"), headers={"HX-Request": "true"})
    words = page.content.decode()
    assert "24 of 60 seconds" in words and "14 loads, 1,050 kiln minutes" in words
    assert 'max="60" value="24"' in " ".join(words.split())


def test_a_search_that_was_cut_off_says_so_and_another_may_be_asked_for(
    client, workshop, started, django_capture_on_commit_callbacks
):
    FiringSearch.objects.create(
        asked_by=workshop["keeper"], seconds=60, seen_at=timezone.now() - timedelta(minutes=2)
    )
    client.force_login(workshop["keeper"])
    assert "was cut off" in client.get(reverse("orders:firing")).content.decode()
    with django_capture_on_commit_callbacks(execute=True):
        client.post(reverse("orders:plan_search"))
    assert len(started) == 1


def test_what_cannot_be_planned_is_said_on_the_board(client, workshop):
    moulded_job(workshop)
    Kiln.objects.update(in_use=False)
    with pytest.raises(CommandError):
        call_command("search_firing", seconds=1, person="kiln", verbosity=0)
    search = FiringSearch.objects.get()
    assert search.ended_at is not None and search.plan is None and search.said


@pytest.mark.parametrize("role", ["counter", "bench", "yard"])
def test_others_do_not_start_it(client, workshop, started, role):
    from tests.builders import make_person

    client.force_login(make_person(role))
    assert client.post(reverse("orders:plan_search")).status_code == 404
    assert started == []


@pytest.mark.parametrize("seconds", [0, -1, 4000])
def test_seconds_that_cannot_be_are_refused(workshop, seconds):
    with pytest.raises(CommandError):
        call_command("search_firing", seconds=seconds)


def test_a_workshop_that_is_always_closed_is_told_to_open(client, workshop):
    """The board opens all the same, and planning says what is missing."""
    moulded_job(workshop)
    WorkingHours.objects.all().delete()
    today = timezone.localdate()
    ClosedDay.objects.bulk_create(ClosedDay(day=today + timedelta(days=n)) for n in range(200))
    client.force_login(workshop["keeper"])
    page = client.get(reverse("orders:firing")).content.decode()
    assert "no working hours" in page
    answer = client.post(reverse("orders:plan_propose"), follow=True)
    assert "open at least one working window" in answer.content.decode()
    assert not FiringPlan.objects.exists()


def test_a_workshop_without_a_kiln_in_use_is_told_so_and_its_loads_are_still_shown(
    client, workshop
):
    put_in(make_load(workshop), moulded_job(workshop))
    Kiln.objects.update(in_use=False)
    client.force_login(workshop["keeper"])
    assert client.get(reverse("orders:firing")).status_code == 200
    answer = client.post(reverse("orders:plan_propose"), follow=True)
    assert answer.status_code == 200
    assert KilnLoad.objects.count() == 1
