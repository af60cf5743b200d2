"""Stock value by weighted average (IAS 2), against a published exercise.

Source: intermediate-accounting exercise “Waterway Industries, January”, moving average:
9,200 units at 89,332; +6,300 at 64,449 (average 9.92135); −7,400; +8,200 at 87,658; −11,100;
closing 5,200 units. Published closing inventory 53,602; 53,601.78 without rounding in between.
"""

from decimal import Decimal

import pytest

from stock.models import Balance, GlassForm, LocationKind, PostingKind
from stock.services.book import Move, post
from stock.services.places import glass_item, usual_place
from tests.builders import make_colour, make_person

pytestmark = pytest.mark.django_db


@pytest.fixture
def shelf():
    """A heap of one item, a unit being a kilogram of glass; gives buy, take and its balance."""
    from django.utils import timezone

    item = glass_item(make_colour(), GlassForm.RAW)
    yard, collectors = usual_place(LocationKind.YARD), usual_place(LocationKind.COLLECTORS)
    sold = usual_place(LocationKind.SOLD)
    today, person = timezone.localdate(), make_person()

    def write(kind, source, target, units, value=None):
        move = Move(item, source, target, units * 1_000_000, value=value)
        post(kind, [move], on=today, person=person, why="the exercise")

    class Shelf:
        def buy(self, units, cost):
            write(PostingKind.SACK, collectors, yard, units, Decimal(cost))

        def take(self, units):
            write(PostingKind.COLLECTION, yard, sold, units)

        @property
        def balance(self):
            return Balance.objects.get(item=item, place=yard)

        @property
        def written_off(self):
            return Balance.objects.get(item=item, place=sold).value

    return Shelf()


def test_the_moving_average_after_the_first_purchase(shelf):
    # COST-AVG-U1: (89,332 + 64,449) / 15,500 = 9.92135
    shelf.buy(9200, 89_332)
    shelf.buy(6300, 64_449)
    unit = shelf.balance.value / (shelf.balance.quantity // 1_000_000)
    assert unit == pytest.approx(Decimal("9.92135"), abs=Decimal("0.00001"))


def test_closing_stock_by_moving_average(shelf):
    # COST-AVG-END: 53,601.78; the exercise prints 53,602
    shelf.buy(9200, 89_332)
    shelf.buy(6300, 64_449)
    shelf.take(7400)
    shelf.buy(8200, 87_658)
    shelf.take(11_100)
    assert shelf.balance.quantity == 5200 * 1_000_000
    assert shelf.balance.value == pytest.approx(Decimal("53601.78"), abs=Decimal("0.01"))
    # What came in is on the shelf or was written off, to the last millionth.
    assert shelf.balance.value + shelf.written_off == 89_332 + 64_449 + 87_658


def test_a_first_in_first_out_shelf_would_have_said_otherwise(shelf):
    # COST-FIFO-END: 5,200 × 10.69 = 55,588.00; so the two rules can be told apart here
    test_closing_stock_by_moving_average(shelf)
    assert shelf.balance.value != Decimal("55588.00")


def test_an_emptied_shelf_keeps_no_value(shelf):
    shelf.buy(3, 10)
    for _ in range(3):
        shelf.take(1)
    assert (shelf.balance.quantity, shelf.balance.value) == (0, 0)


def test_total_value_is_kept_and_the_unit_cost_derived(shelf):
    # COST-DRIFT: a unit cost rounded to cents at each step drifted by 0.17 (1338.50 for 1338.33).
    # Here 100 at 10.00, then 1/3 taken many times: the sum never drifts.
    shelf.buy(3000, 10_000)
    for _ in range(10):
        shelf.take(7)
    assert shelf.balance.value + shelf.written_off == 10_000


def test_an_accident_is_written_off_and_normal_loss_is_not():
    """IAS 2, 16(a): abnormal waste is no cost of inventory; normal loss stays in what is good."""
    from stock.models import Movement
    from stock.services.beads import log_good_beads, mould_beads
    from tests.builders import make_bead, put_glass

    bead = make_bead(polishing_loss=Decimal("0.10"), spill_share=Decimal(0))
    put_glass(make_colour(), GlassForm.POWDER, 1, value=100)
    batch = mould_beads(bead, 100, person=make_person())
    whole = Balance.objects.get(item__batch=batch, place__kind=LocationKind.BENCH).value
    log_good_beads(batch, good=80, rejected=0, broken=20, person=make_person())
    accident = Movement.objects.get(loss="accident")
    polished = Movement.objects.get(loss="polishing")
    good = Balance.objects.get(item__batch=batch, place__kind=LocationKind.BEAD_SHELF)
    assert polished.value == 0
    assert good.value + accident.value == whole
    # 20 of the 100 beads that went in are written off, whatever polishing took from the others.
    assert accident.value / whole == pytest.approx(Decimal("0.20"), rel=Decimal("0.001"))


def test_the_page_adds_up_to_what_was_paid(client, shelf):
    from django.urls import reverse

    from stock.reports import stock_value

    shelf.buy(10, 3)
    shelf.buy(10, 5)
    [row] = stock_value()
    assert (row.value, row.each) == (8, Decimal("0.4"))  # 8.00 for 20 kg
    client.force_login(make_person("yard"))
    page = client.get(reverse("stock:value")).content.decode()
    assert "€8.00" in page and "€0.40" in page
