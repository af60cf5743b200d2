"""What collectors are paid stands on numbered slips that never change."""

import hashlib
import io
from datetime import timedelta
from decimal import Decimal
from unittest import mock

import pypdf
import pytest
from django.db import DatabaseError, transaction
from django.urls import reverse
from django.utils import timezone

from orders.models import DocumentFile
from orders.money.papers.files import payout_pdf
from orders.money.services.drawers import through_drawer
from stock.models import Payout, Sack
from stock.services.payouts import pay_collector
from stock.services.sacks import weigh_in_sack
from tests.builders import make_business, make_collector, make_colour, make_person

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def workshop():
    make_business()


def sack(**given) -> Sack:
    kilos = {"gross_g": 10_000, "dirt_share": Decimal(0), "price_per_kg": Decimal("0.125")}
    return weigh_in_sack(
        make_collector(), colour=make_colour(), person=make_person("owner"), **kilos | given
    )


def test_every_payout_has_the_next_number_and_pays_its_sacks():
    at_the_scale = sack(paid=True)
    later = [sack(), sack()]
    slip = pay_collector(make_collector(), person=make_person("yard"))
    year = timezone.localdate().year
    # 10 kg × 0.125 = 1.25 a sack
    assert [(p.number, p.total) for p in Payout.objects.order_by("id")] == [
        (f"C-{year}-0001", Decimal("1.25")),
        (f"C-{year}-0002", Decimal("2.50")),
    ]
    assert [line["sack"] for line in slip.content["lines"]] == [one.number for one in later]
    assert at_the_scale.payout.number == f"C-{year}-0001"
    assert set(slip.sacks.all()) == {Sack.objects.get(pk=one.pk) for one in later}


def test_a_payout_that_fails_gives_its_number_back():
    sack()
    with pytest.raises(ZeroDivisionError), transaction.atomic():
        pay_collector(make_collector(), person=make_person("yard"))
        raise ZeroDivisionError
    assert not Payout.objects.exists() and Sack.objects.get().is_owed
    slip = pay_collector(make_collector(), person=make_person("yard"))
    assert slip.sequence == 1


def test_a_sack_of_nothing_has_no_slip():
    sack(paid=True, price_per_kg=Decimal(0))
    assert not Payout.objects.exists()


def test_a_sack_written_down_late_keeps_its_day_and_its_slip_is_of_today():
    today = timezone.localdate()
    sack(paid=True)
    late = sack(paid=True, received_on=today - timedelta(days=2)).payout
    assert (late.paid_on, late.issued_on) == (today - timedelta(days=2), today)
    assert through_drawer("", today) == (0, Decimal("1.25"))


def test_the_database_refuses_to_change_or_forget_a_slip():
    slip = sack(paid=True).payout
    for act in (
        lambda: Payout.objects.filter(pk=slip.pk).update(total=1),
        lambda: Payout.objects.filter(pk=slip.pk)._raw_delete("default"),
    ):
        with pytest.raises(DatabaseError), transaction.atomic():
            act()


@pytest.mark.papers
def test_the_slip_is_printed_once_and_kept(client):
    slip = sack(paid=True, price_per_kg=Decimal("0.335")).payout
    client.force_login(make_person("yard"))
    first = client.get(reverse("orders:payout_pdf", args=[slip.pk])).content
    words = "\n".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(first)).pages)
    for expected in (slip.number, str(make_collector()), "10.000", "0.335", "€3.35"):
        assert expected in words, expected
    make_business(name="Another name")
    with mock.patch(
        "orders.money.papers.files.to_pdf", side_effect=AssertionError("printed again")
    ):
        assert payout_pdf(slip) == first
    assert DocumentFile.objects.get(payout=slip).sha256 == hashlib.sha256(first).hexdigest()


def test_a_slip_is_not_for_the_counter(client):
    slip = sack(paid=True).payout
    client.force_login(make_person("counter"))
    for name in ("stock:collector_slip", "orders:payout_pdf"):
        assert client.get(reverse(name, args=[slip.pk])).status_code == 404
