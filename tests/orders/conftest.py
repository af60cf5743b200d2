"""A small workshop for the tests of orders."""

from decimal import Decimal

import pytest

from tests.builders import make_bead, make_business, make_design, make_kiln, make_person, make_rate


@pytest.fixture
def workshop(db):
    """One kiln, one bead (round 10 mm, bore 2 mm, green), one design of 18 of them, one rate."""
    business = make_business(margin=Decimal("0.25"), overhead=Decimal("0.10"))
    make_kiln()
    bead = make_bead()
    make_rate()
    design = make_design(beads=bead)
    make_person("owner")
    make_person("counter")
    return {"business": business, "bead": bead, "design": design}
