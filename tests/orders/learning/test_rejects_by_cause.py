"""Rejects tapped by what is wrong with them, charted by cause, with a hint at the reason."""

import pytest
from django.urls import reverse

from orders.firing.services.log import TrayOut, log_firing
from orders.making.queries.trays import trays_of
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
