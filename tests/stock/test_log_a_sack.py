"""The yard keeper's page: three taps and a weight."""

import uuid
from decimal import Decimal

import pytest
from django.urls import reverse

from stock.models import Collector, CollectorPrice, Posting, Sack
from stock.services.apart import clear_sack
from stock.services.sacks import weigh_in_sack
from stock.services.undo import take_back
from tests.builders import make_collector, make_colour, make_person

pytestmark = pytest.mark.django_db
LOG = reverse("stock:sack_log")
WORD = {"sure": "on", "becomes": "bottles", "why": "our own beads of last year"}


@pytest.fixture
def yard(client):
    client.force_login(make_person("yard"))
    return client


def taps(**given):
    usual = {
        "collector": make_collector().pk,
        "colour": make_colour().pk,
        "paid": "no",
        "gross_g": "24.5",
        "tare_g": "0.5",
        "dirt_share": "5",
        "origin": "bottles",
        "received_on": "2026-01-10",
        "key": str(uuid.uuid4()),
    }
    return {name: value for name, value in (usual | given).items() if value is not None}


def test_three_taps_and_a_weight_log_a_sack_and_say_what_is_owed(yard):
    CollectorPrice.objects.create(
        colour=make_colour(), price_per_kg=Decimal("0.30"), valid_from="2026-01-01"
    )
    page = yard.post(LOG, taps(), follow=True)
    sack = Sack.objects.get()
    assert sack.net_g == 22_800  # (24.5 − 0.5) kg less 5 % dirt
    assert sack.amount == Decimal("6.84")  # 22.8 kg at 0.30
    assert sack.is_owed
    assert "22.800" in page.content.decode() and "€6.84 owed" in page.content.decode()


def test_the_empty_sack_and_the_dirt_are_remembered(yard):
    yard.post(LOG, taps())
    form = yard.get(LOG).context["form"]
    assert form.initial["tare_g"] == 500
    assert form.initial["dirt_share"] == Decimal("0.05")


def test_a_collectors_own_price_goes_before_everyones(yard):
    for who, price in ((None, "0.30"), (make_collector(), "0.45")):
        CollectorPrice.objects.create(
            colour=make_colour(),
            collector=who,
            price_per_kg=Decimal(price),
            valid_from="2026-01-01",
        )
    yard.post(LOG, taps(dirt_share="0"))
    assert Sack.objects.get().price_per_kg == Decimal("0.45")


def test_the_price_shows_while_the_scale_settles(yard):
    page = yard.get(reverse("stock:sack_price"), taps(dirt_share="0")).content.decode()
    assert "24.000" in page and "€4.80" in page  # 24 kg at the colour's own 0.20
    assert "of dirt" not in page


def test_what_dirt_takes_off_the_pay_is_shown_before_it_is_paid(yard):
    page = yard.get(reverse("stock:sack_price"), taps()).content.decode()
    assert "less 1.200 kg of dirt (5%)" in " ".join(page.split())  # 5 % of 24 kg
    assert "22.800" in page and "€4.56" in page


def test_a_new_collector_is_written_down_with_the_sack(yard):
    yard.post(LOG, taps(collector=None, new_collector="Beach school"))
    assert Collector.objects.get(name="Beach school").sacks.count() == 1


def test_mixed_glass_waits_to_be_sorted(yard):
    yard.post(LOG, taps(colour="mixed"))
    assert Sack.objects.get().colour is None


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"gross_g": ""}, "Write what the scale shows"),
        ({"gross_g": "-3"}, "-3"),
        ({"gross_g": "12 cm"}, "cm"),
        ({"gross_g": "NaN"}, "NaN"),
        ({"tare_g": "30"}, "must weigh less than the full one"),
        ({"collector": None}, "Tap who brought the sack"),
        ({"colour": None}, "Tap the colour"),
        ({"received_on": "2999-01-01"}, "lies in the future"),
        ({"gross_g": "9000"}, "slip of the finger"),
        ({"origin": "ivory"}, "CITES"),
        ({"note": "three ivory bangles"}, "CITES"),
    ],
)
def test_what_cannot_be_is_refused_and_what_was_typed_stays(yard, wrong, sentence):
    page = yard.post(LOG, taps(note=wrong.get("note", "from the quay"), **_without(wrong, "note")))
    said = page.content.decode()
    assert page.status_code == 422
    assert sentence in said
    assert "quay" in said or "bangles" in said
    assert not Sack.objects.exists() and not Posting.objects.exists()


def _without(given, name):
    return {key: value for key, value in given.items() if key != name}


def test_the_same_form_sent_twice_logs_one_sack(yard):
    sent = taps()
    yard.post(LOG, sent)
    yard.post(LOG, sent)
    assert Sack.objects.count() == 1


@pytest.mark.parametrize("role", ["counter", "kiln", "bench"])
def test_who_may_not_log_a_sack(client, role):
    client.force_login(make_person(role))
    assert client.get(LOG).status_code == 404
    assert client.post(LOG, taps()).status_code == 404
    assert not Sack.objects.exists()


def test_old_beads_are_held_apart_and_only_the_owner_clears_them(client, yard):
    yard.post(LOG, taps(origin="old-beads"))
    sack = Sack.objects.get()
    assert sack.held_apart
    clear = reverse("stock:sack_clear", args=[sack.pk])
    assert yard.post(clear, {"sure": "on"}).status_code == 404
    client.force_login(make_person("owner"))
    assert client.post(clear, {}).status_code == 422
    client.post(clear, WORD | {"key": str(uuid.uuid4())})
    sack.refresh_from_db()
    assert not sack.held_apart and sack.cleared_by == make_person("owner")


def test_paying_out_pays_the_sacks_ticked_and_prints_a_slip(yard):
    yard.post(LOG, taps(dirt_share="0"))
    yard.post(LOG, taps(dirt_share="0"))
    first, second = Sack.objects.order_by("number")
    pay = reverse("stock:collector_pay", args=[first.collector_id])
    yard.post(pay, {"sacks": [first.pk], "key": str(uuid.uuid4())})
    first.refresh_from_db()
    second.refresh_from_db()
    assert first.paid_on and second.is_owed
    slip = reverse("stock:collector_slip", args=[first.payout_id])
    assert "€4.80" in yard.get(slip).content.decode()
    account = yard.get(reverse("stock:collector", args=[first.collector_id])).content.decode()
    assert "€4.80" in account


def test_what_collectors_are_paid_is_not_for_the_kiln_or_the_bench(client, yard):
    yard.post(LOG, taps())
    for role in ("kiln", "bench", "counter"):
        client.force_login(make_person(role))
        for name in ("sack_list", "collector_list", "collector_price_list", "value"):
            assert client.get(reverse(f"stock:{name}")).status_code == 404
        room = client.get(reverse("stock:glass")).content.decode()
        assert "€" not in room


def test_a_sack_cleared_twice_says_so_and_needs_the_owners_word(client):
    sack = weigh_in_sack(
        make_collector(), colour=make_colour(), gross_g=3000, person=make_person("yard"),
        origin=Sack.Origin.OLD_BEADS,
    )  # fmt: skip
    client.force_login(make_person("owner"))
    page = reverse("stock:sack_clear", args=[sack.pk])
    assert "Tick this once you know" in client.post(page).content.decode()
    assert client.post(page, WORD).status_code == 302
    again = client.post(page, WORD)
    assert again.status_code == 422 and "nothing to clear" in again.content.decode()


def test_a_clearing_taken_back_holds_the_sack_apart_again():
    sack = weigh_in_sack(
        make_collector(), colour=make_colour(), gross_g=3000, person=make_person("yard"),
        origin=Sack.Origin.OLD_BEADS,
    )  # fmt: skip
    posting = clear_sack(sack, person=make_person("owner"), why="our own beads")
    take_back(posting, person=make_person("owner"), why="the wrong sack")
    sack.refresh_from_db()
    assert sack.held_apart and sack.cleared_by is None


def test_a_sack_taken_back_was_never_brought_and_its_page_says_so(client):
    sack = weigh_in_sack(
        make_collector(), colour=make_colour(), gross_g=3000, person=make_person("yard")
    )
    take_back(sack.posting, person=make_person("owner"), why="logged twice")
    assert Collector.objects.get().brought == 0
    client.force_login(make_person("owner"))
    page = client.get(reverse("stock:sack", args=[sack.pk])).content.decode()
    assert "Taken back by" in page and "logged twice" in page
