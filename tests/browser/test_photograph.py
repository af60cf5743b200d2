"""A photograph is made small on the telephone before it is sent."""

import io
import os

import pytest
from PIL import Image
from playwright.sync_api import expect

from stock.services.sacks import weigh_in_sack
from tests.browser.looking import faults_of
from tests.builders import make_business, make_collector, make_colour, make_person
from workshop.models import Photo
from workshop.services.photos import LARGE_PX, MOST_BYTES

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_a_large_photograph_of_a_sack_is_small_before_it_is_sent(signed_in, live_server):
    make_business()
    yard = make_person("yard")
    sack = weigh_in_sack(make_collector(), colour=make_colour(), gross_g=20_000, person=yard)
    out = io.BytesIO()
    # Noise does not press: such a file is far larger than the desk takes.
    Image.frombytes("RGB", (2400, 1800), os.urandom(2400 * 1800 * 3)).save(out, "PNG")
    assert len(out.getvalue()) > MOST_BYTES
    page = signed_in(yard)
    page.set_viewport_size({"width": 360, "height": 740})
    page.goto(f"{live_server.url}/stock/sacks/{sack.pk}/")
    page.get_by_role("link", name="Take a photograph").click()
    box = page.get_by_label("Photograph", exact=True)
    box.set_input_files({"name": "p.png", "mimeType": "image/png", "buffer": out.getvalue()})
    page.wait_for_function(
        "() => document.querySelector('[data-photo]').files[0].name === 'photo.jpg'"
    )
    page.get_by_label("What it shows").fill("wet labels")
    page.get_by_role("button", name="Keep the photograph").click()
    expect(page.locator(".photos-row img")).to_have_js_property("naturalWidth", 320)
    assert faults_of(page) == []
    photo = Photo.objects.get()
    assert (photo.width, photo.height, photo.note) == (LARGE_PX, 1200, "wet labels")
