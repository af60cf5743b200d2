"""A keeper's day in rounds, from an empty book by pages alone: lit, pierced, sorted, paid."""

from datetime import datetime, timedelta

import pytest
import time_machine
from django.test import Client
from django.utils import timezone

from orders.models import Order
from stock.models import RejectTally, WorkTicket
from stock.services.check import first_difference
from tests.first_walk import at, sign_in_as_first_owner
from tests.plain_pages import PlainPages
from tests.test_from_nothing import PASSWORD, invite
from workshop.models import Person

pytestmark = [pytest.mark.papers, pytest.mark.django_db]
MONDAY = datetime(2027, 3, 1, 7, 0, tzinfo=timezone.get_default_timezone())


def set_up_by_the_fire(pages) -> None:
    """A workshop with one clay kiln, kept hot, that fuses chunks and pierces them."""
    pages.follow("Go on: Your business")
    pages.fill("Name", "Saltmarsh Glass").fill("Address", "Weir Lane 3, Ambermouth")
    pages.fill("Country", "Portugal").fill("Time zone", "Europe/Lisbon").press("Save")
    at(pages, "Hours of the week").press("Save")
    at(pages, "New kiln").fill("Wood").fill("Fuel price", "0.20").fill("Mould places", "24")
    pages.fill("Highest temperature", "950").fill("Kept hot: lit once")
    pages.fill("Warm-up", "60").fill("Changing moulds", "10")
    pages.fill("Kept hot without moulds", "45").fill("Hotter by", "8").fill("Cooler by", "4")
    pages.press("Save")
    at(pages, "New firing programme").fill("fused").fill("Temperature", "860")
    pages.fill("Minutes", "30").press("Save")
    at(pages, "New mould").fill("Bead size across", "12 mm").fill("Cavities", "9")
    pages.fill("How many owned", "16").press("Save")
    at(pages, "The usual steps").fill("Pay by the hour", "9").press("Save")
    at(pages, "The usual colours").fill("Paid for a kilogram", "0.15")
    pages.fill("amber").fill("amber: Bottles here", "40 kg").fill("amber: Chunks here", "6 kg")
    pages.press("Save")
    at(pages, "New bead").fill("Name", "Amber chunk").fill("Colour", "amber")
    pages.fill("Made from", "chunks").fill("Grain size", "5 mm").fill("Diameter", "12 mm")
    pages.fill("Bore", "3 mm").fill("Pierced by hand while hot")
    pages.fill("Piercing a mould", "0.75").fill("From out of the hot kiln", "720").press("Save")
    at(pages, "Clasps and cord").fill("Waxed cotton").fill("Waxed cotton: price", "0.09")
    pages.fill("Hook clasp").fill("Hook clasp: price", "0.30").press("Save")
    at(pages, "New design").fill("Name", "Ember bracelet").fill("Finished length", "18 cm")
    pages.fill("Price each", "14").press("Save the design")
    at(pages, "New order")


def at_work(pages: PlainPages, name: str, address: str) -> PlainPages:
    """Open a page, and sign in again where nobody was at this screen for a while."""
    pages.open(address)
    if "/sign-in/" in pages.address:
        pages.fill("Username", name).fill("Password", PASSWORD).press("Sign in")
        pages.open(address)
    return pages


def keepers_day(client: Client, clock, look=lambda pages, name: None) -> None:
    """The day and the morning after; `look` is shown every page that somebody stands before."""
    owner = PlainPages(client)
    sign_in_as_first_owner(owner)
    set_up_by_the_fire(owner)
    owner.first_customer("Marisa Orlo").first_line("Ember bracelet", "6").press("Take the order")
    assert Order.objects.exists(), owner.complaints or owner.words
    bench, keeper = PlainPages(Client()), PlainPages(Client())
    for role, pages in (("bench", bench), ("kiln", keeper)):
        invite(owner, pages, role, role)
    look(at_work(bench, "bench", "/bench/"), "bench-to-mould")
    bench.press("Moulded")
    look(bench, "bench-to-pierce")
    assert "To pierce 2" in bench.words

    # First light: the kiln is lit for the first round.
    clock.move_to(MONDAY + timedelta(hours=1, minutes=35))
    look(at_work(keeper, "kiln", "/"), "home-first-light")
    look(keeper.follow("Light load 1"), "light")
    keeper.press("The kiln is lit")
    look(keeper, "burning")
    assert "Beads cold from" in keeper.words
    clock.move_to(MONDAY + timedelta(hours=3, minutes=19))
    look(at_work(bench, "bench", "/bench/"), "bench-pierce-now")
    look(bench.follow("All are pierced"), "pierced")
    bench.press("All are pierced")
    look(bench, "bench-pierced")
    assert "is pierced; its beads are cold from Mon 1 Mar 22:19" in bench.words, bench.complaints

    # The last round goes into the heat of the first, and both cool apart over night.
    look(at_work(keeper, "kiln", "/"), "home-next-round")
    look(keeper.follow("Put load 2 in"), "put-in")
    keeper.press("The round is in")
    clock.move_to(MONDAY + timedelta(hours=4, minutes=6))
    at_work(keeper, "kiln", "/").follow("All are pierced").fill("bench").press("All are pierced")
    assert "is pierced" in keeper.words, keeper.complaints
    look(keeper, "load-pierced")
    look(at_work(keeper, "kiln", "/"), "home-evening")
    assert "cools apart" in keeper.words
    at_work(keeper, "kiln", "/firing/load/1/log/")
    look(keeper, "log-too-early")
    assert "leave them covered until then" in keeper.words

    # Next morning they are counted, with what is seen to be wrong.
    clock.move_to(MONDAY + timedelta(days=1))
    for number, beads, fuel in ((1, 45, ""), (2, 51, "24.5")):
        at_work(keeper, "kiln", f"/firing/load/{number}/log/")
        assert "leave them covered" not in keeper.words and "Pierced by" not in keeper.words
        assert ("lit Mon 1 Mar" if number == 1 else "put in Mon 1 Mar") in keeper.words
        keeper.fill("Good", str(beads - 1)).fill("Rejects", "1").fill("Cracked", "1")
        keeper.fill("Fuel of the whole run", fuel).fill("Minutes you tended it", "40")
        look(keeper, f"log-{number}")
        keeper.press("Log the load")
        assert "is logged" in keeper.words, keeper.complaints
        look(keeper, f"logged-{number}")
    look(at_work(bench, "bench", "/bench/"), "bench-to-sort")
    bench.press("Sorted")
    assert bench.status == 200, bench.complaints
    look(at_work(bench, "bench", "/bench/"), "bench-to-string")
    bench.press("Strung")
    assert "To string 0" in bench.words, bench.words

    # Paid: each hand for what it did.
    client.force_login(Person.objects.get(username="owner"))
    look(owner.open("/money/pay/"), "pay")


def test_a_keepers_day_in_rounds_ends_with_the_hands_paid(client):
    with time_machine.travel(MONDAY, tick=False) as clock:
        keepers_day(client, clock)
        # 83 min of filling moulds, 4 and 7 of piercing, 21 of sorting, 38 of stringing: 153 min at
        # 9.00 an hour are 22.95. 7 of piercing and twice 40 of tending: 87 min are 13.05.
        for name, earned in (("bench", "22.95"), ("kiln", "13.05")):
            hand = Person.objects.get(username=name)
            pages = PlainPages(client).open(f"/money/pay/{hand.pk}/")
            assert f"To pay €{earned}" in pages.words
            pages.press("Pay and write the slip")
            assert earned in pages.words, pages.complaints
        assert "All logged work is paid" in PlainPages(client).open("/money/pay/").words
    assert sum(tally.beads for tally in RejectTally.objects.filter(cause="cracked")) == 2
    assert WorkTicket.objects.filter(step="Piercing").count() == 3
    assert first_difference() is None
