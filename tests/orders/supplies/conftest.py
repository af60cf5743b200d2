"""A bracelet with a clasp and cord, in the small workshop."""

from decimal import Decimal

import pytest

from orders.drawn.strands import Draughtsman
from orders.models import Finding
from tests.builders import make_design, put_beads


@pytest.fixture
def clasp(monday):
    return Finding.objects.create(
        name="Hook clasp", kind="clasp", length_mm=Decimal(12), price=Decimal("0.28")
    )


@pytest.fixture
def cord(monday):
    return Finding.objects.create(name="Braided nylon", kind="cord", price=Decimal("0.06"))


@pytest.fixture
def bracelet(monday, clasp, cord):
    """18 cm of one bead with a clasp of 12 mm; 1.3 times as much cord as it is long."""
    return make_design("Clasped bracelet", beads=monday["bead"], clasp=clasp, cord=cord)


@pytest.fixture
def cord_each(bracelet):
    """Millimetres of cord on one, and beads."""
    return Draughtsman([bracelet]).findings(bracelet.pk)[bracelet.cord_id]


@pytest.fixture
def beads(monday):
    """Beads for a hundred bracelets lie on the shelf."""
    put_beads(monday["bead"], 2000)
