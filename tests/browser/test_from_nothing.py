"""A workshop of one's own, begun in Chromium: ten minutes to the first printed invoice."""

import pytest
from django.contrib.auth.models import AnonymousUser
from django.template.loader import render_to_string
from django.test import RequestFactory
from playwright.sync_api import expect

from tests.browser.conftest import PATIENCE_MS
from tests.browser.looking import console_of, look_at
from tests.browser.pages import BrowserPages
from tests.first_walk import (
    MOST_ANSWERS,
    MOST_PAGES,
    check_the_book,
    check_the_invoice,
    sell,
    set_up,
    sign_in_as_first_owner,
)

pytestmark = [pytest.mark.browser, pytest.mark.papers, pytest.mark.django_db(transaction=True)]


def test_from_an_empty_book_to_the_first_printed_invoice(patient, live_server):
    page = patient.new_page()
    noise = console_of(page)
    pages = BrowserPages(page, live_server.url)
    sign_in_as_first_owner(pages)
    set_up(pages)
    sell(pages)
    check_the_book()
    check_the_invoice()
    assert len(pages.saved) <= MOST_PAGES, pages.saved
    assert pages.answers <= MOST_ANSWERS
    assert noise == []


def test_the_clocks_of_the_browser_are_taken_over_where_nobody_chose(browser, live_server):
    context = browser.new_context(timezone_id="America/Chicago")
    context.set_default_timeout(PATIENCE_MS)
    pages = BrowserPages(context.new_page(), live_server.url)
    sign_in_as_first_owner(pages)
    pages.open("/workshop/business/")
    assert pages.page.get_by_label("Time zone").input_value() == "America/Chicago"
    context.close()


STEPS = (
    "/",
    "/workshop/business/",
    "/workshop/hours/week/",
    "/workshop/kilns/new/",
    "/workshop/programmes/new/",
    "/workshop/moulds/new/",
    "/workshop/rates/usual/",
    "/stock/colours/usual/",
    "/stock/beads/new/",
    "/designs/findings/usual/",
    "/designs/add/",
    "/counter/",
    "/own-book/",
)


def test_every_first_step_fits_a_phone_and_can_be_heard(patient, live_server):
    page = patient.new_page()
    noise = console_of(page)
    pages = BrowserPages(page, live_server.url)
    sign_in_as_first_owner(pages)
    wrong = {
        step: found
        for step in STEPS
        if (found := look_at(page, f"{live_server.url}{step}?first=yes", noise))
    }
    assert wrong == {}


def test_an_electric_kiln_is_not_asked_how_wet_its_wood_is(patient, live_server):
    pages = BrowserPages(patient.new_page(), live_server.url)
    sign_in_as_first_owner(pages)
    pages.open("/workshop/kilns/new/")
    wet = pages.page.get_by_label("Moisture of the wood")
    pages.fill("electricity")
    expect(wet).to_be_hidden()
    pages.fill("wood")
    expect(wet).to_be_visible()


def test_the_page_that_waits_for_ones_own_book_goes_on_once_the_workshop_has_opened_anew(
    patient, live_server
):
    answers = iter([200, None, None])  # still the demo, then closed, and from then on open again
    page = patient.new_page()

    def health(route):
        status = next(answers, 200)
        route.abort() if status is None else route.fulfill(status=status, body="ready")

    page.route("**/workshop/health/", health)
    request = RequestFactory().get("/")
    request.user = AnonymousUser()
    words = render_to_string("orders/home/own_book_begun.html", {"opens_again": True}, request)
    page.route("**/own-book/", lambda route: route.fulfill(content_type="text/html", body=words))
    page.goto(f"{live_server.url}/own-book/")
    expect(page.get_by_role("link", name="Go there")).to_be_visible()
    page.wait_for_url("**/workshop/sign-in/**")
    assert next(answers, "all were asked for") == "all were asked for"
