"""Confirming an order keeps its kiln places and bench minutes until the keeper plans them."""

from datetime import date
from decimal import Decimal

import pytest
import time_machine
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone

from orders.counter.services.ordering import cancel_order
from orders.counter.services.reopening import reopen_order
from orders.firing.services.plan import accept_plan, propose_plan
from orders.floor.kiln_room import fit_room
from orders.models import BenchShare, LoadShare, Order, WantedLine
from orders.reckoning.reckon import reckon
from stock.models import KilnLoad, LoadTray
from tests.builders import (
    make_customer,
    make_draft,
    make_order,
    make_person,
    make_rate,
    put_beads,
)
from tests.orders.conftest import MONDAY
from workshop.models import ClosedDay, NoFiring

pytestmark = pytest.mark.django_db

TUESDAY = date(2027, 3, 2)


def ask(workshop, strands: int):
    return reckon(
        [WantedLine(workshop["design"].pk, strands)],
        customer=None,
        business=workshop["business"],
        today=timezone.localdate(),
    ).promise


def take(workshop, strands: int, who: str = "Marisa Orlo") -> Order:
    return make_order(strands, design=workshop["design"], customer=make_customer(who))


def test_confirming_puts_every_bead_that_is_started_into_a_load(monday):
    order = take(monday, 3)
    job = order.jobs.get()
    shares = LoadShare.objects.filter(job=job)
    assert sum(share.beads for share in shares) == job.to_start
    assert sum(share.moulds for share in shares) == job.moulds
    assert all(share.reserved for share in shares)


def test_the_day_promised_is_the_day_the_room_is_kept_for(monday):
    asked = ask(monday, 3)
    order = take(monday, 3)
    assert (order.likely_on, order.p90_on) == (asked.likely_on, asked.p90_on)
    assert order.due_on == asked.p90_on  # the trader is told the careful day


def test_bench_minutes_are_kept_by_day_and_skill(monday):
    # 90 strands at 6 minutes are 540: Monday has 480, Tuesday takes the last 60.
    put_beads(monday["bead"], 18 * 90)
    order = take(monday, 90)
    rows = list(order.bench_shares.values_list("day", "skill", "minutes"))
    assert rows == [(MONDAY.date(), "stringing", 480), (TUESDAY, "stringing", 60)]


def test_the_next_order_is_strung_after_what_is_promised(monday):
    # Monday has 480 minutes: 60 strands take 360 of them, and 30 more want 180.
    put_beads(monday["bead"], 18 * 90)
    assert ask(monday, 30).likely_on == MONDAY.date()
    take(monday, 60)
    assert ask(monday, 30).likely_on == TUESDAY


def test_what_was_promised_for_yesterday_and_not_done_takes_todays_first_hours(monday):
    put_beads(monday["bead"], 18 * 90)
    take(monday, 60)
    with time_machine.travel(MONDAY.replace(day=2), tick=False):
        # 360 minutes are left over from Monday; 30 strands want 180 of Tuesday's 480.
        assert ask(monday, 30).likely_on == date(2027, 3, 3)
        assert ask(monday, 20).likely_on == TUESDAY


def test_only_those_who_string_can_string(monday):
    put_beads(monday["bead"], 18 * 90)
    make_person("bench", username="second pair")
    # Two pairs of hands: 540 minutes of stringing in a day of 2 × 480.
    assert ask(monday, 90).likely_on == MONDAY.date()
    second = make_person("bench", username="second pair")
    second.skills = ["moulding", "polishing"]
    second.save()
    # Now one of them only moulds and polishes, and the other has 480 minutes.
    assert ask(monday, 90).likely_on == TUESDAY


def test_the_slowest_skill_holds_the_date_whichever_it_is(monday):
    """30 strands of 18 beads want 540 good ones: 552 of 92 % are needed on average.

    Polishing takes a minute a bead and only one of two hands does it, 480 minutes a day, so
    more than one whole day goes by after the beads are fired.
    """
    alone = ask(monday, 30)
    make_rate("Polishing", skill="polishing", basis="bead", minutes_each=1)
    make_person("bench", username="second pair", skills=["moulding", "stringing"])
    hand = make_person("bench")
    hand.skills = ["polishing"]
    hand.save()
    held_up = ask(monday, 30)
    fired = next(step.until for step in held_up.steps if step.name == "Fired and cooled")
    finished = next(step.until for step in held_up.steps if step.name == "Finished")
    assert held_up.likely_on > alone.likely_on
    assert (finished - fired).days >= 1
    order = take(monday, 30)
    days = order.bench_shares.filter(skill="polishing").values_list("minutes", flat=True)
    assert max(days) <= 480 and sum(days) >= order.jobs.get().to_start


def test_two_small_orders_share_a_load_and_the_third_gets_what_is_left(monday):
    # 18 beads good of each strand: 2 moulds each, six owned, so three orders fill them.
    for who in ("Marisa Orlo", "Tomas Reku", "Ilse Brandt"):
        take(monday, 1, who)
    load = KilnLoad.objects.get()
    assert load.trays.count() == 3
    assert sum(tray.moulds for tray in load.trays.all()) == 6
    take(monday, 1, "A fourth")
    # All moulds are in the first load, so the fourth needs another.
    assert KilnLoad.objects.count() == 2


def test_nothing_already_promised_moves(monday):
    first = take(monday, 3)
    before = list(KilnLoad.objects.values_list("number", "starts_at", "hold_min"))
    trays = list(LoadTray.objects.values_list("pk", "load", "beads"))
    take(monday, 12, "Tomas Reku")
    first.refresh_from_db()
    after = list(KilnLoad.objects.values_list("number", "starts_at", "hold_min"))
    assert set(before) <= set(after)
    assert set(trays) <= set(LoadTray.objects.values_list("pk", "load", "beads"))


def test_no_load_ever_holds_more_than_its_kiln_or_the_moulds_that_are_owned(monday):
    for n in range(6):
        take(monday, 4 + n, f"Customer {n}")
    for load in KilnLoad.objects.prefetch_related("trays__bead__mould"):
        moulds = sum(tray.moulds for tray in load.trays.all())
        assert moulds <= 6 <= load.kiln.places


def test_kilns_are_lit_on_the_whole_five_minutes(monday):
    make_rate("Moulding", skill="moulding", basis="bead", minutes_each=Decimal("0.37"))
    for n in range(4):
        take(monday, 5, f"Customer {n}")
    assert {load.starts_at.minute % 5 for load in KilnLoad.objects.all()} == {0}


@pytest.mark.parametrize("act", [cancel_order, reopen_order])
def test_an_order_cancelled_or_opened_again_gives_its_room_back(monday, act):
    alone = ask(monday, 12)
    order = take(monday, 12)
    assert ask(monday, 12).likely_on >= alone.likely_on
    act(order, person=make_person("owner"))
    assert not KilnLoad.objects.exists()
    assert not BenchShare.objects.exists()
    assert ask(monday, 12) == alone


def test_a_load_shared_with_another_order_stays_when_one_is_cancelled(monday):
    first, second = take(monday, 1), take(monday, 1, "Tomas Reku")
    cancel_order(first, person=make_person("owner"))
    (tray,) = KilnLoad.objects.get().trays.all()
    assert tray.shares.get().job.order == second


def test_an_order_that_makes_fewer_beads_keeps_no_more_room_than_they_take(monday):
    job = take(monday, 12).jobs.get()
    job.to_start = 30
    fit_room(job)
    shares = LoadShare.objects.filter(job=job).select_related("tray")
    assert sum(share.beads for share in shares) == 30
    assert sum(share.moulds for share in shares) == 3  # of 12 cavities
    assert [share.tray.beads for share in shares] == [share.beads for share in shares]
    assert not KilnLoad.objects.filter(trays=None).exists()


def test_an_accepted_plan_takes_the_place_of_what_was_kept(monday):
    order = take(monday, 3)
    keeper = make_person("kiln")
    accept_plan(propose_plan(person=keeper, seconds=0.2, bound=False), person=keeper)
    shares = LoadShare.objects.filter(job__order=order)
    assert shares and not any(share.reserved for share in shares)
    assert sum(share.beads for share in shares) == order.jobs.get().to_start
    minutes = order.bench_shares.filter(skill="stringing").values_list("minutes", flat=True)
    assert sum(minutes) == 18  # 3 strands at 6 minutes


def test_a_refused_order_keeps_nothing(monday):
    draft = make_draft(3, design=monday["design"], price=1)
    with pytest.raises(ValidationError, match="let the owner confirm"):
        from orders.counter.services.ordering import confirm_order

        confirm_order(draft, person=make_person("counter"))
    assert not KilnLoad.objects.exists() and not BenchShare.objects.exists()


def test_no_room_is_kept_on_a_day_without_firing(monday):
    NoFiring.objects.create(day=MONDAY.date(), why="storm")
    take(monday, 3)
    assert timezone.localtime(KilnLoad.objects.get().starts_at).date() == TUESDAY


def test_no_room_is_kept_on_a_closed_day(monday):
    ClosedDay.objects.create(day=MONDAY.date(), why="feast")
    take(monday, 3)
    assert timezone.localtime(KilnLoad.objects.get().starts_at).date() == TUESDAY


def test_the_board_shows_which_room_is_kept(client, monday):
    order = take(monday, 3)
    client.force_login(make_person("kiln"))
    page = client.get(reverse("orders:firing")).content.decode()
    load = KilnLoad.objects.get()
    assert f"room kept in load {load.number}" in page
    page = client.get(reverse("orders:load", args=[load.number])).content.decode()
    assert "kept since the order was confirmed" in page and str(order.number) in page
