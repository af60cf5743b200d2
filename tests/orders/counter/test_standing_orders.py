"""The same strands every so often: taken ahead of their day, once, with the kilns looked at."""

from datetime import date, timedelta
from decimal import Decimal as D

import pytest
import time_machine
from django.core.exceptions import ValidationError
from django.core.management import call_command
from django.urls import reverse

from orders.counter.services.standing import (
    Rhythm,
    agree_standing,
    change_standing,
    end_standing,
    look_ahead,
    pause_standing,
    take_due,
    take_next,
)
from orders.models import Order, StandingOrder, StandingTaken, WantedLine
from tests.builders import make_customer, make_design, make_order, make_person
from tests.orders.conftest import MONDAY
from workshop.models import AuditEntry

pytestmark = pytest.mark.django_db
TODAY = MONDAY.date()  # Monday 1 March 2027


def rhythm(**given) -> Rhythm:
    usual = {"every": 2, "unit": "weeks", "from_on": TODAY + timedelta(days=21), "ahead_days": 14}
    return Rhythm(**usual | given)


def agree(design, strands: int = 2, price: str | None = "8", **given) -> StandingOrder:
    line = WantedLine(design.pk, strands, D(price) if price else None)
    return agree_standing(
        make_customer("Ferry kiosk"), [line], rhythm(**given), person=make_person("counter")
    )


@pytest.mark.parametrize(
    ("unit", "every", "first", "days"),
    [
        ("weeks", 2, date(2027, 3, 22), [date(2027, 4, 5), date(2027, 4, 19)]),
        # A month without the 31st has its last day; the one after has the 31st again.
        ("months", 1, date(2027, 3, 31), [date(2027, 4, 30), date(2027, 5, 31)]),
        ("months", 6, date(2027, 8, 31), [date(2028, 2, 29), date(2028, 8, 31)]),
        ("months", 12, date(2028, 2, 29), [date(2029, 2, 28), date(2030, 2, 28)]),
    ],
)
def test_the_days_follow_the_first_at_their_distance(unit, every, first, days):
    standing = StandingOrder(unit=unit, every=every, from_on=first, next_on=first)
    assert standing.days_from(first, 3) == [first, *days]


def test_it_is_taken_so_many_days_ahead_promised_and_once(monday):
    standing = agree(monday["design"])
    assert take_due() == []  # three weeks ahead, and it is taken two weeks ahead
    with time_machine.travel(MONDAY + timedelta(days=7), tick=False):
        (taken,) = take_due()
        assert take_due() == []
    assert (taken.order.state, taken.order.due_on) == (Order.State.CONFIRMED, date(2027, 3, 22))
    assert taken.order.jobs.get().needed == 2 * 18 and not taken.refused
    standing.refresh_from_db()
    assert standing.next_on == date(2027, 4, 5)


def test_nights_that_were_missed_are_made_up_for(monday):
    agree(monday["design"])
    with time_machine.travel(MONDAY + timedelta(days=22), tick=False):
        assert [taken.wanted_on for taken in take_due()] == [date(2027, 3, 22), date(2027, 4, 5)]


def test_the_nightly_command_takes_what_is_due_and_says_so(monday, capsys):
    agree(monday["design"], ahead_days=30)
    call_command("take_standing")
    call_command("take_standing")
    said = capsys.readouterr().out
    assert "of Ferry kiosk for" in said and "No standing order is to be taken yet." in said
    assert StandingTaken.objects.count() == 1


def test_of_two_who_take_it_at_once_one_does(monday):
    standing = agree(monday["design"])
    stale = StandingOrder.objects.get()
    take_next(standing, person=make_person("counter"))
    with pytest.raises(ValidationError, match="was changed or ended meanwhile"):
        take_next(stale, person=make_person("counter"))
    assert Order.objects.count() == 1


def test_what_cannot_be_promised_by_itself_waits_with_the_reason(monday):
    standing = agree(monday["design"], price="0.05")
    taken = take_next(standing, person=make_person("counter"))
    assert taken.order.state == Order.State.DRAFT and "Raise the price" in taken.refused
    standing.refresh_from_db()
    assert standing.next_on == date(2027, 4, 5)


def test_a_pause_says_until_when_and_leaves_those_days_out(monday):
    standing = agree(monday["design"])
    pause_standing(standing, date(2027, 4, 10), person=make_person("counter"))
    assert standing.wanted_next == date(2027, 4, 19)
    with time_machine.travel(MONDAY + timedelta(days=34), tick=False):
        assert take_due() == []  # 4 April; the day of 5 April is left out
    with time_machine.travel(MONDAY + timedelta(days=35), tick=False):
        assert [taken.wanted_on for taken in take_due()] == [date(2027, 4, 19)]


def test_a_pause_ends_at_once_when_no_day_is_written(monday):
    standing = agree(monday["design"])
    pause_standing(standing, date(2027, 5, 1), person=make_person("counter"))
    pause_standing(standing, None, person=make_person("counter"))
    assert standing.wanted_next == date(2027, 3, 22)


def test_ended_it_is_taken_no_more(monday):
    standing = agree(monday["design"], ahead_days=60)
    end_standing(standing, person=make_person("counter"))
    assert take_due() == []
    with pytest.raises(ValidationError):
        take_next(standing, person=make_person("counter"))


def test_changed_it_goes_on_after_what_was_taken(monday):
    standing = agree(monday["design"])
    before = standing.version
    take_next(standing, person=make_person("counter"))
    other = make_design("Quay choker", beads=monday["bead"])
    wanted, owner = [WantedLine(other.pk, 3, D(9))], make_person("owner")
    with pytest.raises(ValidationError, match="was changed or ended meanwhile"):
        change_standing(standing, wanted, rhythm(every=1), person=owner, seen=before)
    change_standing(standing, wanted, rhythm(every=1), person=owner, seen=standing.version)
    assert standing.wanted_next == date(2027, 3, 29)
    assert [str(line) for line in standing.lines.all()] == ["3 × Quay choker"]
    entry = AuditEntry.objects.get(act="change standing order")
    assert entry.before["Harbour bracelet"] == "2" and entry.after["Quay choker"] == "3"


@pytest.mark.parametrize("wrong", ["no strands", "a day gone by", "a pause gone by"])
def test_what_makes_no_sense_is_told(monday, wrong):
    with pytest.raises(ValidationError) as told:
        if wrong == "no strands":
            agree(monday["design"], 0)
        elif wrong == "a day gone by":
            agree(monday["design"], from_on=TODAY - timedelta(days=1))
        else:
            standing = agree(monday["design"])
            pause_standing(standing, TODAY, person=make_person("counter"))
    words = {"no strands": "Write how many", "a day gone by": "has passed"}
    assert words.get(wrong, "still ahead") in str(told.value)


def test_the_kilns_are_looked_at_for_the_days_ahead_and_nothing_is_kept(monday):
    standing = agree(monday["design"], strands=10)
    days = look_ahead(standing)
    assert [day.wanted_on for day in days] == standing.days_from(TODAY, 4)
    assert all(day.ready_on >= day.take_on and not day.late for day in days)
    standing.ahead_days = 0  # taken on the day itself, it cannot be ready
    assert all(day.late for day in look_ahead(standing))
    assert not Order.objects.exists()


def test_a_day_on_which_the_workshop_is_closed_is_served_the_open_day_before(monday):
    standing = agree(monday["design"], from_on=date(2027, 3, 21))  # a Sunday
    taken = take_next(standing, person=make_person("counter"))
    assert (taken.wanted_on, taken.order.due_on) == (date(2027, 3, 21), date(2027, 3, 19))


def test_the_pages_begin_it_from_an_order_show_it_and_take_it(client, monday):
    order = make_order(3, design=monday["design"], price=D(8))
    client.force_login(make_person("owner"))
    url = reverse("orders:standing_add") + f"?order={order.number}"
    assert 'value="3"' in client.get(url).content.decode()
    box = f"n_{monday['design'].pk}"
    typed = {"customer": order.customer_id, "every": "1", "unit": "months", "ahead_days": "14"}
    refused = client.post(url, typed | {box: "7", "from_on": ""})
    assert refused.status_code == 422 and 'value="7"' in refused.content.decode()
    price = f"p_{monday['design'].pk}"
    done = client.post(url, typed | {box: "2", price: "9", "from_on": "2027-04-01"})
    standing = StandingOrder.objects.get()
    assert done.url == reverse("orders:standing", args=[standing.pk])
    page = client.get(done.url).content.decode()
    assert "every month" in page and "Ready, as the kilns stand now" in page
    client.post(reverse("orders:standing_take", args=[standing.pk]))
    assert StandingTaken.objects.get().order.state == Order.State.CONFIRMED
    client.post(reverse("orders:standing_pause", args=[standing.pk]), {"until": "2027-06-01"})
    listed = client.get(reverse("orders:standing_list")).content.decode()
    assert "paused until" in listed
    client.post(reverse("orders:standing_end", args=[standing.pk]))
    assert "Ended" in client.get(done.url).content.decode()


def test_the_lists_queries_do_not_grow(client, monday, django_assert_num_queries):
    client.force_login(make_person("counter"))
    agree(monday["design"])
    url = reverse("orders:standing_list")
    client.get(url)
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    with CaptureQueriesContext(connection) as one:
        client.get(url)
    for _more in range(3):
        agree(monday["design"])
    with django_assert_num_queries(len(one)):
        client.get(url)


def test_the_customers_page_leads_to_it(client, monday):
    standing = agree(monday["design"])
    client.force_login(make_person("counter"))
    page = client.get(reverse("orders:customer_detail", args=[standing.customer_id]))
    assert reverse("orders:standing", args=[standing.pk]) in page.content.decode()
    end_standing(standing, person=make_person("owner"))
    page = client.get(reverse("orders:customer_detail", args=[standing.customer_id]))
    assert reverse("orders:standing", args=[standing.pk]) not in page.content.decode()
