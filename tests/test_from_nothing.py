"""A workshop of one's own, begun in a browser without scripts: ten minutes to the first invoice."""

import pytest

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

pytestmark = [pytest.mark.papers, pytest.mark.django_db]


def test_from_an_empty_book_to_the_first_printed_invoice(client):
    pages = PlainPages(client)
    sign_in_as_first_owner(pages)
    set_up(pages)
    sell(pages)
    check_the_book()
    check_the_invoice()
    assert len(pages.saved) <= MOST_PAGES, pages.saved
    assert pages.answers <= MOST_ANSWERS
    print(len(pages.saved), pages.answers)
