"""The bench knows what is pierced when; a round says when its beads are cold."""

from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone

from orders.bench.queries.work import bench_work
from orders.firing.queries.kilns import cold_at, times_of
from orders.firing.queries.piercing import rounds_to_pierce
from orders.firing.queries.trays import trays_of
from orders.firing.services.log import TrayIn, TrayOut, log_firing, log_piercing, start_load
from orders.firing.services.plan import accept_plan, propose_plan
from stock.models import Bead, KilnLoad, WorkTicket
from tests.orders.firing.conftest import burning_load, moulded_job

pytestmark = pytest.mark.django_db


def plan(workshop) -> list[KilnLoad]:
    made = propose_plan(person=workshop["keeper"], seconds=0.3, bound=False)
    accept_plan(made, person=workshop["keeper"])
    return list(KilnLoad.objects.order_by("starts_at"))


def burn(hot, load: KilnLoad, hours_ago: int) -> KilnLoad:
    at = timezone.now() - timedelta(hours=hours_ago)
    start_load(load, [TrayIn(t, t.beads) for t in trays_of(load)], person=hot["keeper"], at=at)
    load.refresh_from_db()
    return load


def test_moulded_beads_wait_for_a_round_and_then_stand_in_one(hot):
    job = moulded_job(hot, 1, design=hot["chunky"])
    assert [each.job for each in bench_work().no_round_yet] == [job]
    (load,) = plan(hot)
    work = bench_work()
    assert work.no_round_yet == []
    (found,) = work.to_pierce
    assert (found.load, found.beads, found.moulds) == (load, job.to_start, job.moulds)
    assert found.hands == load.hands >= 1
    assert found.first_out == times_of(load).cooling
    # 10 mm, 860 °C: 8.1 s from 850 and 10.7 s from 900 °C to 10^6.6 Pa.s (the table of a bead free
    # in the air: radiation and free convection, Stefan-Boltzmann and Churchill); 8.7 between.
    assert found.soft_s == 9
    assert found.mould_s == 60  # a minute, the first guess


def test_beads_of_other_firings_are_not_pierced(hot):
    moulded_job(hot, 1)
    plan(hot)
    assert bench_work().to_pierce == [] == bench_work().no_round_yet


def test_a_round_that_is_logged_is_pierced(hot):
    moulded_job(hot, 1, design=hot["chunky"])
    (load,) = plan(hot)
    burn(hot, load, 4)
    (found,) = rounds_to_pierce()
    assert found.burns
    log_firing(load, [TrayOut(t, t.beads) for t in trays_of(load)], person=hot["keeper"])
    assert rounds_to_pierce() == []


def test_the_bench_and_its_ticket_tell_hands_and_seconds(hot, client):
    moulded_job(hot, 1, design=hot["chunky"])
    client.force_login(hot["hand"])
    assert "in no round yet" in client.get(reverse("orders:bench")).content.decode()
    plan(hot)
    page = client.get(reverse("orders:bench")).content.decode()
    for words in ("To pierce", "first mould out", "about 9 s", "60 s", "mould by mould"):
        assert words in page
    assert "goggles" in page  # beside glowing glass
    assert client.get(reverse("orders:bench_ticket")).status_code == 200


def test_the_bench_reads_the_rounds_in_two_queries_more(hot, django_assert_max_num_queries):
    moulded_job(hot, 2, design=hot["chunky"])
    plan(hot)
    with django_assert_max_num_queries(4):  # loads, trays, beads, moulds
        rounds_to_pierce()


def test_beads_are_cold_when_the_longest_pot_is(hot, client):
    Bead.objects.filter(pk=hot["pierced"].pk).update(anneal_min=720)
    moulded_job(hot, 1, design=hot["chunky"])
    (load,) = plan(hot)
    burn(hot, load, 2)
    trays = trays_of(load)
    # 720 minutes in the pot, from the last one pierced.
    assert cold_at(load, trays) == times_of(load).opened + timedelta(minutes=720)
    client.force_login(hot["keeper"])
    assert (
        "Beads cold from" in client.get(reverse("orders:load", args=[load.number])).content.decode()
    )
    early = client.get(reverse("orders:load_end", args=[load.number])).content.decode()
    assert "leave them covered until then" in early
    done = times_of(load).cooling + timedelta(minutes=3)
    log_firing(
        load, [TrayOut(t, t.beads) for t in trays], person=hot["keeper"], pierced_until=done,
        pierced_by=[hot["hand"]],
    )  # fmt: skip
    load.refresh_from_db()
    # As logged, it counts from the hands' own last bead; it was counted hours before that.
    assert cold_at(load, trays) == timezone.localtime(done) + timedelta(minutes=720)
    page = client.get(reverse("orders:load", args=[load.number])).content.decode()
    assert "counted before" in page


def test_a_closed_kiln_says_from_when_it_may_be_opened(workshop, client):
    load = burning_load(workshop, moulded_job(workshop))
    client.force_login(workshop["keeper"])
    page = client.get(reverse("orders:load_end", args=[load.number])).content.decode()
    assert "leave it closed until then" in page
    assert cold_at(load, trays_of(load)) == times_of(load).opened
    shown = client.get(reverse("orders:load", args=[load.number])).content.decode()
    assert "The curve, as planned" in shown


# --- told at once, by whoever pierced -----------------------------------------------------------


def test_a_hand_of_the_bench_says_that_the_round_is_pierced(hot, client):
    moulded_job(hot, 1, design=hot["chunky"])
    (load,) = plan(hot)
    burn(hot, load, 4)
    client.force_login(hot["hand"])
    assert "All are pierced" in client.get(reverse("orders:bench")).content.decode()
    page = reverse("orders:load_pierced", args=[load.number])
    done = timezone.localtime(times_of(load).cooling) + timedelta(minutes=6)
    typed = {
        "version": load.version, "pierced_until": done.strftime("%Y-%m-%dT%H:%M"),
        "pierced_by": [hot["hand"].pk],
    }  # fmt: skip
    nobody = client.post(page, typed | {"pierced_by": []})
    assert nobody.status_code == 422 and "nobody pierces without hands" in nobody.content.decode()
    early = typed | {"pierced_until": (done - timedelta(hours=1)).strftime("%Y-%m-%dT%H:%M")}
    assert "The first mould came out at" in client.post(page, early).content.decode()
    assert not WorkTicket.objects.filter(step="Piercing").exists()

    assert client.post(page, typed).headers["Location"] == reverse("orders:bench")
    ticket = WorkTicket.objects.get(step="Piercing")
    assert (ticket.hand, ticket.pieces) == (hot["hand"], sum(t.beads for t in trays_of(load)))
    assert ticket.minutes in {5, 6}  # from the first mould out, to the whole minute
    load.refresh_from_db()
    assert load.state == KilnLoad.State.FIRING and rounds_to_pierce() == []

    # Counted when cold: nobody is asked again, and nobody is paid twice.
    client.force_login(hot["keeper"])
    end = client.get(reverse("orders:load_end", args=[load.number]))
    assert "Pierced by" not in end.content.decode()
    log_firing(load, [TrayOut(t, t.beads) for t in trays_of(load)], person=hot["keeper"])
    assert WorkTicket.objects.filter(step="Piercing").count() == 1


def test_a_round_is_pierced_once_and_only_where_there_is_something_to_pierce(hot):
    moulded_job(hot, 1, design=hot["chunky"])
    (load,) = plan(hot)
    burn(hot, load, 4)
    told = {"until": timezone.now(), "hands": [hot["hand"]], "person": hot["hand"]}
    log_piercing(load, **told)
    with pytest.raises(ValidationError) as again:
        log_piercing(load, **told)
    assert "was pierced until" in again.value.messages[0]
    with pytest.raises(ValidationError) as ahead:
        load.pierced_until = None
        log_piercing(load, **told | {"until": timezone.now() + timedelta(hours=1)})
    assert "still to come" in ahead.value.message_dict["pierced_until"][0]


def test_a_load_without_beads_to_pierce_has_nothing_to_tell(workshop):
    load = burning_load(workshop, moulded_job(workshop))
    with pytest.raises(ValidationError) as refused:
        log_piercing(load, until=timezone.now(), hands=[workshop["hand"]], person=workshop["hand"])
    assert "No bead of this load" in refused.value.messages[0]
