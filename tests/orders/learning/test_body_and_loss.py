"""Body and loss of a kiln kept hot, learned from weighed runs that another process made."""

from datetime import datetime, timedelta
from decimal import Decimal
from random import Random
from zoneinfo import ZoneInfo

import pytest

from orders.learning.queries.bodies import bodies
from orders.learning.services import accept_standard
from stock.models import KilnLoad, LoadTray
from tests.builders import make_bead, make_kiln, make_mould, make_person
from workshop.services.numbers import take_number

pytestmark = pytest.mark.django_db

BODY_MJ, LOSS_KW, SHARE, WOOD_MJ = 62.0, 7.1, 0.36, 14.3114


@pytest.fixture
def kiln(db):
    return make_kiln(
        places=24, way="hot", warm_up_min=70, change_min=10, keep_hot_min=45, hotter_c_per_min=8,
        cooler_c_per_min=4, body_mj=Decimal(50), loss_kw=Decimal(5),
        fire_efficiency=Decimal("0.36"),
    )  # fmt: skip


def _runs(kiln, lengths, *, wander=0.03):
    """Runs of so many rounds of 40 min; contents 12 moulds of 1.1 kg clay at 800 °C each.

    The fuel is what body and walls of our own choosing take, with a day's moods: its sum is made
    without the program's own formulas.
    """
    dice, mould = Random(5), make_mould("Block", clay_g=1100, bead_across_mm=10)
    bead = make_bead("Grain", mould=mould)
    for number, rounds in enumerate(lengths):
        lit = datetime(2026, 3, 2, 8, tzinfo=ZoneInfo("UTC")) + timedelta(days=number)
        started, clay_mj, loads = lit, 0.0, []
        for one in range(rounds):
            free = 110 if one == 0 else 40
            load = KilnLoad.objects.create(
                number=take_number("load"), kiln=kiln, state=KilnLoad.State.COOLED,
                starts_at=started, started_at=started, hold_c=800, hold_min=30, lit=one == 0,
                free_after_min=free,
            )  # fmt: skip
            LoadTray.objects.create(load=load, bead=bead, moulds=12, beads=1, good=1, rejected=0)
            clay_mj += 12 * 1.1 * 1.0 * (800 - 25) / 1000
            started += timedelta(minutes=free)
            loads.append(load)
        hours = (started - lit).total_seconds() / 3600
        heat = BODY_MJ + 3.6 * LOSS_KW * hours + clay_mj
        loads[0].fuel_used = Decimal(str(round(heat / SHARE / WOOD_MJ * dice.gauss(1, wander), 2)))
        loads[0].save()


def _row(kind):
    return next(row for row in bodies() if row.kind == kind)


def test_body_and_loss_come_out_of_the_runs_within_their_intervals(kiln):
    _runs(kiln, [2, 3, 4, 6, 8, 9, 5, 7, 3, 8], wander=0.01)
    body, loss = _row("body"), _row("loss")
    assert float(body.learned.low) < BODY_MJ < float(body.learned.high)
    assert float(loss.learned.low) < LOSS_KW < float(loss.learned.high)
    assert body.learned.count == 10


def test_few_runs_or_runs_alike_give_no_interval_and_nothing_to_accept(kiln):
    _runs(kiln, [5, 6, 5])
    assert _row("body").learned.low is None
    assert not _row("loss").can_accept


def test_the_owner_takes_the_measured_loss_over_with_one_tap(kiln):
    _runs(kiln, [2, 3, 4, 6, 8, 9, 5, 7, 3, 8], wander=0.01)
    accept_standard("loss", kiln.pk, person=make_person("owner"))
    kiln.refresh_from_db()
    assert kiln.loss_from == "measured"
    assert float(kiln.loss_kw) == pytest.approx(LOSS_KW, rel=0.1)


def test_the_fuel_of_a_run_teaches_no_efficiency_of_a_load(kiln):
    from orders.learning.queries.fuel import efficiency, fuel

    _runs(kiln, [3, 4])
    assert efficiency() == [] and fuel() == []
