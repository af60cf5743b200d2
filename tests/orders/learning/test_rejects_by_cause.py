"""Rejects tapped by what is wrong with them, charted by cause, with a hint at the reason."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from orders.firing.queries.trays import trays_of
from orders.firing.services.log import TrayOut, log_firing
from stock.models import RejectTally
from stock.services.undo import take_back
from tests.builders import make_person
from tests.orders.firing.conftest import burning_load, make_workshop, moulded_job
from workshop.physics.reject_causes import HINTS

pytestmark = pytest.mark.django_db


@pytest.fixture
def cooled(db):
    workshop = make_workshop()
    job = moulded_job(workshop)
    load = burning_load(workshop, job)
    log_firing(load, [TrayOut(t, t.beads) for t in trays_of(load)], person=workshop["keeper"])
    job.refresh_from_db()
    return workshop | {"job": job, "load": load}


def _finish(client, cooled, good, rejected, **causes):
    client.force_login(cooled["hand"])
    data = {"good": good, "rejected": rejected, "gone": 0}
    data |= {f"cause_{cause}": beads for cause, beads in causes.items()}
    return client.post(reverse("orders:bench_finish", args=[cooled["job"].pk]), data)


def _there(cooled):
    return cooled["job"].to_start


def test_causes_are_kept_with_the_batch_and_its_load(client, cooled):
    there = _there(cooled)
    assert _finish(client, cooled, there - 3, 3, cracked=2, short=1).status_code == 302
    kept = {tally.cause: (tally.beads, tally.load) for tally in RejectTally.objects.all()}
    assert kept == {"cracked": (2, cooled["load"]), "short": (1, cooled["load"])}


def test_more_causes_than_rejects_are_refused_and_nothing_is_written(client, cooled):
    there = _there(cooled)
    answer = _finish(client, cooled, there - 2, 2, cracked=3)
    assert "3 beads have a cause and 2 were sorted out" in answer.content.decode()
    assert not RejectTally.objects.exists()


def test_the_chart_shows_causes_with_their_hints(client, cooled):
    _finish(client, cooled, _there(cooled) - 3, 3, cracked=3)
    client.force_login(make_person("owner"))
    page = client.get(reverse("orders:firing_rejects")).content.decode()
    assert "cracked" in page
    assert "Adams" in page
    one = client.get(reverse("orders:firing_rejects"), {"cause": "cracked"})
    assert "all kilns: cracked" in one.content.decode()
    assert one.context["rows"][0]["point"].rejects == 3


def test_a_sorting_taken_back_takes_its_causes_with_it(client, cooled):
    _finish(client, cooled, _there(cooled) - 3, 3, cracked=3)
    take_back(RejectTally.objects.get().posting, why="counted wrongly", person=cooled["hand"])
    client.force_login(make_person("owner"))
    assert not client.get(reverse("orders:firing_rejects")).context["causes"]


def test_every_cause_has_a_hint_with_a_source():
    from stock.models import RejectCause

    assert set(HINTS) == set(RejectCause.values)
    assert all(hint.sentence and hint.source for hint in HINTS.values())


# --- tapped at the kiln already ---------------------------------------------------------------


@pytest.fixture
def burning(db):
    workshop = make_workshop()
    job = moulded_job(workshop)
    return workshop | {"job": job, "load": burning_load(workshop, job)}


def _log(client, burning, rejected: int, **causes):
    client.force_login(burning["keeper"])
    load = burning["load"]
    (tray,) = trays_of(load)
    load.refresh_from_db()
    opened = timezone.localtime() + timedelta(minutes=1)
    data = {
        "version": load.version, "ended_at": opened.strftime("%Y-%m-%dT%H:%M"),
        "beads_go": "bench", "rejects_to": "remade", f"good_{tray.pk}": tray.beads - rejected,
        f"rejected_{tray.pk}": rejected,
    }  # fmt: skip
    data |= {f"{cause}_{tray.pk}": beads for cause, beads in causes.items()}
    return client.post(reverse("orders:load_end", args=[load.number]), data)


def test_a_cause_seen_at_the_kiln_is_tapped_there_and_counted_once(client, burning):
    assert _log(client, burning, 3, cracked=2).status_code == 302
    kept = RejectTally.objects.get()
    assert (kept.cause, kept.beads, kept.load) == ("cracked", 2, burning["load"])
    burning["job"].refresh_from_db()
    there = _there(burning)
    client.force_login(burning["hand"])
    page = client.get(reverse("orders:bench_finish", args=[burning["job"].pk])).content.decode()
    assert "Tapped at the kiln already: 2 cracked" in page
    # Of three rejects two have their cause already, so the bench can name one more.
    refused = _finish(client, burning, there - 3, 3, short=2)
    assert "2 beads have a cause and 1 were sorted out" in refused.content.decode()
    assert _finish(client, burning, there - 3, 3, short=1).status_code == 302
    assert {t.cause: t.beads for t in RejectTally.objects.all()} == {"cracked": 2, "short": 1}


def test_more_causes_than_rejects_at_the_kiln_are_told_at_their_box(client, burning):
    answer = _log(client, burning, 1, cracked=2)
    assert answer.status_code == 422
    assert "2 beads have a cause and 1 were sorted out" in answer.content.decode()
    assert not RejectTally.objects.exists()
