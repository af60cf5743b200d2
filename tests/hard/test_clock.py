"""A clock that ran ahead: asked about before a number is taken by its day, and got past after.

Ids are those of OWASP's Application Security Verification Standard 5.0.0.
"""

import contextlib
import io
import uuid
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
import time_machine
from django.core.exceptions import ValidationError
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse

from orders.models import Document, PassedPaper
from orders.money.services.paper_numbers import pass_paper
from orders.money.services.payments import record_payment
from tests.builders import make_business, make_customer, make_person
from tests.hard.coming_in import sign_in
from workshop.models import AuditEntry
from workshop.services.acts import record_act
from workshop.services.clock import SILENCE, clock_doubt, confirm_day

pytestmark = pytest.mark.django_db
TODAY = datetime(2026, 11, 30, 10, tzinfo=UTC)
YEARS_ON = datetime(2031, 3, 3, 10, tzinfo=UTC)


@pytest.fixture
def owner():
    make_business()
    with time_machine.travel(TODAY - timedelta(days=1), tick=False):
        person = make_person("owner")
        record_act(person, "sign in", person)
    return person


def pay(owner):
    payment = record_payment(make_customer(), Decimal(5), person=owner)
    return Document.objects.get(payment=payment)


def test_v16_2_2_a_clock_far_ahead_of_the_log_is_asked_about_before_a_number_is_taken(owner):
    """V16.2.2 (from memory): times in the log can be believed."""
    with time_machine.travel(YEARS_ON, tick=False):
        record_act(owner, "sign in", owner)  # the first line that the clock wrote wrongly
        with pytest.raises(ValidationError, match=r"says 3 March 2031.*is of 29 November 2026"):
            pay(owner)
        assert not Document.objects.exists()
    with time_machine.travel(TODAY, tick=False):
        assert pay(owner).number == "R-2026-0001", "no number was lost"


def test_whoever_signs_in_is_asked_and_one_tap_says_that_the_clock_is_right(owner):
    with time_machine.travel(TODAY + timedelta(days=60), tick=False):
        client = Client()
        led = sign_in(client)
        assert led.url == reverse("workshop:clock")
        page = client.get(led.url).content.decode()
        assert "29 November 2026" in page and "29 January 2027" in page
        client.post(led.url, {"key": str(uuid.uuid4())})
        assert AuditEntry.objects.filter(act="confirm the day", person=owner).exists()
        assert pay(owner).number == "R-2027-0001"
        assert sign_in(Client()).url != reverse("workshop:clock"), "asked once"


@pytest.mark.parametrize(("silent", "asked"), [(SILENCE, False), (SILENCE * 1.1, True)])
def test_holidays_are_no_reason_to_ask(owner, silent, asked):
    with time_machine.travel(TODAY - timedelta(days=1) + silent, tick=False):
        assert bool(clock_doubt()) == asked


def test_copies_made_by_themselves_meanwhile_show_that_the_machine_was_running(
    owner, settings, tmp_path
):
    settings.COPIES_DIR = tmp_path
    with time_machine.travel(TODAY + timedelta(days=60), tick=False):
        assert clock_doubt()
        (tmp_path / "strandwork-20270127T020000Z.copy").write_bytes(b"")
        assert clock_doubt() is None


def ran_ahead(owner) -> Document:
    """One receipt of a later day, by a clock that somebody even said was right."""
    with time_machine.travel(YEARS_ON, tick=False):
        confirm_day(person=owner)
        return pay(owner)


def test_the_owner_goes_past_a_paper_of_a_later_day_and_numbers_keep_without_a_gap(owner, client):
    ahead = ran_ahead(owner)
    with time_machine.travel(TODAY, tick=False):
        with pytest.raises(ValidationError, match="the owner goes past it"):
            pay(owner)
        client.force_login(owner)
        page = client.get(reverse("orders:paper", args=[ahead.pk])).content.decode()
        past = reverse("orders:paper_pass", args=[ahead.pk])
        assert past in page
        told = client.post(past, {"reason": "The battery was changed", "key": str(uuid.uuid4())})
        assert told.status_code == 302
        numbers = [pay(owner).number for _payment in range(2)]
        assert numbers == ["R-2026-0001", "R-2026-0002"]
        act = AuditEntry.objects.get(act="go past paper")
        assert (act.person, act.after["why"]) == (owner, "The battery was changed")
        before = Document.objects.filter(pk=ahead.pk).values().get()
        ahead.refresh_from_db()
        assert before["issued_on"] == YEARS_ON.date(), "the paper itself stays as it was"


def test_a_clock_a_week_ahead_leaves_one_series_without_a_gap(owner):
    with time_machine.travel(TODAY + timedelta(days=7), tick=False):
        ahead = pay(owner)
    with time_machine.travel(TODAY, tick=False):
        with pytest.raises(ValidationError):
            pay(owner)
        pass_paper(ahead, person=owner, why="clock")
        assert [ahead.number, pay(owner).number] == ["R-2026-0001", "R-2026-0002"]


def test_no_paper_of_today_is_gone_past_and_nobody_but_the_owner_does(owner, client):
    with time_machine.travel(TODAY, tick=False):
        paper = pay(owner)
        with pytest.raises(ValidationError, match="not dated ahead"):
            pass_paper(paper, person=owner, why="because")
        client.force_login(make_person("counter"))
        assert client.post(reverse("orders:paper_pass", args=[paper.pk])).status_code == 404
    assert not PassedPaper.objects.exists()


def said_by_doctor() -> str:
    out = io.StringIO()
    with contextlib.suppress(CommandError):
        call_command("doctor", stdout=out, stderr=out)
    return " ".join(out.getvalue().split())


def test_the_doctor_does_not_blame_a_clock_that_is_right(owner):
    ran_ahead(owner)
    with time_machine.travel(TODAY, tick=False):
        assert "One of the two is wrong: look at a calendar" in said_by_doctor()
        record_act(owner, "sign in", owner)
        said = said_by_doctor()
        assert "The clock ran ahead once" in said
        assert "before the last line of the log" not in said
