"""The boxes of the design editor and the what-if: kept as typed, refused at their field."""

from decimal import Decimal as D

import pytest
from django.urls import reverse

from orders.models import StrandDesign
from tests.builders import (
    make_bead,
    make_colour,
    make_design,
    make_draft,
    make_kiln,
    make_mould,
    make_person,
    put_glass,
)
from tests.orders.designs.test_designs import typed


@pytest.fixture
def owner(client, workshop):
    client.force_login(make_person("owner"))
    return client


def tube(mm: int):
    return make_bead(
        f"Tube {mm}", shape="tube", diameter_mm=D(8), length_mm=D(mm),
        mould=make_mould(f"Tube {mm}", shape="tube", bead_across_mm=D(8)),
    )  # fmt: skip


def test_a_graduated_design_is_drawn_and_saved(owner):
    parts = [(tube(mm), 1, "repeat") for mm in (6, 8, 10)] + [(tube(12), 1, "centre")]
    sent = typed(*parts, finished_mm="60 mm", graduated="on")
    look = owner.post(reverse("orders:design_drawing"), sent).content.decode()
    assert "7 beads" in look
    owner.post(reverse("orders:design_add"), sent)
    assert StrandDesign.objects.get(name="Tide choker").graduated


def test_steps_tails_and_learning_are_kept(owner, workshop):
    owner.post(
        reverse("orders:design_add"),
        typed(
            (workshop["bead"], 1, "repeat"),
            rows="2", row_step_mm="2 cm", cord_tails_mm="4 in", learning_rate="80",
            learning_first="2.5", learning_made="12",
        ),
    )  # fmt: skip
    design = StrandDesign.objects.get(name="Tide choker")
    assert (design.row_step_mm, design.cord_tails_mm) == (D(20), D("101.6"))
    assert (design.learning_rate, design.learning_first) == (D("0.8"), D("2.5"))
    assert design.learning_made == 12


def test_a_learning_rate_that_nobody_has_is_refused_at_its_box(owner, workshop):
    page = owner.post(
        reverse("orders:design_add"), typed((workshop["bead"], 1, "repeat"), learning_rate="20")
    )
    assert page.status_code == 422
    assert "learning_rate" in page.context["form"].errors
    assert 'value="20"' in page.content.decode()


def test_the_cord_on_the_page_is_the_cord_that_is_costed(owner, workshop):
    design = make_design(
        "Knotted", beads=workshop["bead"], cord_ratio=D("2.00"), cord_tails_mm=D(100)
    )
    page = owner.get(reverse("orders:design_detail", args=[design.pk]))
    # 18 beads of √(10² − 2²) mm; twice that and 100 mm.
    assert float(page.context["laid"].cord_mm) == pytest.approx(2 * 18 * 96**0.5 + 100)


def test_a_what_if_of_rejects_and_shares_is_refused_at_the_box(owner, workshop):
    green, amber = make_colour(), make_colour("amber")
    put_glass(amber, "powder", 5)
    bead = make_bead("Pair", colours={green: D("0.6"), amber: D("0.4")})
    order = make_draft(3, design=make_design("Pairs", beads=bead))
    first, last = bead.colours.order_by("pk")
    sent = {"n_0": "3", f"q_{bead.pk}": "100", f"s_{first.pk}": "60", f"s_{last.pk}": "40"}
    url = reverse("orders:order_what_if", args=[order.number])
    page = owner.post(url, sent)
    assert page.status_code == 422
    assert list(page.context["form"].errors) == [f"q_{bead.pk}"]
    page = owner.post(url, sent | {f"q_{bead.pk}": "8", f"s_{first.pk}": "70"})
    assert list(page.context["form"].errors) == [f"s_{last.pk}"]
    assert "add up to 110 %" in page.content.decode()


def test_the_margin_of_a_what_if_is_the_one_asked_about_whoever_buys(owner, workshop):
    workshop["business"].margin_trader = D("0.10")
    workshop["business"].save()
    order = make_draft(3, design=workshop["design"])
    sent = {"n_0": "3", f"q_{workshop['bead'].pk}": "8", "margin": "50"}
    page = owner.post(reverse("orders:order_what_if", args=[order.number]), sent)
    line = page.context["comparison"].after.costing.lines[0]
    assert line.suggested >= 2 * line.cost_each


def test_a_colour_nobody_has_is_refused_at_its_row(owner):
    from stock.forms import ColourShares

    rows = ColourShares(
        {
            "colours-TOTAL_FORMS": "1", "colours-INITIAL_FORMS": "0",
            "colours-0-colour": "999999", "colours-0-share": "100",
        },
        prefix="colours",
    )  # fmt: skip
    assert not rows.is_valid()
    assert "no colour the workshop keeps" in rows.forms[0].errors["colour"][0]


def test_a_what_if_with_a_kiln_that_does_not_reach_is_refused_at_the_kiln(owner, workshop):
    low = make_kiln("Low kiln", lowest_c=400, highest_c=650)
    order = make_draft(3, design=workshop["design"])
    address = reverse("orders:order_what_if", args=[order.number])
    page = owner.post(address, {"n_0": "3", "kiln": low.pk})
    assert page.status_code == 422
    (sentence,) = page.context["form"].errors["kiln"]
    assert "cannot be fired in Low kiln, which holds 12 places from 400 to 650 °C" in sentence
    assert str(page.context["form"]["kiln"].value()) == str(low.pk)
    part = owner.post(address, {"n_0": "3", "kiln": low.pk}, headers={"hx-request": "true"})
    assert (
        '<div id="wrong-kiln" class="error said-later" hx-swap-oob="true">' in part.content.decode()
    )


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"assurance": "0"}, "too little; write 0.01 or more"),
        ({"assurance": "100"}, "too much; write 99.99 or less"),
        ({"margin": "100"}, "too much; write 99.9 or less"),
        ({"fuel_price": "-1"}, "too little; write 0 or more"),
        ({"fuel_price": "dear"}, "Write an amount of money in figures"),
        ({"n_0": "1.5"}, "pieces are counted whole"),
        ({"kiln": "4711"}, "That kiln is not in use"),
    ],
)
def test_what_if_says_at_each_box_what_cannot_be(owner, workshop, typed, sentence):
    order = make_draft(3, design=workshop["design"])
    page = owner.post(reverse("orders:order_what_if", args=[order.number]), {"n_0": "3"} | typed)
    ((box, value),) = typed.items()
    assert page.status_code == 422
    assert sentence in " ".join(page.context["form"].errors[box])
    assert page.context["form"][box].value() == value


def test_a_programme_that_no_kiln_reaches_is_refused_at_its_temperature(owner, workshop):
    typed = {
        "name": "Glaze", "kind": "powder", "hold_c": "1200", "hold_min": "30", "from_c": "1150",
        "to_c": "1250", "from_min": "25", "to_min": "35", "in_use": "on",
        "unusual_on_purpose": "on",
    }  # fmt: skip
    page = owner.post(reverse("workshop:programme_add"), typed)
    assert page.status_code == 422
    (sentence,) = page.context["form"].errors["hold_c"]
    assert sentence == (
        "No kiln in use is fired at 1200 °C: Clay kiln 500–1000 °C. Write a temperature that one "
        "of them reaches, or correct the kiln first."
    )
    assert page.context["form"]["hold_c"].value() == "1200"
    reached = typed | {"hold_c": "990", "from_c": "980", "to_c": "1000"}
    assert owner.post(reverse("workshop:programme_add"), reached).status_code == 302
