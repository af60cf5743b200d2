"""A small workshop for the tests of orders."""

from datetime import datetime, time
from decimal import Decimal

import pytest
import time_machine
from django.utils import timezone

from stock.models import GlassForm
from tests.builders import (
    make_bead,
    make_business,
    make_colour,
    make_design,
    make_kiln,
    make_person,
    make_rate,
    put_glass,
)
from workshop.models import WorkingHours

MONDAY = datetime(2027, 3, 1, 8, 0, tzinfo=timezone.get_default_timezone())  # a Monday


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


@pytest.fixture
def monday(workshop):
    """Eight in the morning of a Monday; weekdays from 8 to 16, glass on the shelf, one hand.

    The kiln has 12 places, and six moulds of 12 cavities are owned.
    """
    for weekday in range(5):
        WorkingHours.objects.create(weekday=weekday, opens=time(8), closes=time(16))
    make_person("bench")
    put_glass(make_colour(), GlassForm.POWDER, 50)
    with time_machine.travel(MONDAY, tick=False):
        yield workshop
