"""A run after the fact: what each order bears of it, how runs usually go, and how they are paid."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from orders.firing.queries.run_shares import run_of
from orders.firing.queries.trays import trays_of
from orders.firing.services.log import TrayOut, log_firing, run_step
from stock.models import KilnLoad, LoadTray, WorkTicket
from stock.runs import usual_runs
from stock.services.beads import load_beads
from stock.services.load_costs import charges_of_load, in_goods, load_cost, tending_minutes
from stock.services.standards import Standards
from tests.builders import make_customer, make_rate
from tests.orders.firing.conftest import make_load, moulded_job, put_in
from workshop.models import Skill

pytestmark = pytest.mark.django_db


def rounds(hot, minutes, heats=None, *, days_ago: int = 1) -> list[KilnLoad]:
    """Rounds one after the other: the first warms up 60 minutes, none waits."""
    at, found = timezone.now() - timedelta(days=days_ago), []
    for number, own in enumerate(minutes):
        warm_up = 0 if number else 60
        load = make_load(
            hot, started_at=at, starts_at=at, state="cooled", lit=not number,
            in_after_min=warm_up, first_after_min=warm_up + own, free_after_min=warm_up + own,
            done_after_min=warm_up + own, hold_c=(heats or [720] * len(minutes))[number],
        )  # fmt: skip
        at += timedelta(minutes=warm_up + own)
        found.append(load)
    return found


def test_the_minutes_of_a_run_are_shared_by_the_places_its_orders_filled(hot, client):
    """Warm-up 60, rounds 30, 52 and 42 min; places 5, then 4 and 1, then 4 and 2: 184 min in all.

    Each round by its own places, the warm-up by the 16 of all: J1 30 + 60·5/16 = 48.75;
    J2 52·4/5 + 42·4/6 + 60·8/16 = 99.60; J3 52/5 + 42·2/6 + 60·3/16 = 35.65 (worked by hand).
    """
    first, second, third = rounds(hot, (30, 52, 42))
    jobs = [moulded_job(hot, n, customer=f"C {n}") for n in (3, 5, 2)]
    cavities = hot["bead"].mould.cavities
    for load, moulds in ((first, (5, 0, 0)), (second, (0, 4, 1)), (third, (0, 4, 2))):
        for job, count in zip(jobs, moulds, strict=True):
            if count:
                put_in(load, job, count * cavities)
    run = run_of(KilnLoad.objects.select_related("kiln").get(pk=second.pk))
    assert (run.rounds, run.whole_min, run.shared_min, run.own_min) == (3, 184, 60, 52)
    shared = {share.order.pk: round(share.minutes, 2) for share in run.shares}
    by_hand = [Decimal("48.75"), Decimal("99.60"), Decimal("35.65")]
    assert [shared[job.order_id] for job in jobs] == by_hand
    assert sum(share.minutes for share in run.shares) == 184
    client.force_login(hot["keeper"])
    page = client.get(reverse("orders:load", args=[second.number])).content.decode()
    assert "of it for order" in page and "99.6 min" in page


def test_another_lighting_is_another_run(hot):
    one = rounds(hot, (30, 52), days_ago=2)
    two = rounds(hot, (40,))
    assert run_of(one[1]).rounds == 2
    assert run_of(two[0]).rounds == 1


def test_a_closed_load_is_no_run(workshop):
    assert run_of(make_load(workshop, started_at=timezone.now())) is None


def test_the_usual_turn_is_measured_on_the_heats_of_logged_rounds(hot):
    for days_ago in (3, 2):
        rounds(hot, (30, 40, 40, 40), (720, 740, 860, 860), days_ago=days_ago)
    usual = usual_runs([hot["kiln"]])[hot["kiln"].pk]
    # 20 °C at 8 a minute, up to whole minutes: 3; 120 °C: 15; none: 0. Two runs of 18 in 8 rounds.
    assert usual.turn_min == Decimal("4.5")
    assert usual.rounds == 4


def test_with_few_rounds_on_record_no_turn_is_reckoned(hot):
    rounds(hot, (30, 40, 40), (720, 740, 860))
    assert usual_runs([hot["kiln"]])[hot["kiln"].pk].turn_min == 0


# --- tending, paid by the run and by the round --------------------------------------------------


@pytest.fixture
def tended(hot):
    make_rate("Tending a round", skill=Skill.FIRING, basis="load", minutes_each=Decimal(12))
    make_rate("Lighting", skill=Skill.FIRING, basis="run", minutes_each=Decimal(40))
    return hot


def test_a_round_bears_its_part_of_what_is_done_once_a_run(tended):
    # Five rounds a run, the starting figure: 12 + 40/5.
    assert tending_minutes(tended["kiln"], Standards(timezone.localdate()), tended["bead"]) == 20
    cost = load_cost(
        tended["kiln"], tended["bead"], Standards(timezone.localdate()), hold_c=Decimal(720)
    )
    hourly = Standards(timezone.localdate()).rates.of_step("Lighting").hourly
    assert cost.hands == pytest.approx(20 * hourly / 60)


def test_a_closed_kiln_has_no_run_to_pay(workshop):
    make_rate("Tending", skill=Skill.FIRING, basis="load", minutes_each=Decimal(12))
    make_rate("Lighting", skill=Skill.FIRING, basis="run", minutes_each=Decimal(40))
    assert (
        tending_minutes(workshop["kiln"], Standards(timezone.localdate()), workshop["bead"]) == 12
    )


def test_goods_bear_warming_up_by_the_places_of_the_whole_run(tended):
    """Usually 0.5 × 24 = 12 places a round and 60 a run of five; 12 min a round, 40 a run.

    Three rounds of 12, 24 and 4 moulds fill 40 places. The fullest bears 12 min of its own and
    40 × 24/60 = 16 of lighting, the emptiest 12 × 4/12 = 4 and 40 × 4/60 = 2⅔ (by hand: own part ×
    f ÷ max(f, uQ), the run's × Σf ÷ max(Σf, uQr̄), by places). By the round's own fill the fullest
    would have borne only 8 of lighting.
    """
    kiln = tended["kiln"]
    kiln.usual_fill, kiln.places = Decimal("0.5"), 24
    kiln.save()
    tended["bead"].mould.owned = 60
    tended["bead"].mould.save()
    found = []
    for load, moulds in zip(rounds(tended, (30, 30, 30)), (12, 24, 4), strict=True):
        load.ended_at = timezone.now()
        load.save()
        cavities = tended["bead"].mould.cavities
        tray = LoadTray.objects.create(
            load=load, bead=tended["bead"], firing=1, moulds=moulds, beads=moulds * cavities
        )
        found.append((KilnLoad.objects.select_related("kiln").get(pk=load.pk), tray))
    minutes = []
    for load, tray in found:
        charges = charges_of_load(load, [tray])[tray.pk]
        minutes.append(sum(each.minutes for each in charges if each.name == "hands"))
    assert [round(each, 6) for each in minutes] == [
        Decimal(20), Decimal(28), round(Decimal(20) / 3, 6),
    ]  # fmt: skip


def test_no_more_goes_into_goods_than_a_run_costs(tended):
    """Five full rounds fill 120 places where 60 are usual: 40 min of lighting in all, not 80."""
    kiln = tended["kiln"]
    kiln.usual_fill, kiln.places = Decimal("0.5"), 24
    kiln.save()
    standards = Standards(timezone.localdate())
    run = standards.usual_run(kiln)
    load = make_load(tended)
    five = [in_goods(load, 24, 120, Decimal("0.5"), run).of(Decimal(8), Decimal(8))] * 5
    assert sum(five) == 40


def test_the_keeper_writes_the_minutes_of_the_run_and_of_the_round_apart(tended, client):
    job = moulded_job(tended, 1, customer=make_customer("Ilka Dorn").name)
    at = timezone.now() - timedelta(hours=3)
    load = make_load(
        tended, started_at=at, starts_at=at, state="firing", lit=True, in_after_min=60,
        first_after_min=100, free_after_min=100, done_after_min=100,
    )  # fmt: skip
    tray = put_in(load, job)
    load_beads(job.batch, job.to_start, person=tended["keeper"], load=str(load.number))
    assert run_step(load) == "Lighting"
    client.force_login(tended["keeper"])
    page = reverse("orders:load_end", args=[load.number])
    assert "Minutes of lighting and warming up" in client.get(page).content.decode()
    typed = {
        "version": load.version, "ended_at": timezone.localtime().strftime("%Y-%m-%dT%H:%M"),
        "beads_go": "bench", "rejects_to": "remade", f"good_{tray.pk}": tray.beads,
        "lit_min": "50", "tended_min": "15",
    }  # fmt: skip
    done = client.post(page, typed)
    assert done.status_code == 302, done.context["form"].errors
    tickets = {
        ticket.step_id: (ticket.pieces, ticket.minutes) for ticket in WorkTicket.objects.all()
    }
    assert tickets["Lighting"] == (1, 50) and tickets["Tending a round"] == (1, 15)


def test_a_round_that_joins_the_run_pays_no_lighting(tended):
    job = moulded_job(tended, 1)
    load = make_load(tended, started_at=timezone.now(), state="firing", free_after_min=40)
    put_in(load, job)
    assert run_step(load) == ""
    load_beads(job.batch, job.to_start, person=tended["keeper"], load=str(load.number))
    log_firing(
        load, [TrayOut(t, t.beads) for t in trays_of(load)], person=tended["keeper"],
        tended_min=15, lit_min=50,
    )  # fmt: skip
    assert not WorkTicket.objects.filter(step="Lighting").exists()


def test_a_kiln_burns_on_while_moulds_are_drawn_one_by_one(hot):
    """12 fills of a usual load at 0.7 min a mould, one hand: 0.14 h × 3.6 × 6.832 kW = 3.443 MJ
    more, by wood of 14.3114 MJ/kg in a fire of 0.36 (worked by hand)."""
    kiln, bead = hot["kiln"], hot["bead"]
    kiln.body_mj, kiln.loss_kw, kiln.fire_efficiency = map(Decimal, ("68.79", "6.832", "0.36"))
    kiln.fuel_per_load, kiln.fuel_price, kiln.usual_fill = None, Decimal("0.14"), Decimal(1)
    kiln.moisture = Decimal("0.20")
    kiln.save()
    fills = kiln.places / bead.mould.places
    bead.pierced_hot, bead.pierce_min, bead.drawn_together = True, Decimal("0.7"), True
    heat = {"hold_c": Decimal(720)}
    together = load_cost(kiln, bead, Standards(timezone.localdate()), **heat).fuel
    bead.drawn_together = False
    one_by_one = load_cost(kiln, bead, Standards(timezone.localdate()), **heat).fuel
    more = fills * 0.7 / 60 * 3.6 * 6.832 / 0.36 / 14.3114 * 0.14
    assert float(one_by_one - together) == pytest.approx(more, rel=1e-4)
