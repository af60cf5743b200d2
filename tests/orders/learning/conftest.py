"""Loads, batches and tickets as the workshop writes them down."""

from datetime import datetime, timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from stock.models import BeadBatch, KilnLoad, LoadTray, WorkTicket
from tests.builders import (
    make_bead,
    make_business,
    make_colour,
    make_design,
    make_kiln,
    make_person,
    make_rate,
    put_glass,
)
from workshop.services.numbers import take_number


@pytest.fixture
def workshop(db):
    business = make_business(margin=Decimal("0.25"), overhead=Decimal("0.10"))
    kiln = make_kiln()
    bead = make_bead(reject_rate=Decimal("0.08"))
    make_rate()
    put_glass(make_colour(), "powder", 20)
    return {
        "business": business,
        "kiln": kiln,
        "bead": bead,
        "design": make_design(beads=bead),
        "owner": make_person("owner"),
        "keeper": make_person("kiln"),
    }


def days_ago(days: int) -> datetime:
    return timezone.now() - timedelta(days=days)


def make_load(kiln, **given) -> KilnLoad:
    usual = {"state": KilnLoad.State.COOLED, "starts_at": days_ago(3)}
    usual |= {"hold_c": 720, "hold_min": 30}
    return KilnLoad.objects.create(number=take_number("load"), kiln=kiln, **usual | given)


def make_batch(bead, started: int, good: int, **given) -> BeadBatch:
    """A batch that is sorted through, unless `rejected` says otherwise."""
    usual = {"made_on": timezone.localdate(), "rejected": started - good}
    return BeadBatch.objects.create(
        number=take_number("batch"), bead=bead, started=started, good=good, **usual | given
    )


def make_tray(load, batch, beads: int, rejected: int, *, firing: int = 1) -> LoadTray:
    return LoadTray.objects.create(
        load=load,
        bead=batch.bead,
        batch=batch,
        firing=firing,
        moulds=1,
        beads=beads,
        good=beads - rejected,
        rejected=rejected,
    )


def fire(workshop, started: int, rejected: int, **load):
    """One load with one batch in it, sorted: so many beads, so many rejects."""
    row = make_load(workshop["kiln"], **load)
    batch = make_batch(workshop["bead"], started, started - rejected)
    return make_tray(row, batch, started, rejected)


def make_ticket(step: str, pieces: int, minutes: int, *, ref: str, **given) -> WorkTicket:
    return WorkTicket.objects.create(
        on=timezone.localdate(),
        hand=given.pop("hand", None) or make_person("bench"),
        step_id=step,
        pieces=pieces,
        minutes=minutes,
        belongs_ref=ref,
        **given,
    )
