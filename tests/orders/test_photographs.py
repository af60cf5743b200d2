"""Photographs: small, without what the camera wrote into them, seen by those who may."""

import io
import struct
import uuid
import zlib
from decimal import Decimal

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from PIL import Image, ImageFile

from orders.counter.papers import order_slip_html
from orders.designs.papers import photos_on_papers, price_list_html
from orders.designs.services.as_asked import Asked, as_asked
from orders.models import DesignPrice
from stock.models import KilnLoad, Sack
from stock.services.sacks import weigh_in_sack
from tests.builders import (
    make_bead,
    make_collector,
    make_colour,
    make_kiln,
    make_order,
    make_person,
    put_beads,
)
from tests.hard.coming_in import sign_in
from tests.workshop.test_phones import paired
from workshop.models import AuditEntry, Business, Photo
from workshop.phone_door.folder import Desk
from workshop.photos import KINDS
from workshop.services import photos
from workshop.services.photos import LARGE_PX, SMALL_PX, add_photo

pytestmark = pytest.mark.django_db
PLACE = b"a stall in the harbour, 37 N 8 W"
GPS, ORIENTATION = 0x8825, 0x0112  # tags of Exif 2.32, 4.6.3 and 4.6.4


def taken(
    size=(2400, 1200), form="JPEG", colour=(30, 120, 70), orientation=1
) -> SimpleUploadedFile:
    """A photograph as a telephone takes it, its place and the maker's words within."""
    image = Image.new("RGB", size, colour)
    image.paste((200, 40, 40), (0, 0, size[0] // 4, size[1] // 4))
    exif = Image.Exif()
    exif[ORIENTATION] = orientation
    exif[0x010E] = PLACE.decode()
    exif.get_ifd(GPS).update({1: "N", 2: (37.0, 6.0, 30.0), 3: "W", 4: (8.0, 40.0, 0.0)})
    out = io.BytesIO()
    image.save(out, form, exif=exif)
    assert PLACE in out.getvalue()
    return SimpleUploadedFile("p.jpg", out.getvalue(), content_type="image/jpeg")


@pytest.fixture
def sack(workshop):
    given = {"colour": make_colour(), "gross_g": 20_000, "person": make_person("yard")}
    return weigh_in_sack(make_collector(), **given)


def as_(role: str) -> Client:
    client = Client()
    client.force_login(make_person(role))
    return client


def send(client, kind, key, file, **more):
    return client.post(reverse("workshop:photo_add", args=[kind, key]), {"file": file, **more})


def test_a_sack_is_photographed_and_its_page_shows_it_without_the_place(sack):
    yard = as_("yard")
    page = reverse("stock:sack", args=[sack.pk])
    assert reverse("workshop:photo_add", args=["sack", sack.pk]) in yard.get(page).content.decode()
    assert send(yard, "sack", sack.pk, taken(), note="wet labels").url == page
    photo = Photo.objects.get()
    assert (photo.width, photo.height) == (LARGE_PX, LARGE_PX // 2)
    shown = yard.get(page).content.decode()
    assert "wet labels" in shown and reverse("workshop:photo_small", args=[photo.pk]) in shown
    for name, edge in (("photo", LARGE_PX), ("photo_small", SMALL_PX)):
        answer = yard.get(reverse(f"workshop:{name}", args=[photo.pk]))
        assert answer["Content-Type"] == "image/jpeg" and "no-store" in answer["Cache-Control"]
        assert PLACE not in answer.content and b"Exif" not in answer.content
        image = Image.open(io.BytesIO(answer.content))
        assert max(image.size) == edge and not image.getexif()
    assert AuditEntry.objects.filter(act="photograph", subject_kind="sack").exists()


def test_a_picture_turned_by_its_orientation_is_upright_and_glass_lies_on_white(sack):
    # Orientation 6: the first row of the file is the right side of the scene (Exif 2.32, 4.6.4).
    turned = photos.read_picture(taken(orientation=6))
    assert turned.height > turned.width
    image = Image.open(io.BytesIO(turned.large))
    red, *_rest = image.getpixel((image.width - 20, 20))
    assert red > 150, "the corner of the file's first row is on the right now"
    out = io.BytesIO()
    Image.new("RGBA", (40, 40), (0, 0, 0, 0)).save(out, "PNG")
    clear = photos.read_picture(SimpleUploadedFile("p.png", out.getvalue()))
    assert Image.open(io.BytesIO(clear.large)).getpixel((20, 20)) == (255, 255, 255)


def bomb(width=30_000, height=30_000) -> bytes:
    """A PNG of some bytes that says it has 900 million points (ISO/IEC 15948, 11.2.2)."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return (
            struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        )

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    data = zlib.compress(b"\0" * 100)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", data) + chunk(b"IEND", b"")


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"%PDF-1.7 no picture", "This is no photograph that can be read."),
        (b"", "This file is empty."),
        (taken().read()[:3000], "This is no photograph that can be read."),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "This is no photograph that can be read."),
        (bomb(), "more than 60 million points"),
        (b"\xff" * 40_000_000, "This file has 40 MB. Send a photograph of at most 8 MB."),
    ],
    ids=["no picture", "empty", "cut off", "drawing", "bomb", "40 MB"],
)
def test_what_is_no_photograph_is_a_sentence_and_nothing_is_kept(
    sack, content, sentence, monkeypatch
):
    # As a library that prints may have set it for the whole process.
    monkeypatch.setattr(ImageFile, "LOAD_TRUNCATED_IMAGES", True)
    file = SimpleUploadedFile("p.jpg", content)
    answer = send(as_("yard"), "sack", sack.pk, file, note="what was typed")
    assert answer.status_code == 422
    page = answer.content.decode()
    assert sentence in page and "what was typed" in page
    assert not Photo.objects.exists()


def test_a_photograph_is_seen_by_those_who_may_open_the_page_of_the_thing(sack):
    send(as_("yard"), "sack", sack.pk, taken((60, 40)))
    photo = Photo.objects.get()
    for role, seen in {"owner": 200, "yard": 200, "bench": 404}.items():
        for name in ("photo", "photo_small"):
            got = as_(role).get(reverse(f"workshop:{name}", args=[photo.pk]))
            assert got.status_code == seen, (role, name)
        assert (
            as_(role).get(reverse("workshop:photo_add", args=["sack", sack.pk])).status_code == seen
        )
    stranger = Client().get(reverse("workshop:photo", args=[photo.pk]))
    assert stranger.status_code == 302 and "sign-in" in stranger.url
    change = reverse("workshop:photo_change", args=[photo.pk])
    assert as_("counter").post(change, {"do": "away"}).status_code == 404
    assert as_("yard").post(change, {"do": "show"}).status_code == 404, "a sack is on no paper"
    assert as_("yard").post(change, {"do": "away"}).status_code == 302
    assert not Photo.objects.exists()


def test_every_kind_of_thing_has_its_page_with_photographs(sack, workshop):
    order, owner = make_order(1, design=workshop["design"]), as_("owner")
    bead = make_bead("Photographed")
    load = KilnLoad.objects.create(
        number=90_002, kiln=make_kiln(), starts_at=timezone.now(), hold_c=720, hold_min=30
    )
    keys = {
        "sack": sack.pk,
        "load": load.number,
        "batch": put_beads(bead, 10).batch.pk,
        "bead": bead.pk,
        "design": order.lines.get().design_id,
        "order": order.number,
        "customer": order.customer_id,
    }
    assert keys.keys() == KINDS.keys()
    for kind, key in keys.items():
        assert send(owner, kind, key, taken((60, 40)), note=f"this {kind}").status_code == 302
        assert f"this {kind}" in owner.get(KINDS[kind].url(key)).content.decode()
        assert owner.get(reverse("workshop:photo_add", args=[kind, 987_654])).status_code == 404


def test_the_owner_puts_one_on_price_list_and_order_slip(workshop):
    order = make_order(2, design=workshop["design"])
    design, owner = order.lines.get().design, make_person("owner")
    DesignPrice.objects.create(design=design, price=9, valid_from="2026-01-01")
    first, second = (
        add_photo("design", design, design.pk, taken((60, 40)), person=owner, note="")
        for _photo in range(2)
    )
    business = Business.current()

    def papers() -> list[int]:
        made = (price_list_html(business), order_slip_html(order, business))
        return [html.count('src="data:image/jpeg;base64,') for html in made]

    assert papers() == [0, 0]
    page = as_("owner")
    for photo in (first, second):
        page.post(reverse("workshop:photo_change", args=[photo.pk]), {"do": "show"})
        assert papers() == [1, 1], "one of a design"
    pdf = page.get(reverse("orders:order_slip", args=[order.number])).content
    assert b"/DCTDecode" in pdf
    page.post(reverse("workshop:photo_change", args=[second.pk]), {"do": "hide"})
    assert papers() == [0, 0]


def test_however_many_photographs_a_page_asks_for_them_once(sack, django_assert_num_queries):
    owner = make_person("owner")
    for _photo in range(photos.MOST_OF_ONE):
        add_photo("sack", sack, sack.pk, taken((30, 20)), person=owner, note="")
    with django_assert_num_queries(1):
        found = list(Photo.objects.of("sack", [sack.pk]))
        assert len({str(each.taken_by) for each in found}) == 1
    answer = send(as_("yard"), "sack", sack.pk, taken((30, 20)))
    assert "12 photographs are kept of it already" in answer.content.decode()


def test_a_design_as_it_was_asked_for_shows_the_photographs_of_its_design(workshop):
    owner, design = make_person("owner"), workshop["design"]
    longer = as_asked(design, Asked(length_mm=Decimal(240)), person=owner)
    photo = add_photo("design", design, design.pk, taken((60, 40)), person=owner, note="mine")
    order = make_order(2, design=longer)
    page = as_("owner")
    small = reverse("workshop:photo_small", args=[photo.pk])
    assert small in page.get(reverse("orders:design_detail", args=[longer.pk])).content.decode()
    photos.show_on_papers(photo, design, person=owner, shown=True)
    slip = order_slip_html(order, Business.current())
    assert slip.count('src="data:image/jpeg;base64,') == 1
    # One of its own goes before that of its design.
    own = add_photo("design", longer, longer.pk, taken((61, 41)), person=owner, note="")
    photos.show_on_papers(own, longer, person=owner, shown=True)
    kept = photos_on_papers([longer, design])
    assert kept[longer.pk] != kept[design.pk]


@pytest.mark.parametrize("by_phone", [False, True])
def test_a_sack_is_logged_together_with_its_photograph_or_not_at_all(
    workshop, settings, tmp_path, by_phone
):
    settings.PHONES, settings.PHONES_DIR = Desk("Tidewrack Beads", 8000), tmp_path
    keeper = make_person("yard")
    yard, log = paired(keeper) if by_phone else Client(), reverse("stock:sack_log")
    sign_in(yard, keeper.username)
    happened = {"X-Happened-At": timezone.now().isoformat()} if by_phone else {}
    boxes = {
        "collector": make_collector().pk,
        "colour": make_colour().pk,
        "gross_g": "20 kg",
        "dirt_share": "3",
        "origin": "bottles",
        "paid": "no",
        "received_on": timezone.localdate().isoformat(),
    }
    no_photo = SimpleUploadedFile("p.jpg", b"no picture at all", content_type="image/jpeg")
    refused = yard.post(log, {**boxes, "key": uuid.uuid4(), "photo": no_photo}, headers=happened)
    assert "This is no photograph" in refused.content.decode()
    assert not Sack.objects.exists()
    right = {**boxes, "key": uuid.uuid4(), "photo": taken((90, 60))}
    assert yard.post(log, right, headers=happened).status_code == 302
    sack, photo = Sack.objects.get(), Photo.objects.get()
    assert (photo.kind, photo.subject) == ("sack", sack.pk)
