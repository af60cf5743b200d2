"""Money in the database: exact, and still money after the database has added it up."""

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db.models import F, Sum
from django.db.models.functions import Coalesce

from tests.builders import make_kiln
from workshop.models import Kiln, LabourRate
from workshop.models.fields import MoneyField

pytestmark = pytest.mark.django_db


def make_rate(hourly: str, piece: str | None = None) -> LabourRate:
    return LabourRate.objects.create(
        step_id=f"step {LabourRate.objects.count()}",
        skill="moulding",
        basis="bead",
        minutes_each=1,
        hourly=Decimal(hourly),
        piece=None if piece is None else Decimal(piece),
        valid_from="2026-01-01",
    )


def test_a_tenth_added_ten_times_is_one_exactly():
    for _ in range(10):
        make_rate("0.1")
    # Ten times 0.1 as floating point is 0.9999999999999999.
    assert LabourRate.objects.aggregate(sum=Sum("hourly"))["sum"] == Decimal("1")


def test_money_less_money_is_money_wherever_the_database_works_it_out():
    make_rate("12.50", "0.25")
    row = LabourRate.objects.annotate(left=F("hourly") - F("piece")).get()
    assert row.left == Decimal("12.25")
    assert LabourRate.objects.aggregate(s=Sum(F("hourly") - F("piece")))["s"] == Decimal("12.25")
    assert LabourRate.objects.annotate(x=F("hourly") * 3).get().x == Decimal("37.50")
    assert LabourRate.objects.annotate(x=F("hourly") * F("pk")).get().x == 12.5 * row.pk


def test_nothing_added_up_may_be_given_as_nought():
    empty = LabourRate.objects.aggregate(
        s=Coalesce(Sum("hourly"), Decimal(0), output_field=MoneyField())
    )
    assert empty["s"] == 0


def test_money_is_found_by_its_amount():
    make_rate("6.20")
    assert LabourRate.objects.filter(hourly=Decimal("6.20"), hourly__gt=6).exists()
    assert not LabourRate.objects.filter(hourly__lt=Decimal("6.20")).exists()


def test_a_ten_thousandth_of_a_cent_is_kept_and_no_more():
    rate = make_rate("0.1234567")
    rate.refresh_from_db()
    assert rate.hourly == Decimal("0.123457")


@pytest.mark.parametrize("odd", ["NaN", "Infinity", "1e15"])
def test_an_amount_that_is_none_is_refused(odd):
    with pytest.raises(ValidationError):
        make_kiln(name="x", fuel_price=Decimal(odd))
    assert not Kiln.objects.exists()
