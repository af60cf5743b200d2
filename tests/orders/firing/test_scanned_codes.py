"""A tag or a load sheet held before the camera opens the page of the thing."""

from datetime import date

import pytest
from django.urls import reverse

from orders.firing.papers import load_sheet_html
from orders.making.services.to_stock import beads_each, string_to_stock
from stock.services.tags import tag_of
from stock.strand_codes import strand_code
from tests.builders import put_beads
from tests.hard.coming_in import sign_in
from tests.orders.firing.conftest import make_load, moulded_job, put_in
from tests.workshop.test_phones import paired
from workshop.models import Business
from workshop.phone_door.folder import Desk
from workshop.phone_door.reached import reached_by_phones

pytestmark = pytest.mark.django_db
HERE = "http://testserver"


@pytest.fixture
def strung(workshop):
    """Three strands strung to stock in one go."""
    [(bead, each)] = beads_each(workshop["design"]).items()
    put_beads(bead, 3 * each)
    return string_to_stock(workshop["design"], 3, on=date(2026, 3, 1), person=workshop["hand"])


def scanned(client, code):
    return client.get(reverse("orders:scan"), {"code": code})


def test_the_code_of_a_load_sheet_opens_the_load(client, workshop, rf, settings, tmp_path):
    load = make_load(workshop)
    put_in(load, moulded_job(workshop))
    page = reverse("orders:load", args=[load.number])
    request = rf.get("/")
    assert reached_by_phones(request, page) == f"{HERE}{page}"
    # While the door for phones is open, it is the door's address that phones find.
    settings.PHONES, settings.PHONES_DIR = Desk("Tidewrack Beads", 8000), tmp_path
    address = reached_by_phones(request, page)
    assert address.startswith("https://") and address.endswith(f".local:8001{page}")
    plain = load_sheet_html(load, Business.current())
    assert 'class="code"' not in plain
    assert 'class="code"' in load_sheet_html(load, Business.current(), address)
    client.force_login(workshop["keeper"])
    settings.ALLOWED_HOSTS.append(address.split("/")[2].split(":")[0])
    for code in (address, HERE + page, f"http://192.168.1.20:8001{page}", page):
        assert scanned(client, code).url == page
    elsewhere = scanned(client, f"https://glass.example{page}")
    assert "is of nothing here that you may open" in elsewhere.content.decode()


@pytest.mark.parametrize(
    "path", ["/workshop/sign-out/", "/nowhere/", "//glass.example/", "/firing/load/987654/"]
)
def test_a_code_of_no_thing_leads_nowhere_and_acts_on_nothing(client, workshop, path):
    client.force_login(workshop["keeper"])
    answer = scanned(client, HERE + path)
    if answer.status_code == 302:  # a load that is none is a missing page of this workshop
        assert answer.url == path and client.get(path).status_code == 404
    else:
        assert "is of nothing here" in answer.content.decode()


def test_the_tag_of_a_strand_opens_where_that_strand_came_from(client, strung, workshop):
    code = strand_code(strung.pk, 2)
    trail = reverse("stock:trail_strand", args=[strung.pk]) + "?strand=2"
    client.force_login(workshop["hand"])
    assert scanned(client, code).url == trail
    assert scanned(client, f"Harbour bracelet\n18 cm\nTidewrack Beads\n{code}").url == trail
    # A tag that tells its story to a buyer tells those who work here more.
    tag = tag_of(strung)
    story = reverse("stock:strand_story", args=[tag.token])
    assert scanned(client, f"https://beads.example{story}?strand={code}").url == trail
    assert scanned(client, f"https://beads.example{story}").url == trail.partition("?")[0]


def test_a_number_typed_by_hand_is_looked_for(client, workshop):
    load = make_load(workshop)
    client.force_login(workshop["keeper"])
    found = scanned(client, str(load.number))
    assert found.url == f"{reverse('orders:find')}?q={load.number}"
    assert f"load {load.number}" in client.get(found.url, follow=True).content.decode()


def test_the_camera_is_open_to_the_page_that_scans_and_to_no_other(client, workshop):
    client.force_login(workshop["keeper"])
    page = client.get(reverse("orders:scan"))
    assert page["Permissions-Policy"] == "camera=(self)"
    assert "'unsafe" not in page["Content-Security-Policy"]
    for name in ("orders:home", "orders:firing", "workshop:sign_in"):
        assert "camera=()" in client.get(reverse(name))["Permissions-Policy"], name


def test_a_phone_keeps_the_page_that_scans(workshop, settings, tmp_path):
    settings.PHONES, settings.PHONES_DIR = Desk("Tidewrack Beads", 8000), tmp_path
    phone = paired(workshop["keeper"])
    sign_in(phone, workshop["keeper"].username)
    assert reverse("orders:scan") in phone.get(reverse("orders:phone_pages")).content.decode()
