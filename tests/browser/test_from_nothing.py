"""A workshop of one's own, begun in Chromium: ten minutes to the first printed invoice."""

import pytest

from tests.browser.looking import console_of
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
    context.set_default_timeout(60_000)
    pages = BrowserPages(context.new_page(), live_server.url)
    sign_in_as_first_owner(pages)
    pages.open("/workshop/business/")
    assert pages.page.get_by_label("Time zone").input_value() == "America/Chicago"
    context.close()
