"""What a phone fetches: few files, kept for a year, and pages pressed where no secret stands."""

import gzip
import re

import pytest
from django.test import Client
from django.urls import reverse

from tests.builders import make_business, make_person
from tests.hard.coming_in import sign_in
from workshop.bundles import LETTERS
from workshop.middleware import SHOWS_A_SECRET

pytestmark = pytest.mark.django_db
# Goals of the workshop's own for a slow line; a first page, then every later one.
FIRST_PAGE_BYTES, FIRST_REQUESTS, LATER_BYTES = 100_000, 8, 30_000


@pytest.fixture
def phone():
    return Client(HTTP_ACCEPT_ENCODING="gzip, br")


def fetched_with(page: str) -> set[str]:
    """What a browser fetches besides a page, but for the fonts that its stylesheet names."""
    return set(re.findall(r'(?:href|src)="(/static/[^"]+)"', page))


def read(answer) -> bytes:
    content = b"".join(answer.streaming_content) if answer.streaming else answer.content
    return content


def test_the_first_page_of_a_phone_is_light_and_the_rest_is_kept_for_a_year(phone):
    make_business()
    answer = phone.get(reverse("workshop:sign_in"))
    assert answer["Content-Encoding"] == "gzip"
    names = fetched_with(gzip.decompress(answer.content).decode())
    weight, kept = len(answer.content), 0
    for name in names:
        got = phone.get(name)
        weight += len(read(got))
        kept += "immutable" in got["Cache-Control"]
    assert kept == len(names) - 1, "all but the sign of the page"
    # The face for headings and the one for strong words come with the stylesheet.
    sheet = next(name for name in names if name.endswith(".css"))
    style = read(Client().get(sheet)).decode()
    faces = re.findall(r'url\("((?:light|semibold)-[0-9a-f]{12}\.woff2)"\)', style)
    weight += sum(len(read(phone.get(f"/static/made/{face}"))) for face in faces)
    assert weight < FIRST_PAGE_BYTES, weight
    assert 1 + len(names) + len(faces) <= FIRST_REQUESTS
    for name in names:
        assert "br" in phone.get(name).get("Content-Encoding", "br") or name.endswith(".svg")


def test_later_pages_are_light_and_those_with_a_secret_go_out_as_they_are(phone):
    make_business()
    owner = make_person("owner")
    sign_in(phone)
    for name in ("orders:home", "orders:counter", "workshop:facts", "workshop:business"):
        answer = phone.get(reverse(name))
        assert answer["Content-Encoding"] == "gzip", name
        assert len(answer.content) < LATER_BYTES, name
    for name in SHOWS_A_SECRET - {"workshop:choose_password", "workshop:phone_pair"}:
        needs = {"workshop:person_invite": [owner.pk]}
        answer = phone.get(reverse(name, args=needs.get(name, [])))
        assert answer.status_code == 200, name
        assert not answer.get("Content-Encoding"), name


def test_the_small_fonts_have_the_letters_that_our_own_words_are_written_in():
    from pathlib import Path

    from django.conf import settings

    files = [*Path(settings.BASE_DIR, "templates").rglob("*.html")]
    for app in ("workshop", "stock", "orders"):
        files += Path(settings.BASE_DIR, app).rglob("*.py")
    written = {
        sign
        for file in files
        for words in re.findall(r'translate "([^"]+)"|_\(\s*"([^"]+)"', file.read_text("utf-8"))
        for sign in "".join(words)
    }
    assert not {sign for sign in written if ord(sign) not in LETTERS}
