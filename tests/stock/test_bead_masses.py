"""What a bead weighs: by the scale once enough were weighed, else by its size; one rule for all."""

from decimal import Decimal

import pytest

from orders.costing.cost_order import cost_order
from orders.drawn.masses import bead_masses_g
from orders.facts.order import facts_for
from orders.models import WantedLine
from stock.masses import fill_mg, finished_mg, goes_by_scale
from tests.builders import make_bead, make_business, make_design, make_kiln

pytestmark = pytest.mark.django_db


def weighed(count: int, mg: int = 1500):
    bead = make_bead()
    bead.weighed_mg, bead.weighed_count = mg, count
    bead.save()
    return bead


def test_nineteen_beads_on_the_scale_are_too_few_and_twenty_are_enough():
    make_business(min_weighed=20)
    # π/6 · (d² − h²)^(3/2) is the glass of a bored sphere (solid geometry): 96^1.5 · π/6 = 492.5.
    by_size = Decimal("492.49") * Decimal("2.5")
    bead = weighed(19)
    assert not goes_by_scale(bead)
    assert float(finished_mg(bead)) == pytest.approx(float(by_size), rel=1e-3)
    bead.weighed_count = 20
    assert goes_by_scale(bead) and finished_mg(bead) == 1500


@pytest.mark.parametrize("count", [19, 20])
def test_stock_costing_and_packing_weigh_a_bead_alike(count):
    make_business(min_weighed=20)
    make_kiln()
    bead = weighed(count)
    costing = cost_order(facts_for([WantedLine(make_design(beads=bead).pk, 1, None)]))
    unit = costing.beads[0]
    assert float(unit.finished_g) == pytest.approx(float(finished_mg(bead)) / 1000, rel=1e-9)
    assert float(unit.fill_g) == pytest.approx(float(fill_mg(bead)) / 1000, rel=1e-9)
    packed, _recycled = bead_masses_g({bead.pk})[bead.pk]
    assert float(packed) == pytest.approx(float(unit.finished_g), rel=1e-9)
