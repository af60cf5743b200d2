"""What one bead takes, learned from its own tickets, accepted by one tap and taken back.

Worked by hand; a mean of ratios with its interval is checked in test_learned.py against scipy.
"""

from decimal import Decimal as D

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone

from orders.learning.queries.minutes import minutes_measured
from orders.learning.services import accept_standard, undo_standard
from orders.models import AcceptedStandard
from stock.models import BeadMinutes, GlassForm, WorkTicket
from stock.services.preparation import prepare_glass, raw_of, ready
from stock.services.standards import Standards
from tests.builders import make_bead, make_colour, make_person, make_rate, put_glass
from tests.orders.learning.conftest import make_ticket
from workshop.models import LabourRate

SPENT = (("1", 4, 40), ("2", 3, 32), ("3", 5, 50), ("4", 4, 41), ("5", 4, 42))


@pytest.fixture
def striped(workshop):
    """6 minutes a mould and a tenth for rest, stripes twice that; 5 minutes to set up an order."""
    make_rate(
        "Moulding", skill="moulding", basis="mould", minutes_each=D(6), allowance=D("0.10"),
        setup_min=5,
    )  # fmt: skip
    bead = make_bead("Striped", pattern="stripes")
    for order, moulds, minutes in SPENT:
        make_ticket("Moulding", moulds, minutes, ref=order, bead=bead)
    return bead


def taken(bead) -> D:
    """Standard minutes of a mould of the bead, as costing and book reckon."""
    rate = LabourRate.objects.get(step="Moulding")
    return Standards(timezone.localdate()).minutes_each(rate, bead)


def test_five_tickets_of_a_bead_say_what_it_takes(striped):
    """40 + 32 + 50 + 41 + 42 less 5 set-ups of 5 is 180 minutes, for 20 moulds: 9 each."""
    (row,) = minutes_measured().of_beads
    assert (row.learned.value, row.learned.count) == (9, 5)
    assert row.standard == D("13.2") == taken(striped)  # 6 × 2 × 1.10
    assert row.learned.low < 9 < row.learned.high and row.can_accept


def test_four_tickets_are_too_few_and_several_steps_of_a_skill_cannot_be_told_apart(striped):
    WorkTicket.objects.filter(belongs_ref="5").delete()
    assert minutes_measured().of_beads == []
    make_ticket("Moulding", 4, 42, ref="5", bead=striped)
    assert len(minutes_measured().of_beads) == 1
    make_rate("Pressing", skill="moulding", basis="mould")
    assert minutes_measured().of_beads == []


def test_an_order_of_two_beads_shares_its_set_up_by_the_minutes(striped):
    """Order 1: 40 for the striped and 40 for a plain bead; each bears 2.5 of the set-up."""
    make_ticket("Moulding", 5, 40, ref="1", bead=make_bead("Plain"))
    (row,) = minutes_measured().of_beads
    assert row.learned.value == D("9.125")  # 205 − 4 × 5 − 2.5 = 182.5, for 20


def test_one_tap_makes_it_the_standard_and_another_takes_it_back(client, striped, workshop):
    client.force_login(workshop["owner"])
    page = client.get(reverse("orders:firing_learned")).content.decode()
    assert "Minutes of a bead" in page and "Striped: Moulding" in page
    (row,) = minutes_measured().of_beads
    accept = {"kind": row.kind, "subject": row.subject_id, "shown": str(row.learned.value)}
    assert client.post(reverse("orders:firing_learned_accept"), accept).status_code == 302
    own = BeadMinutes.objects.get()
    assert (own.bead, own.skill, own.minutes) == (striped, "moulding", D("8.1818"))  # 9 ÷ 1.10
    assert taken(striped) == pytest.approx(D(9), abs=D("0.0001"))
    accepted = AcceptedStandard.objects.get()
    undo_standard(accepted, person=workshop["owner"])
    assert taken(striped) == D("13.2") and not BeadMinutes.objects.exists()


def test_what_was_written_since_is_not_taken_back_unseen(striped, workshop):
    BeadMinutes.objects.create(bead=striped, skill="moulding", minutes=D(7), piece=D("0.09"))
    (row,) = minutes_measured().of_beads
    accepted = accept_standard(row.kind, row.subject_id, person=workshop["owner"])
    assert BeadMinutes.objects.get().piece == D("0.09")  # its pay stays
    BeadMinutes.objects.update(minutes=D(6))
    with pytest.raises(ValidationError, match="changed again"):
        undo_standard(accepted, person=workshop["owner"])


def test_the_last_ten_tickets_say_whether_the_standard_is_still_near(striped, client):
    """20 moulds of 13.2 min and five set-ups of 5 are 289 min; five more orders of 4 moulds and
    13.2 + 5 each add 5 × (52.8 + 5) = 289: 578 in all. Logged: 205 + 5 × 90 = 655, 13.3 % more.

    Source of the duty to look: IAS 2.21; 10 % over ten tickets is our own choice.
    """
    client.force_login(make_person("owner"))
    (row,) = [row for row in minutes_measured().rows if row.subject.startswith("Moulding")]
    assert row.lately is None and not row.is_far_off  # five tickets say nothing yet
    for order in range(6, 11):
        make_ticket("Moulding", 4, 90, ref=str(order), bead=striped)
    (row,) = [row for row in minutes_measured().rows if row.subject.startswith("Moulding")]
    assert row.lately == D(655) / 578 - 1 and row.is_far_off
    page = client.get(reverse("orders:firing_learned")).content.decode()
    assert "The last 10 took 13.3% longer than the standard that goods bear." in page
    WorkTicket.objects.filter(minutes=90).update(minutes=86)  # 205 + 430 = 635: 9.9 %
    (row,) = [row for row in minutes_measured().rows if row.subject.startswith("Moulding")]
    assert 0 < row.lately < D("0.1") and not row.is_far_off


def test_preparing_is_looked_at_over_its_last_ten_preparations(workshop):
    make_rate("Grinding", skill="preparing", basis="kg", minutes_each=D(30), allowance=D("0.10"))
    green = make_colour()
    put_glass(green, GlassForm.RAW, 40)
    for _day in range(10):
        prepare_glass(
            [raw_of(green, 2_000_000)], [ready(green, "powder", 1_000_000)], form="powder",
            minutes=25, person=make_person("yard"),
        )  # fmt: skip
    (row,) = [row for row in minutes_measured().rows if row.unit == "min"]
    assert row.lately == D(250) / 330 - 1 and row.is_far_off  # 10 × 1 kg × 33 min
