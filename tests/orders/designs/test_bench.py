"""The design bench: what is laid on it is drawn, measured, weighed and costed at once."""

import re
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from orders.designs.usual import how_many
from orders.models import DesignPrice, Finding, StrandDesign
from stock.models import GlassForm
from tests.builders import make_bead, make_colour, make_design, make_person, put_beads, put_glass
from tests.orders.designs.test_designs import typed

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner(client, workshop):
    client.force_login(make_person("owner"))
    return client


def drawn(owner, *parts, design=None, **more) -> str:
    name = "design_change_drawing" if design else "design_drawing"
    url = reverse(f"orders:{name}", args=[design.pk] if design else [])
    return owner.post(url, typed(*parts, do="", **more)).content.decode()


def places(page: str) -> list[int]:
    """Which piece of the design each bead of the cord is, from left to right."""
    return [int(place) for place in re.findall(r'data-place="(\d+)"', page)]


@pytest.fixture
def pea(workshop):
    return make_bead("Pea", diameter_mm=Decimal(8))


def test_every_piece_of_the_cord_knows_which_piece_of_the_design_it_is(owner, workshop, pea):
    parts = ((workshop["bead"], 2, "repeat"), (pea, 1, "repeat"))
    page = drawn(owner, *parts, finished_mm="9 cm", fit="nearest", whole_repeats="on")
    # 9.798 + 9.798 + 7.746 mm a repeat, three of them 82.0 mm
    assert places(page) == [0, 1, 2] * 3
    page = drawn(
        owner, *parts, (pea, 1, "centre"), finished_mm="9 cm", fit="nearest", mirrored="on",
        whole_repeats="on",
    )  # fmt: skip
    half = places(page)[: len(places(page)) // 2]
    assert half == [0, 1, 2] * (len(half) // 3)
    assert places(page) == [*half, 3, *half[::-1]]
    assert "Pea, piece 3 of" in page


def test_a_graduated_strand_is_drawn_by_size_and_still_knows_its_pieces(owner, workshop, pea):
    page = drawn(
        owner, (workshop["bead"], 1, "repeat"), (pea, 1, "repeat"), graduated="on",
        finished_mm="6 cm", fit="nearest",
    )  # fmt: skip
    # the smaller at the clasps, the larger in the middle
    assert places(page)[0] == places(page)[-1] == 1
    assert places(page)[len(places(page)) // 2] == 0


def test_the_bench_costs_what_the_saved_design_will_cost(owner, workshop, pea):
    put_glass(make_colour(), GlassForm.POWDER, 5)
    put_beads(pea, 4)
    clasp = Finding.objects.create(name="Hook", kind="clasp", length_mm=12, price=Decimal("0.30"))
    parts = ((workshop["bead"], 1, "repeat"), (pea, 1, "repeat"))
    sent = typed(*parts, clasp=str(clasp.pk), price="8", of_many="1", do="")
    typed_one = owner.post(reverse("orders:design_drawing"), sent).context["costed"]
    owner.post(reverse("orders:design_add"), sent | {"do": "save"})
    saved = StrandDesign.objects.get(name="Tide choker")
    panel = owner.get(reverse("orders:design_detail", args=[saved.pk])).context["panel"]
    assert (typed_one.full, typed_one.pocket) == (panel.full, panel.pocket)
    assert (typed_one.price, typed_one.labour_min) == (panel.price, panel.labour_min)
    assert typed_one.price == 8
    # Changed on the bench, it keeps the price of the list.
    again = sent | {"finished_mm": "41", "price": ""}
    there = reverse("orders:design_change_drawing", args=[saved.pk])
    changed = owner.post(there, again).context["costed"]
    assert changed.price == DesignPrice.objects.get().price == 8


def test_set_ups_are_shared_by_those_that_are_made_at_once(owner, workshop):
    one, ten = (
        owner.post(
            reverse("orders:design_drawing"),
            typed((workshop["bead"], 1, "repeat"), do="", of_many=many),
        ).context["costed"]
        for many in ("1", "10")
    )
    assert ten.full <= one.full and ten.many == 10
    assert [how_many(text) for text in ("1", "50", "7", "", None)] == [1, 50, 10, 10, 10]


def test_weight_and_glass_are_of_what_lies_on_the_cord(owner, workshop):
    clasp = Finding.objects.create(name="Hook", kind="clasp", length_mm=4, mass_mg=1500)
    page = owner.post(
        reverse("orders:design_drawing"),
        typed((workshop["bead"], 1, "repeat"), do="", finished_mm="18 cm", clasp=str(clasp.pk)),
    )
    bench = page.context["bench"]
    [green] = bench.glass
    # 17 round beads of 10 mm bored by 2 mm (18 would be 176.4 + 4 mm): a ball less its bore is
    # π/6 × (√(D² − d²))³ = π/6 × 9.798³ = 492.5 mm³; soda-lime glass 2.5 g/cm³: 1.231 g each.
    assert bench.laid.bead_count == 17
    assert float(green.glass_g) == pytest.approx(17 * 1.231, rel=0.01)
    assert float(bench.mass.total_g) == pytest.approx(float(green.glass_g) + 1.5, abs=1e-6)


def test_the_bench_asks_as_often_for_many_beads_as_for_few(owner, workshop):
    def asked(beads) -> int:
        sent = typed(*((bead, 1, "repeat") for bead in beads), do="", finished_mm="45 cm")
        owner.post(reverse("orders:design_drawing"), sent)  # whatever is kept is kept now
        with CaptureQueriesContext(connection) as found:
            page = owner.post(reverse("orders:design_drawing"), sent)
        assert page.context["costed"].panel
        return len(found)

    few = asked([workshop["bead"]])
    many = [make_bead(f"Bead {n}", diameter_mm=Decimal(6 + n)) for n in range(8)]
    assert asked(many) <= few


def test_a_size_makes_the_length_and_is_kept(owner, workshop):
    sent = typed((workshop["bead"], 1, "repeat"), finished_mm="", worn_at="wrist", around_mm="16")
    page = drawn(
        owner,
        (workshop["bead"], 1, "repeat"),
        **{k: sent[k] for k in ("finished_mm", "worn_at", "around_mm")},
    )
    # 160 + 10 of ease + π × 10 = 201.4 mm; 20 beads of 9.798 are 196.0 mm, 164.5 mm inside
    assert "20 beads" in page and "wrist 16\u00a0cm" in page and "5\u00a0mm of ease" in page
    owner.post(reverse("orders:design_add"), sent)
    made = StrandDesign.objects.get(name="Tide choker")
    assert (made.finished_mm, made.worn_at, made.around_mm) == (Decimal("201.4"), "wrist", 160)
    assert "wrist 16" in owner.get(reverse("orders:design_detail", args=[made.pk])).content.decode()


def test_a_strand_that_does_not_close_says_so(owner, workshop):
    page = drawn(
        owner, (workshop["bead"], 1, "repeat"), finished_mm="15", worn_at="wrist", around_mm="16"
    )
    assert "too tight" in page


@pytest.mark.parametrize(
    ("more", "sentence"),
    [
        ({"finished_mm": ""}, "Write a length, or where it is worn"),
        ({"worn_at": "wrist"}, "Write the size there"),
        ({"around_mm": "16"}, "Say where it is worn"),
        ({"worn_at": "wrist", "around_mm": "1"}, "too little"),
    ],
)
def test_a_size_by_halves_is_told_at_its_box_and_kept(owner, workshop, more, sentence):
    answer = owner.post(reverse("orders:design_add"), typed((workshop["bead"], 1, "repeat")) | more)
    assert answer.status_code == 422 and sentence in answer.content.decode()
    assert 'value="Tide choker"' in answer.content.decode()


def test_without_scripts_a_tap_on_the_palette_puts_a_bead_behind_the_rest(owner, workshop, pea):
    sent = typed((workshop["bead"], 1, "once"), (pea, 1, "centre"), mirrored="on")
    page = owner.post(reverse("orders:design_add"), sent | {"do": f"part-put:bead-{pea.pk}"})
    rows = [(form["what"].value(), form["role"].value()) for form in page.context["parts"].forms]
    assert rows == [
        (f"bead-{workshop['bead'].pk}", "once"),
        (f"bead-{pea.pk}", "once"),
        (f"bead-{pea.pk}", "centre"),
    ]
    assert not StrandDesign.objects.filter(name="Tide choker").exists()


def test_without_a_length_the_pieces_lie_there_and_the_page_says_what_is_wanted(owner, workshop):
    page = drawn(owner, (workshop["bead"], 3, "repeat"), finished_mm="")
    assert places(page) == [0, 1, 2]
    assert "Write how long it is to be" in page


def test_a_design_begins_as_a_copy_of_another(owner, workshop, pea):
    like = make_design("Two by two", beads=[(workshop["bead"], 2), (pea, 2)], mirrored=True)
    page = owner.get(reverse("orders:design_add"), {"like": like.pk})
    form, parts = page.context["form"], page.context["parts"]
    assert form["name"].value() == "" and form["mirrored"].value() is True
    assert [each["count"].value() for each in parts.forms] == ["2", "2"]
    assert page.context["bench"].laid.bead_count
    assert owner.get(reverse("orders:design_add"), {"like": "99999"}).status_code == 404


def test_only_the_owner_lays_a_design(client, workshop):
    client.force_login(make_person("counter"))
    assert client.post(reverse("orders:design_drawing"), typed()).status_code == 404
    there = reverse("orders:design_change_drawing", args=[workshop["design"].pk])
    assert client.post(there, typed()).status_code == 404
