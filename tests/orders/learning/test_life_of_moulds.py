"""Moulds that break or wear out: told with one tap, fewer are owned, and their life is learned."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone

from orders.floor.read_floor import read_floor
from orders.learning.queries.lessons import lessons
from orders.learning.services import accept_standard, undo_standard
from orders.learning.sums import lasting
from orders.models import AcceptedStandard
from stock.models import KilnLoad, LoadTray, MouldGone
from stock.services.moulds import mould_gone
from stock.services.standards import Standards
from tests.builders import make_person
from tests.orders.firing.conftest import burning_load, make_workshop, moulded_job, waiting_job
from workshop.models import AuditEntry, Mould

pytestmark = pytest.mark.django_db
Kind = AcceptedStandard.Kind


@pytest.fixture
def shop(db):
    return make_workshop()


@pytest.fixture
def mould(shop):
    """Twenty owned, 6.00 each; no word of the owner's how long one lasts."""
    mould = shop["bead"].mould
    Mould.objects.filter(pk=mould.pk).update(owned=20, price=Decimal(6), usual_life=None)
    mould.refresh_from_db()
    return mould


def fill(shop, fillings: int) -> None:
    """So many fillings in a load that was opened cold today."""
    load = KilnLoad.objects.create(
        number=KilnLoad.objects.count() + 901, kiln=shop["kiln"],
        hold_c=750, hold_min=20, starts_at=timezone.now(), started_at=timezone.now(),
        ended_at=timezone.now(), state=KilnLoad.State.COOLED,
    )  # fmt: skip
    LoadTray.objects.create(load=load, bead=shop["bead"], moulds=fillings, beads=fillings * 12)


def life():
    return next((row for row in lessons().rows if row.kind == Kind.MOULD_LIFE), None)


def test_life_is_fillings_over_moulds_gone():
    """430 fillings, 11 gone: 39.09 (the worked figure of the workshop's costing page).

    Interval: the chance 11/430 that a filling is the last, by Wilson 1927 with z 1.6449:
    centre (11/430 + z²/860)/(1 + z²/430) = 0.028550, half width 0.012701; inverses 24.24, 63.09.
    """
    found = lasting(430, 11)
    assert round(found.value, 6) == Decimal("39.090909")
    z2 = 1.6448536**2
    p, n = 11 / 430, 430
    centre = (p + z2 / (2 * n)) / (1 + z2 / n)
    half = (z2 * (p * (1 - p) / n + z2 / (4 * n * n))) ** 0.5 / (1 + z2 / n)
    assert float(found.low) == pytest.approx(1 / (centre + half), rel=1e-6)
    assert float(found.high) == pytest.approx(1 / (centre - half), rel=1e-6)


def test_one_tap_of_the_hand_says_that_a_mould_broke_and_plans_see_one_fewer(client, shop, mould):
    waiting_job(shop)
    client.force_login(shop["hand"])
    url = reverse("stock:mould", args=[mould.pk])
    assert "Worn out" in client.get(url).content.decode()
    said = client.post(url, {"count": "1", "why": "broken"}, follow=True).content.decode()
    assert "19 are left" in said
    mould.refresh_from_db()
    (planned,) = read_floor().instance.moulds
    assert planned.count == 19
    row = MouldGone.objects.get()
    assert (row.count, row.why, row.told_by) == (1, "broken", shop["hand"])
    assert AuditEntry.objects.get(act="moulds gone").after["owned"] == 19


def test_told_by_mistake_it_is_owned_again(client, shop, mould):
    row = mould_gone(mould, 3, person=shop["hand"])
    client.force_login(shop["keeper"])
    client.post(reverse("stock:mould_back", args=[row.pk]))
    mould.refresh_from_db()
    assert mould.owned == 20 and not MouldGone.objects.exists()


def test_more_than_are_owned_cannot_go(client, shop, mould):
    client.force_login(shop["hand"])
    answer = client.post(reverse("stock:mould", args=[mould.pk]), {"count": "21", "why": "worn"})
    assert answer.status_code == 422
    assert "20 moulds" in answer.content.decode() and 'value="21"' in answer.content.decode()
    mould.refresh_from_db()
    assert mould.owned == 20
    with pytest.raises(ValidationError):
        mould_gone(mould, 0, person=shop["hand"])


def test_the_log_of_a_load_takes_the_moulds_that_broke(client, shop):
    load = burning_load(shop, moulded_job(shop))
    KilnLoad.objects.update(started_at=timezone.now() - timedelta(hours=6))
    tray = load.trays.get()
    mould = tray.bead.mould
    before = mould.owned
    client.force_login(shop["keeper"])
    url = reverse("orders:load_end", args=[load.number])
    given = {
        "version": load.version, "ended_at": timezone.localtime().strftime("%Y-%m-%dT%H:%M"),
        f"all_{tray.pk}": "on", "beads_go": "bench", "rejects_to": "remade",
        f"rejected_{tray.pk}": "0", f"gone_{tray.pk}": "0",
    }  # fmt: skip
    refused = client.post(url, given | {f"mould_{mould.pk}": str(before + 1)})
    assert refused.status_code == 422 and "cannot have gone" in refused.content.decode()
    client.post(url, given | {f"mould_{mould.pk}": "2"})
    mould.refresh_from_db()
    load.refresh_from_db()
    assert load.state == KilnLoad.State.COOLED and mould.owned == before - 2
    assert MouldGone.objects.get().load == load


def test_nothing_is_learned_before_five_have_gone(shop, mould):
    fill(shop, 100)
    assert life() is None
    mould_gone(mould, 4, person=shop["hand"])
    row = life()
    assert row.standard == 40 and row.learned.value == 25 and not row.can_accept


def test_accepted_it_is_what_a_filling_wears_off_and_taken_back_the_forty_again(shop, mould):
    """130 fillings, 5 gone: 26 fillings each; 6.00 ÷ 26 a filling, and 6.00 ÷ 40 before."""
    fill(shop, 130)
    mould_gone(mould, 5, person=shop["hand"])
    row = life()
    assert (row.learned.value, row.learned.count, row.can_accept) == (26, 5, True)
    assert row.learned.low < 26 < row.learned.high

    def wear():
        now = Mould.objects.get(pk=mould.pk)
        (cost,) = Standards(timezone.localdate()).fills(now, 1)
        return cost.amount

    assert wear() == Decimal("0.15")
    owner = make_person("owner")
    done = accept_standard(Kind.MOULD_LIFE, mould.pk, person=owner, shown="26")
    assert wear() == Decimal("0.230769")
    assert done.said_after == "26 fillings"
    undo_standard(done, person=owner)
    assert wear() == Decimal("0.15") and Mould.objects.get(pk=mould.pk).usual_life is None


def test_the_owner_accepts_it_on_the_page_of_records(client, shop, mould):
    fill(shop, 130)
    mould_gone(mould, 5, person=shop["hand"])
    client.force_login(make_person("owner"))
    page = client.get(reverse("orders:firing_learned")).content.decode()
    assert "Fillings that moulds last" in page and "26 fillings" in page
    given = {"kind": "mould-life", "subject": mould.pk, "shown": "26", "days": "182"}
    client.post(reverse("orders:firing_learned_accept"), given)
    assert Mould.objects.get(pk=mould.pk).usual_life == 26


def test_who_sees_no_moulds_has_no_page_of_one(client, shop, mould):
    client.force_login(make_person("counter"))
    assert client.get(reverse("stock:mould", args=[mould.pk])).status_code == 404
