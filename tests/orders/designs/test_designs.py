"""Designs laid out part by part, drawn as they are laid."""

from decimal import Decimal

import pytest
from django.urls import reverse

from orders.drawn.strands import Draughtsman
from orders.models import DesignPart, Finding, StrandDesign
from tests.builders import make_bead, make_design, make_person

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner(client, workshop):
    client.force_login(make_person("owner"))
    return client


def typed(*parts, do="save", **more) -> dict:
    """The editor's boxes: parts as (bead or spacer, how many, role)."""
    data = {
        "name": "Tide choker",
        "finished_mm": "40",  # centimetres, when no unit is written
        "fit": "standard",
        "gap": "none",
        "gap_mm": "",
        "rows": "1",
        "cord_ratio": "1.3",
        "in_use": "on",
        "rows_of_parts": str(len(parts)),
        "do": do,
    }
    for index, (what, count, role) in enumerate(parts):
        kind = "bead" if hasattr(what, "programme_id") else "spacer"
        data[f"part{index}-what"] = f"{kind}-{what.pk}"
        data[f"part{index}-count"] = str(count)
        data[f"part{index}-role"] = role
    return data | more


def test_a_design_is_saved_with_its_parts_in_order(owner, workshop):
    pea = make_bead("Pea", diameter_mm=Decimal(8))
    answer = owner.post(
        reverse("orders:design_add"),
        typed((workshop["bead"], 2, "repeat"), (pea, 1, "repeat")),
    )
    design = StrandDesign.objects.get(name="Tide choker")
    assert answer.url == reverse("orders:design_detail", args=[design.pk])
    assert design.finished_mm == Decimal(400)
    assert [(p.position, p.bead.name, p.count) for p in design.parts.all()] == [
        (1, "Green round", 2),
        (2, "Pea", 1),
    ]


def test_a_length_in_inches_is_understood(owner, workshop):
    owner.post(
        reverse("orders:design_add"),
        typed((workshop["bead"], 1, "repeat"), finished_mm="16 in"),
    )
    # 16 × 25.4 mm (the international inch, exact since 1959)
    assert StrandDesign.objects.get(name="Tide choker").finished_mm == Decimal("406.4")


@pytest.mark.parametrize(
    ("do", "expected"),
    [("part-up:1", ["Pea", "Green round"]), ("part-down:0", ["Pea", "Green round"]),
     ("part-drop:0", ["Pea"])],
)  # fmt: skip
def test_parts_move_by_buttons_and_nothing_is_saved(owner, workshop, do, expected):
    pea = make_bead("Pea", diameter_mm=Decimal(8))
    page = owner.post(
        reverse("orders:design_add"),
        typed((workshop["bead"], 1, "repeat"), (pea, 1, "repeat"), do=do),
    ).content.decode()
    names = {workshop["bead"].pk: "Green round", pea.pk: "Pea"}
    import re

    chosen = re.findall(r'<option value="bead-(\d+)" selected>', page)
    assert [names[int(pk)] for pk in chosen] == expected
    assert not StrandDesign.objects.filter(name="Tide choker").exists()


def test_findings_longer_than_the_strand_are_refused(owner, workshop):
    clasp = Finding.objects.create(name="Long hook", kind="clasp", length_mm=Decimal(30))
    answer = owner.post(
        reverse("orders:design_add"),
        typed((workshop["bead"], 1, "repeat"), finished_mm="2 cm", clasp=str(clasp.pk)),
    )
    assert answer.status_code == 422
    assert "no cord is left for beads" in answer.content.decode()
    assert not StrandDesign.objects.filter(name="Tide choker").exists()


@pytest.mark.parametrize(
    ("more", "sentence"),
    [
        ({"finished_mm": "12 kg"}, ""),
        ({"finished_mm": "nan"}, ""),
        ({"finished_mm": "-5"}, ""),
        ({"gap": "knot", "gap_mm": ""}, "Say how long the gap or knot is"),
        ({"part0-count": "0"}, "too little"),
        ({"part0-what": ""}, "Choose a bead or a spacer"),
    ],
)
def test_what_cannot_be_is_told_and_kept(owner, workshop, more, sentence):
    answer = owner.post(reverse("orders:design_add"), typed((workshop["bead"], 1, "repeat")) | more)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in page and "to put right" in page
    assert 'value="Tide choker"' in page
    assert not StrandDesign.objects.filter(name="Tide choker").exists()


def test_a_design_without_parts_is_refused(owner):
    answer = owner.post(reverse("orders:design_add"), typed())
    assert answer.status_code == 422
    assert "at least one part" in answer.content.decode()


def test_a_refused_change_leaves_the_design_as_it_was(owner, workshop):
    design = workshop["design"]
    url = reverse("orders:design_change", args=[design.pk])
    owner.post(url, typed((workshop["bead"], 900, "once"), finished_mm="5 cm"))
    design.refresh_from_db()
    assert design.finished_mm == Decimal(180)
    assert DesignPart.objects.get(design=design).count == 1


def test_the_drawing_follows_the_typing_and_says_the_nearest_whole_lengths(owner, workshop):
    page = owner.post(
        reverse("orders:design_drawing"),
        typed((workshop["bead"], 1, "repeat"), finished_mm="18 cm"),
    ).content.decode()
    # 18 beads of √(10² − 2²) = 9.798 mm: 176.4 mm; one more would be 186.2 mm.
    assert "18 beads" in page
    assert "17.6\u00a0cm" in page and "18.6\u00a0cm" in page
    assert "<svg" in page


def test_the_drawing_shows_as_many_beads_as_the_costing_counts(workshop):
    design = workshop["design"]
    draughtsman = Draughtsman([design])
    assert len(draughtsman.strand(design.pk).beads) == 18
    assert draughtsman.layout(design.pk).bead_count == 18


@pytest.mark.parametrize("many", [1, 15])
def test_designs_are_drawn_in_five_queries_and_again_in_one(
    workshop, many, django_assert_num_queries
):
    designs = [make_design(f"Strand {n}", beads=make_bead(f"Bead {n}")) for n in range(many)]
    for queries in (5, 1):
        with django_assert_num_queries(queries):
            draughtsman = Draughtsman(designs)
            for design in designs:
                draughtsman.strand(design.pk)


def test_a_design_that_was_changed_is_drawn_anew(workshop):
    design = make_design("Strand", beads=make_bead("Bead"))
    before = Draughtsman([design])
    drawn, asked_mm = before.strand(design.pk), design.finished_mm
    assert Draughtsman([design]).strand(design.pk) is drawn
    type(design).objects.filter(pk=design.pk).update(finished_mm=asked_mm * 2)
    after = Draughtsman([design])
    assert len(after.strand(design.pk).beads) > 1.5 * len(drawn.beads)
    assert after.length(design.pk) != before.length(design.pk)
