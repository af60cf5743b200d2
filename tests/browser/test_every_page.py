"""Every page that can be reached by links from the front door, in a real browser.

The links are followed without a browser. Then one page of each kind is opened at a phone's width
and at the counter's, and must keep to what stands in looking.py. The owner may open everything, so
what others see differs at the front door and in what they may go on to.
"""

from html.parser import HTMLParser
from urllib.parse import urldefrag, urljoin, urlsplit

import pytest
from django.test import Client
from django.urls import Resolver404, resolve

from tests.browser.looking import console_of, look_at
from workshop.models import Person

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

ROLES = ("counter", "yard", "kiln", "bench")
FRONT = {"orders:home", "workshop:rooms"}
PARTS = 4  # of the owner's pages, so that what fails is found sooner


class Links(HTMLParser):
    """Addresses of all links of a page, those inside drawings too."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag, attrs) -> None:
        address = dict(attrs).get("href") if tag == "a" else None
        if address:
            self.found.append(address)


def kind_of(path: str) -> str | None:
    """The name under which an address is known, or None for what is no page of ours."""
    try:
        return resolve(urlsplit(path).path).view_name or None
    except Resolver404:
        return None


def own_path(address: str) -> str:
    """Path and question of an address of this workshop; "" for anybody else's."""
    parts = urlsplit(urldefrag(address).url)
    if parts.scheme not in {"", "http"} or parts.netloc not in {"", "testserver"}:
        return ""
    return parts.path + (f"?{parts.query}" if parts.query else "")


def follow_links(role: str, *, leave_out: frozenset[str] = frozenset()) -> dict[str, str]:
    """An address for each kind of page that somebody reaches; every one of them has answered.

    leave_out  kinds that are not asked for. Papers and other files come under the empty address.
    """
    client = Client(raise_request_exception=True)
    client.force_login(Person.objects.filter(role=role).first())
    reached: dict[str, str] = {}
    waiting = ["/"]
    while waiting:
        path = waiting.pop(0)
        kind = kind_of(path)
        if kind is None or kind in reached or kind in leave_out:
            continue
        answer = client.get(path)
        assert answer.status_code in {200, 302}, f"{role}: {path} answers {answer.status_code}"
        is_page = answer.status_code == 200 and "html" in answer.headers["Content-Type"]
        reached[kind] = path if is_page else ""
        if answer.status_code == 302:
            waiting.append(own_path(urljoin(path, answer.url)))
        elif is_page:
            links = Links(answer.content.decode()).found
            waiting += [own_path(urljoin(path, link)) for link in links]
    return reached


_owners: dict[str, str] = {}


@pytest.fixture
def owners_pages(demo) -> dict[str, str]:
    """The links the owner finds; the demo is the same each time, so they are followed once."""
    if not _owners:
        _owners.update(follow_links("owner"))
    return _owners


@pytest.mark.parametrize("part", range(PARTS))
def test_every_page_is_in_order(owners_pages, signed_in, live_server, part):
    kinds = sorted(kind for kind, path in owners_pages.items() if path)
    assert len(kinds) > 80
    page = signed_in("owner")
    noise = console_of(page)
    troubles = [
        f"{owners_pages[kind]} {trouble}"
        for kind in kinds[part::PARTS]
        for trouble in look_at(page, live_server.url + owners_pages[kind], noise)
    ]
    assert not troubles, "\n".join(troubles)


@pytest.mark.parametrize("role", ROLES)
def test_the_others_find_their_way_too(owners_pages, signed_in, live_server, role):
    files = frozenset(kind for kind, path in owners_pages.items() if not path)
    reached = follow_links(role, leave_out=files)
    assert len(reached) > 3
    page = signed_in(role)
    noise = console_of(page)
    troubles = [
        f"{reached[kind]} {trouble}"
        for kind in sorted(FRONT & set(reached))
        for trouble in look_at(page, live_server.url + reached[kind], noise)
    ]
    assert not troubles, "\n".join(troubles)


def test_the_sign_in_page_is_in_order(page, live_server):
    address = f"{live_server.url}/workshop/sign-in/"
    assert look_at(page, address, console_of(page)) == []
