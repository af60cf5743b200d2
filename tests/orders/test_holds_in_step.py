"""`check_book` looks at the orders' holds as well."""

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from orders.models import Order
from orders.services.holds import hold_for
from stock.models import Balance, PlaceKind
from stock.services.book import hold
from tests.builders import make_bead, make_customer, put_beads

pytestmark = pytest.mark.django_db


@pytest.fixture
def tray():
    item = put_beads(make_bead(), 120)
    return Balance.objects.get(item=item, place__kind=PlaceKind.BEAD_SHELF)


def test_beads_promised_to_an_order_are_held_for_it(tray, capsys):
    order = Order.objects.create(
        number=1, customer=make_customer(), state="confirmed", taken_on=timezone.localdate()
    )
    hold_for(order, tray, 30)
    call_command("check_book")
    assert "what is held is what orders were promised" in capsys.readouterr().out


def test_beads_held_for_nobody_are_named(tray):
    hold(tray, 30)
    with pytest.raises(CommandError) as found:
        call_command("check_book")
    assert "holds 30, and the orders were promised 0" in str(found.value)
