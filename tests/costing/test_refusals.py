"""Facts with which nothing can be costed: each a whole sentence at its field."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from orders.costing.cost_order import cost_order
from orders.costing.errors import CostingError
from orders.costing.facts import (
    BeadFiringFacts,
    ChoiceFacts,
    ColourShare,
    FormFacts,
    LineFacts,
    MouldFacts,
    OrderFacts,
    ProgrammeFacts,
)
from tests.costing.builders import (
    D,
    make_bead,
    make_colour,
    make_kiln,
    make_order,
    make_workshop,
)
from tests.costing.strategies import orders


def refused(order: OrderFacts) -> CostingError:
    with pytest.raises(CostingError) as raised:
        cost_order(order)
    assert str(raised.value) == raised.value.sentence
    assert raised.value.sentence.endswith(".")
    assert raised.value.template % raised.value.params == raised.value.sentence
    return raised.value


def with_bead(**changes) -> OrderFacts:
    return make_order(5, make_workshop(beads={"pea": make_bead(**changes)}))


def test_an_order_with_no_lines():
    error = refused(make_order(lines=()))
    assert error.field == "lines"
    assert error.sentence == (
        "The order has no lines, so there is nothing to cost. Add a strand design and how many."
    )


@pytest.mark.parametrize(
    ("line", "field", "sentence"),
    [
        (LineFacts(5), "design", "Line 1 names neither a strand design nor a bead."),
        (LineFacts(5, design="bracelet", bead="pea"), "design", "Line 1 names both"),
        (LineFacts(5, design="crown"), "design", "line 1 names a design that the workshop does"),
        (LineFacts(5, bead="pearl"), "bead", "line 1 names a bead that the workshop does not"),
        (LineFacts(0, design="bracelet"), "quantity", "quantity of line 1 is 0 and must be at l"),
        (LineFacts(-3, design="bracelet"), "quantity", "is -3 and must be at least 1"),
        (LineFacts(D("2.5"), design="bracelet"), "quantity", "is 2.5; write a whole number"),
        (LineFacts(D("NaN"), design="bracelet"), "quantity", "is not a number"),
        (LineFacts(10**15, design="bracelet"), "quantity", "can be no more than 1000000"),
        (LineFacts(5, design="bracelet", price=D("-1")), "price", "must be at least 0"),
        (LineFacts(5, design="bracelet", price=D("Infinity")), "price", "is not a number"),
    ],
)
def test_a_line_that_orders_nothing_there_is(line, field, sentence):
    error = refused(make_order(lines=(line,)))
    assert (error.field, error.line) == (field, 0)
    assert sentence in error.sentence


def test_the_line_at_fault_is_named():
    error = refused(make_order(lines=(LineFacts(5, design="bracelet"), LineFacts(0, bead="pea"))))
    assert error.line == 1


@pytest.mark.parametrize(
    ("changes", "field", "sentence"),
    [
        (
            {"colours": (ColourShare("green", D("0.6")), ColourShare("amber", D("0.3")))},
            "colours",
            "The colour shares of Pea add up to 90 %, and they must add up to 100 %. "
            "Change them by 10 %.",
        ),
        ({"colours": ()}, "colours", "The bead Pea has no glass colours"),
        (
            {"colours": (ColourShare("ruby", D(1)),)},
            "colours",
            "Pea names a colour that the workshop does not have.",
        ),
        (
            {"colours": (ColourShare("green", D(-1)), ColourShare("amber", D(2)))},
            "share",
            "The colour share of Pea is -1 and must be at least 0.",
        ),
        (
            {"form": "dust"},
            "colours",
            "Pea is made from Green dust, and that colour is not prepared as dust.",
        ),
        ({"firings": ()}, "programme", "The bead Pea has no firing programme."),
        (
            {"firings": (BeadFiringFacts("low fire", "dimpled tray", D(1)),)},
            "reject_rate",
            "A reject rate of 100 % leaves no good bead.",
        ),
        (
            {"firings": (BeadFiringFacts("low fire", "dimpled tray", D("1.2")),)},
            "reject_rate",
            "can be no more than 1",
        ),
        (
            {"firings": (BeadFiringFacts("low fire", "dimpled tray", D("NaN")),)},
            "reject_rate",
            "The reject rate of Pea is not a number.",
        ),
        (
            {"firings": (BeadFiringFacts("no fire", "dimpled tray"),)},
            "programme",
            "Pea names a programme that the workshop does not have.",
        ),
        (
            {"firings": (BeadFiringFacts("low fire", "egg cup"),)},
            "mould",
            "No mould for Pea is owned, so it cannot be moulded.",
        ),
        ({"polishing_loss": D(1)}, "polishing_loss", "is 100 % and must stay below 100 %"),
        ({"spill": D("1.5")}, "spill", "must stay below 100 %"),
        ({"porosity": D("-0.1")}, "porosity", "must be at least 0"),
        ({"volume_mm3": D(0)}, "volume_mm3", "must be more than 0"),
        ({"volume_mm3": None}, "volume_mm3", "The volume of Pea is not a number."),
        ({"length_mm": D("1e9")}, "length_mm", "can be no more than 1000"),
        ({"pigment_g_per_kg": D(2000)}, "pigment_g_per_kg", "can be no more than 1000"),
    ],
)
def test_a_bead_that_cannot_be_made(changes, field, sentence):
    error = refused(with_bead(**changes))
    assert error.field == field
    assert error.subject == "Pea" or error.line == 0
    assert sentence in error.sentence


def test_a_bore_as_wide_as_the_bead_leaves_no_glass():
    bead = {
        "volume_mm3": None,
        "length_mm": None,
        "shape": "round",
        "dimensions": (("diameter_mm", D(6)), ("bore_mm", D(6))),
    }
    error = refused(with_bead(**bead))
    assert error.field == "bore_mm"
    assert error.subject == "Pea"


def test_a_mould_that_is_not_owned():
    none = {"dimpled tray": MouldFacts("dimpled tray", "Dimpled tray", 12, 0)}
    assert refused(make_order(5, make_workshop(moulds=none))).field == "mould"


def test_a_mould_too_big_for_every_kiln():
    big = {"dimpled tray": MouldFacts("dimpled tray", "Dimpled tray", 12, 5, places=25)}
    error = refused(make_order(5, make_workshop(moulds=big)))
    assert error.field == "mould"
    assert error.sentence == (
        "The mould Dimpled tray of Pea takes 25 places and the largest kiln has 20. "
        "Choose a smaller mould, or correct its places."
    )


def test_a_programme_outside_every_kiln_s_range():
    hot = {"low fire": ProgrammeFacts("low fire", "Low fire", D(1200), D(30))}
    error = refused(make_order(5, make_workshop(programmes=hot)))
    assert error.field == "programme"
    assert error.sentence == (
        "Pea is fired at 1200 °C and no kiln reaches that: Drum 500–1000 °C. "
        "Choose another programme, or correct the kiln's range."
    )


def test_a_chosen_kiln_that_is_not_hot_enough():
    kilns = (make_kiln(), make_kiln("pit", highest_c=D(700)))
    workshop = make_workshop(kilns=kilns, choices=ChoiceFacts(kiln="pit"))
    error = refused(make_order(5, workshop))
    assert error.field == "kiln"
    assert "Pea cannot be fired in Pit" in error.sentence


def test_no_kiln_at_all():
    assert refused(make_order(5, make_workshop(kilns=()))).field == "kiln"


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"places": 0}, "places"),
        ({"preheat_min": D(-1)}, "preheat_min"),
        ({"fuel_price": D("NaN")}, "fuel_price"),
        ({"fuel_per_load": D(-1)}, "fuel_per_load"),
        ({"efficiency": D(0)}, "efficiency"),
        ({"moisture": D(1)}, "moisture"),
        ({"moisture": D("0.95"), "fuel_per_load": None}, "moisture"),
    ],
)
def test_a_kiln_that_cannot_be(change, field):
    assert refused(make_order(5, make_workshop(kilns=(make_kiln(**change),)))).field == field


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"price_per_kg": D(-1)}, "price_per_kg"),
        ({"density_g_cm3": D(0)}, "density_g_cm3"),
        ({"density_g_cm3": D(2500)}, "density_g_cm3"),
        ({"bottle_g": D(0)}, "bottle_g"),
        ({"raw_free_g": D(-5)}, "raw_free_g"),
        ({"forms": (FormFacts("powder", grinding_yield=D(0)),)}, "grinding_yield"),
        ({"forms": (FormFacts("powder", washing_yield=D("1.1")),)}, "washing_yield"),
        ({"forms": (FormFacts("powder", free_g=D(-1)),)}, "free_g"),
    ],
)
def test_a_glass_that_cannot_be(change, field):
    workshop = make_workshop(colours={"green": make_colour(**change)})
    assert refused(make_order(5, workshop)).field == field


def test_a_currency_that_is_none():
    assert refused(make_order(5, make_workshop(currency="EURO"))).field == "currency"


@settings(max_examples=30)
@given(orders(), st.sampled_from(["NaN", "-1", "Infinity", "1e40"]), st.data())
def test_nonsense_anywhere_is_refused_or_changes_nothing_but_never_breaks(order, nonsense, data):
    """Any one number of any order replaced by nonsense: a CostingError or a whole costing."""
    workshop = order.workshop
    table = data.draw(st.sampled_from(("colours", "beads", "moulds", "designs")))
    rows = dict(getattr(workshop, table))
    key = data.draw(st.sampled_from(sorted(rows)))
    names = [
        name
        for name in rows[key].__dataclass_fields__
        if isinstance(getattr(rows[key], name), type(D(1)))
    ]
    if not names:
        return
    field = data.draw(st.sampled_from(names))
    rows[key] = replace(rows[key], **{field: D(nonsense)})
    broken = replace(order, workshop=replace(workshop, **{table: rows}))
    try:
        costing = cost_order(broken)
    except CostingError as error:
        assert error.sentence.endswith(".")
    else:
        assert costing.cost.is_finite() and costing.cost >= 0
