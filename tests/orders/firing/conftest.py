"""A workshop with glass on the shelf, one kiln of 12 places and six moulds of 12 cavities."""

from datetime import date, datetime, time, timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from orders.bench.services import mould_job
from orders.firing.queries.trays import trays_of
from orders.firing.services.log import TrayIn, start_load
from orders.floor.kiln_room import free_room
from orders.models import LoadShare
from stock.models import GlassForm, KilnLoad, LoadTray
from tests.builders import (
    make_bead,
    make_business,
    make_colour,
    make_customer,
    make_design,
    make_kiln,
    make_order,
    make_person,
    make_programme,
    make_rate,
    put_glass,
)
from workshop.models import Kiln, Skill, WorkingHours
from workshop.services.numbers import take_number


@pytest.fixture
def workshop(db):
    return make_workshop()


def make_workshop() -> dict:
    business = make_business(margin=Decimal("0.25"), overhead=Decimal("0.10"))
    for weekday in range(7):
        WorkingHours.objects.create(weekday=weekday, opens=time(7), closes=time(18))
    kiln = make_kiln(preheat_min=60, cooling_min=90)
    # 1 in 10 fails; 95 % sure of enough.
    bead = make_bead(reject_rate=Decimal("0.10"))
    make_rate()
    put_glass(make_colour(), GlassForm.POWDER, 20)
    for role in ("owner", "counter", "kiln", "bench"):
        make_person(role)
    return {
        "business": business,
        "kiln": kiln,
        "bead": bead,
        "design": make_design(beads=bead),
        "keeper": make_person("kiln"),
        "hand": make_person("bench"),
    }


@pytest.fixture
def hot(db):
    """The clay kiln kept hot: 60 min to warm up, 10 to change, 45 without moulds."""
    workshop = make_workshop()
    Kiln.objects.update(
        way="hot", warm_up_min=60, change_min=10, keep_hot_min=45, hotter_c_per_min=8,
        cooler_c_per_min=4,
    )  # fmt: skip
    workshop["kiln"].refresh_from_db()
    make_rate(step="Piercing", skill=Skill.PIERCING, basis="mould", minutes_each=Decimal("0.75"))
    fused = make_programme(
        "Chunks", kind="fused", hold_c=860, hold_min=30, from_c=840, to_c=900, from_min=30,
        to_min=45,
    )  # fmt: skip
    workshop["pierced"] = make_bead(
        "Amber chunk", kind="fused", programme=fused, pierced_hot=True, anneal_min=60,
        pierce_min=Decimal("0.75"),
    )  # fmt: skip
    workshop["chunky"] = make_design("Amber strand", beads=workshop["pierced"])
    return workshop


def painted_bead():
    paint = make_programme(
        "Paint", kind="painted", hold_c=620, hold_min=20, from_c=600, to_c=640,
        from_min=15, to_min=25,
    )  # fmt: skip
    return make_bead(
        "Painted round", kind="painted", second_programme=paint,
        reject_rate=Decimal("0.10"), second_reject_rate=Decimal("0.05"),
    )  # fmt: skip


def waiting_job(workshop, strands: int = 1, *, customer: str = "Marisa Orlo", **given):
    """An order's beads, not moulded yet, and standing in no load unless `room_kept`."""
    design, kept = given.pop("design", workshop["design"]), given.pop("room_kept", False)
    order = make_order(strands, design=design, customer=make_customer(customer), **given)
    if not kept:
        free_room(order)
    return order.jobs.get()


def moulded_job(workshop, strands: int = 1, **given):
    """An order's beads, moulded: 18 to a strand, and some over for rejects."""
    job = waiting_job(workshop, strands, **given)
    mould_job(job, job.to_start, person=workshop["hand"])
    job.refresh_from_db()
    return job


def day_after_tomorrow(hour: int = 8) -> datetime:
    day = timezone.localdate() + timedelta(days=2)
    return timezone.make_aware(datetime.combine(day, time(hour)))


def make_load(workshop, **given) -> KilnLoad:
    usual = {
        "number": take_number("load"), "kiln": workshop["kiln"],
        "starts_at": day_after_tomorrow(), "hold_c": 720, "hold_min": 30,
    }  # fmt: skip
    return KilnLoad.objects.create(**usual | given)


def put_in(load: KilnLoad, job, beads: int | None = None, firing: int = 1) -> LoadTray:
    """A tray of a job's beads in a load."""
    beads = beads or job.to_start
    moulds = -(-beads // job.bead.mould.cavities)
    tray = LoadTray.objects.create(
        load=load, bead=job.bead, batch=job.batch, firing=firing, moulds=moulds, beads=beads
    )
    LoadShare.objects.create(tray=tray, job=job, moulds=moulds, beads=beads)
    return tray


def burning_load(workshop, *jobs, beads: int | None = None, **given) -> KilnLoad:
    """A load with a tray for each job, lit."""
    load = make_load(workshop, **given)
    for job in jobs:
        firing = 2 if job.step == "second" else 1
        put_in(load, job, beads, firing)
    light(load, workshop["keeper"])
    return load


def light(load: KilnLoad, person) -> KilnLoad:
    return start_load(load, [TrayIn(tray, tray.beads) for tray in trays_of(load)], person=person)


FAR = date(2027, 3, 5)
