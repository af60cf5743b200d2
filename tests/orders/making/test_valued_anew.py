"""Goods made before their making was counted are brought to their standard cost, once."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal as D

import pytest
import time_machine
from django.db.migrations.recorder import MigrationRecorder
from django.utils import timezone

from orders.making.services.to_stock import string_to_stock
from orders.making.services.valuing import value_old_goods
from stock.models import Balance, GlassForm, Posting
from stock.services.beads import mould_beads
from stock.services.check import first_difference
from stock.services.valuing import COUNTED_FROM, is_to_be_valued
from tests.builders import make_design, put_beads, put_glass
from tests.costing.checks import agrees
from tests.stock.sandbar import sandbar, worth

pytestmark = pytest.mark.django_db


@pytest.fixture
def april_the_20th():
    with time_machine.travel(datetime(2026, 4, 20, 12, tzinfo=UTC), tick=False):
        yield


@pytest.fixture
def old_book(april_the_20th):
    """Sandbar's shelves as they were when only glass was counted: 40 beads, and a strand of 18."""
    place = sandbar()
    place.tide.weighed_mg, place.tide.weighed_count = 2090, 50
    place.tide.spill_share = D("0.0206186")  # so that a bead is filled with 2.2 g
    place.tide.save()
    put_beads(place.tide, 40)
    design = make_design(beads=place.tide)
    design.refresh_from_db()
    string_to_stock(design, 1, person=place.person)
    done = MigrationRecorder.Migration.objects.filter(app=COUNTED_FROM[0], name=COUNTED_FROM[1])
    done.update(applied=timezone.now() + timedelta(days=1))
    return place


def test_beads_and_strands_are_lifted_to_their_standard_cost_once(old_book):
    value_old_goods()
    posting = Posting.objects.get(kind="anew")
    assert first_difference() is None
    left = Balance.objects.inside().get(item__kind="beads", quantity__gt=0)
    agrees("STD-TIDE", round(left.value / left.quantity, 6))
    strand = Balance.objects.inside().get(item__kind="strands")
    # its beads, and 5.5 min of stringing at (pay + workshop costs of that day); no findings
    assert strand.value > (40 - left.quantity) * D("0.336442")
    before = worth()
    value_old_goods()
    assert Posting.objects.filter(kind="anew").count() == 1
    assert worth() == before
    assert posting.charges.filter(name="anew").count() == 2


def test_a_book_begun_since_is_left_alone(old_book):
    done = MigrationRecorder.Migration.objects.filter(app=COUNTED_FROM[0], name=COUNTED_FROM[1])
    done.update(applied=timezone.now() - timedelta(days=1))
    value_old_goods()
    assert not Posting.objects.filter(kind="anew").exists()


def test_a_book_that_bears_its_making_on_days_gone_by_is_left_alone(old_book):
    """As the demo's, whose days lie before the book was brought up to date."""
    assert is_to_be_valued()
    put_glass(old_book.green, GlassForm.POWDER, 1)
    mould_beads(old_book.tide, 16, person=old_book.person)
    assert not is_to_be_valued()
