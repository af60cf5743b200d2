"""A workshop of one's own, begun in a browser without scripts: ten minutes to the first invoice."""

import re

import lxml.html
import pytest
from django.test import Client

from orders.models import Customer, Order
from stock.models import KilnLoad
from tests.first_walk import (
    MOST_ANSWERS,
    MOST_PAGES,
    check_the_book,
    check_the_invoice,
    sell,
    set_up,
    sign_in_as_first_owner,
)
from tests.plain_pages import PlainPages
from tests.spoken_pages import SpokenPages
from workshop.models import Role

PASSWORD = "reed-and-rope-of-the-weir"
MOST_SEEN = 60

pytestmark = [pytest.mark.papers, pytest.mark.django_db]


def test_from_an_empty_book_to_the_first_printed_invoice(client):
    """In Portuguese; Chromium walks the same in English (`tests/browser/test_from_nothing.py`)."""
    pages = SpokenPages(client, "pt")
    sign_in_as_first_owner(pages)
    set_up(pages)
    sell(pages)
    check_the_book("pt")
    check_the_invoice("pt")
    assert len(pages.saved) <= MOST_PAGES, pages.saved
    assert pages.answers <= MOST_ANSWERS
    print(len(pages.saved), pages.answers)


def links_on(pages: PlainPages) -> set[str]:
    """Where the page leads within the workshop, but for signing out and files to download."""
    found = {link.get("href", "").partition("#")[0] for link in pages.page.iter("a")}
    return {to for to in found if to.startswith("/") and "as=csv" not in to and ".pdf" not in to}


@pytest.mark.parametrize("role", Role.values)
@pytest.mark.parametrize("begun", [False, True], ids=["an empty book", "the first steps done"])
def test_whoever_signs_in_first_finds_every_page_of_their_rooms_in_order(client, role, begun):
    owner = PlainPages(client)
    sign_in_as_first_owner(owner)
    if begun:
        set_up(owner)
    pages = PlainPages(Client())
    invite(owner, pages, role)
    shown_on, waiting, wrong = {"/": "the first page"}, ["/"], []
    while waiting and len(shown_on) < MOST_SEEN:
        address = waiting.pop(0)
        answer = pages.client.get(address, follow=True)
        if answer.status_code != 200:
            wrong.append(f"{shown_on[address]} leads to {address}: {answer.status_code}")
            continue
        if "html" not in answer["Content-Type"]:
            continue
        for link in links_on(pages.show(answer, address)) - shown_on.keys():
            shown_on[link] = address
            waiting.append(link)
    assert not wrong


def invite(owner: PlainPages, guest: PlainPages, role: str, name: str = "newcomer") -> None:
    """The owner adds somebody; they choose a password by their link, and sign in with it."""
    owner.open("/workshop/people/new/").fill("Name to sign in with", name)
    owner.fill("Role", role).press("Save")
    owner.press("Make the link")
    link = re.search(r"/workshop/password/[^/]+/[^/\"<]+/", lxml.html.tostring(owner.page).decode())
    assert link, owner.words
    guest.open(link[0]).fill("New password", PASSWORD).fill("New password confirmation", PASSWORD)
    guest.press("Set the password")
    guest.fill("Username", name).fill("Password", PASSWORD).press("Sign in")
    assert guest.address == "/", guest.words


@pytest.mark.parametrize("language", ["fr", "de"])
def test_everybody_s_first_day_ends_with_the_first_order_handed_over(client, language):
    """Yard, bench, kiln and counter, none of whom reads a word of English."""
    owner = SpokenPages(client, language)
    sign_in_as_first_owner(owner)
    set_up(owner)
    sell(owner)
    team = {}
    for role in ("yard", "kiln", "bench", "counter"):
        team[role] = SpokenPages(Client(), language)
        invite(owner, team[role], role, role)
    yard = team["yard"].open("/stock/sacks/log/").fill("Somebody new", "Celia Worth")
    yard.fill("green").fill("On the scale", "9,5").press("Weigh it in")
    assert yard.says("owed to Celia Worth"), yard.words
    bench = team["bench"].open("/bench/").press("Moulded")
    assert bench.says("moulded, batch 2"), bench.words
    kiln = team["kiln"]
    for load in KilnLoad.objects.order_by("number"):
        kiln.open(f"/firing/load/{load.number}/start/").press("The kiln is lit")
        kiln.open(f"/firing/load/{load.number}/log/").fill("to the bench")
        for tray in load.trays.all():
            kiln.fill(f"All {tray.beads} good")
        kiln.press("Log the load")
        assert kiln.says("is logged"), kiln.complaints
    while not bench.open("/bench/").says("To finish 0"):
        bench.press("Sorted")
        assert bench.status == 200, bench.complaints
    bench.press("Strung")
    assert bench.says("To string 0")
    counter = team["counter"].open("/orders/1/").press("Hand it over")
    assert counter.says("Not paid yet"), counter.words
    counter.open("/money/payments/take/?order=1&rest=1").press("Take the money")
    counter.press("Hand it over")
    assert Order.objects.get().state == Order.State.COLLECTED, counter.words
    assert Customer.objects.get().name == "Marisa Orlo"
    assert {pages.page.get("lang") for pages in (owner, *team.values())} == {language}
