"""`check_book` looks at the orders' holds as well."""

import pytest
from django.core.management import CommandError, call_command

from orders.counter.services.ordering import confirm_order, draft_order
from orders.models import WantedLine
from stock.models import Balance, Bead, LocationKind
from stock.services.book import hold
from tests.builders import make_bead, make_customer, make_design, make_person, put_beads

pytestmark = pytest.mark.django_db


@pytest.fixture
def tray():
    item = put_beads(make_bead(), 120)
    return Balance.objects.get(item=item, place__kind=LocationKind.BEAD_SHELF)


def test_beads_promised_to_an_order_are_held_for_it(tray, capsys):
    design = make_design(beads=Bead.objects.get())
    owner = make_person("owner")
    order = draft_order(make_customer(), [WantedLine(design.pk, 2)], person=owner)
    confirm_order(order, person=owner, owner_word="agreed")
    assert order.allocations.exists()
    call_command("check_book")
    assert "what is held is what orders were promised" in capsys.readouterr().out


def test_beads_held_for_nobody_are_named(tray):
    hold(tray, 30)
    with pytest.raises(CommandError) as found:
        call_command("check_book")
    assert "holds 30, and the orders were promised 0" in str(found.value)
