"""A sample on a photograph: measured beside a coin, its glass proposed, confirmed by hand."""

import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from PIL import Image, ImageDraw

from stock.matching import look_at
from stock.models import SampleMatch
from tests.builders import make_bead, make_colour, make_order, make_person
from workshop.models import AuditEntry, Photo
from workshop.physics.colour import apart, curved, lab_of, linear, rgb_of
from workshop.services.photos import add_photo

pytestmark = pytest.mark.django_db
SEA, LAMP = "#2f6b60", (0.9, 0.62, 0.35)  # a warm lamp: so much of each channel
# White paper, a coin of 25 mm on 500 points, a bead of 12 mm on 240.
POINTS = {
    "known_a": (100, 400), "known_b": (600, 400), "bead_a": (880, 400), "bead_b": (1120, 400),
    "spot": (1000, 440), "white": (800, 100),
}  # fmt: skip


def lit(text: str, lamp=LAMP) -> tuple[int, ...]:
    """A colour as a camera writes it under a lamp."""
    channels = zip(rgb_of(text), lamp, strict=True)
    return tuple(round(255 * curved(linear(each / 255) * part)) for each, part in channels)


def on_paper(lamp=LAMP) -> SimpleUploadedFile:
    # White paper gives back some 85 % of the light: #ededed.
    image = Image.new("RGB", (1600, 800), lit("#ededed", lamp))
    draw = ImageDraw.Draw(image)
    draw.ellipse((100, 150, 600, 650), fill=lit("#a89f91", lamp))
    draw.ellipse((880, 280, 1120, 520), fill=lit(SEA, lamp))
    draw.ellipse((960, 340, 990, 370), fill=(255, 255, 255))  # a glint
    out = io.BytesIO()
    image.save(out, "PNG")
    return SimpleUploadedFile("p.png", out.getvalue())


@pytest.fixture
def order(workshop):
    return make_order(1, design=workshop["design"])


@pytest.fixture
def photo(order):
    counter = make_person("counter")
    return add_photo("order", order, order.number, on_paper(), person=counter, note="old bead")


@pytest.fixture
def glasses(db):
    rows = {"Sea green": SEA, "Amber": "#b5651d", "Cobalt": "#1f3a93", "Clear": "#e8efe9"}
    return {name: make_colour(name, swatch=swatch) for name, swatch in rows.items()}


def as_(role: str) -> Client:
    client = Client()
    client.force_login(make_person(role))
    return client


def typed(without: str = "", **more) -> dict:
    sent = {"known": "25 mm", "do": "look"}
    for name, (x, y) in POINTS.items():
        if name != without:
            sent |= {f"{name}_x": str(x), f"{name}_y": str(y)}
    return sent | more


def test_white_paper_takes_the_lamp_out_and_the_glass_is_found(photo, glasses):
    found = look_at(bytes(photo.picture), POINTS, 25)
    # 25 mm × 240 ÷ 500 = 12 mm.
    assert found.size_mm == pytest.approx(12)
    assert 0 < found.doubt_mm < 0.3
    assert (found.near[0].glass.name, found.near[0].word) in {
        ("Sea green", "same"), ("Sea green", "close")
    }  # fmt: skip
    assert found.balanced and found.light > 5
    blind = look_at(bytes(photo.picture), {n: p for n, p in POINTS.items() if n != "white"}, 25)
    target = lab_of(rgb_of(SEA))
    assert apart(lab_of(rgb_of(blind.seen)), target) > 3 * found.near[0].apart
    assert not blind.balanced and blind.light > 3, "the doubt of the light is told"


def test_a_sample_is_matched_on_its_page_and_leads_to_beads_like_it(photo, glasses, order):
    twelve = make_bead("Sea round", colours={glasses["Sea green"]: 1}, diameter_mm=12)
    make_bead("Small sea round", colours={glasses["Sea green"]: 1}, diameter_mm=8)
    make_bead("Amber round", colours={glasses["Amber"]: 1}, diameter_mm=12)
    counter, page = as_("counter"), reverse("stock:sample", args=[photo.pk])
    there = reverse("orders:order_detail", args=[order.number])
    assert page in counter.get(there).content.decode()
    looked = counter.post(page, typed())
    shown = looked.content.decode()
    assert looked.status_code == 200 and "12.0 mm" in shown
    assert "the white paper takes that out" in shown and "CIEDE2000" in shown
    assert not SampleMatch.objects.exists(), "only proposed"
    said = {"do": "keep", "glass": glasses["Sea green"].pk, "size": "12 mm"}
    assert counter.post(page, typed(**said)).url == page
    match = SampleMatch.objects.get()
    assert str(match) == "12 mm, like Sea green"
    assert AuditEntry.objects.filter(act="match sample", subject_kind="order").exists()
    assert str(match) in counter.get(there).content.decode()
    kept = counter.get(page).content.decode()
    like = f"{reverse('stock:beads')}?like={match.pk}"
    assert like in kept and 'value="1000"' in kept
    beads = counter.get(like).content.decode()
    assert "Sea round" in beads and "Small sea round" not in beads and "Amber round" not in beads
    bench = f"{reverse('orders:design_add')}?bead={twelve.pk}"
    assert bench in as_("owner").get(like).content.decode()
    assert f'value="bead-{twelve.pk}" selected' in as_("owner").get(bench).content.decode()
    # It is matched anew, like none of ours; the one before goes.
    assert counter.post(page, typed(**said | {"glass": "", "size": "11.8"})).status_code == 302
    assert str(SampleMatch.objects.get()) == "11.8 mm, like none of our glasses"


WRONG = [
    ({"known": ""}, "Write this in; it is needed."),
    ({"known": "0"}, "0.1"),
    ({"known": "3 kg"}, "length"),
    ({"known_a_x": ""}, "Tap this in the picture, or write both figures."),
    ({"bead_b_x": "880"}, "Both ends lie on one point; tap them apart."),
    ({"spot_x": "1600"}, "1599"),
    ({"spot_y": "-1"}, "0"),
    ({"white_y": ""}, "Tap this in the picture, or write both figures."),
    ({"white_x": "1000", "white_y": "400"}, "too dark to be a white"),
    ({"white_x": "975", "white_y": "355"}, "so bright that its colour is lost"),
    ({"do": "keep", "size": "", "glass": ""}, "Write this in; it is needed."),
    ({"do": "keep", "size": "12", "glass": "987654"}, "choice"),
]


def test_what_cannot_be_measured_is_a_sentence_and_nothing_is_kept(photo, glasses):
    counter, page = as_("counter"), reverse("stock:sample", args=[photo.pk])
    for wrong, sentence in WRONG:
        answer = counter.post(page, typed(**wrong))
        said = answer.content.decode()
        assert answer.status_code == 422, wrong
        assert sentence in said, wrong
        assert 'value="600"' in said, "what was tapped stays"
    assert not SampleMatch.objects.exists()


def test_only_who_may_see_the_order_matches_its_sample(photo, glasses):
    page = reverse("stock:sample", args=[photo.pk])
    for role, seen in {"owner": 200, "counter": 200, "yard": 404}.items():
        assert as_(role).get(page).status_code == seen, role
        assert as_(role).post(page, typed()).status_code == seen, role
    assert as_("owner").get(reverse("stock:sample", args=[987_654])).status_code == 404


def test_a_sample_may_be_brought_before_anything_is_ordered(order, glasses):
    customer, counter = order.customer, as_("counter")
    add = reverse("workshop:photo_add", args=["customer", customer.pk])
    there = reverse("orders:customer_detail", args=[customer.pk])
    assert add in counter.get(there).content.decode()
    assert counter.post(add, {"file": on_paper()}).url == there
    page = reverse("stock:sample", args=[Photo.objects.get().pk])
    assert page in counter.get(there).content.decode()
    assert counter.get(page).status_code == 200


def test_the_page_asks_the_book_as_often_however_many_glasses(
    photo, glasses, django_assert_max_num_queries
):
    counter, page = as_("counter"), reverse("stock:sample", args=[photo.pk])
    counter.post(page, typed())
    for n in range(12):
        make_colour(f"Glass {n}", swatch=f"#2f6b{n:02x}")
    with django_assert_max_num_queries(30):
        counter.post(page, typed())
