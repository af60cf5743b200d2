"""An order that would mix glasses that do not agree: said at the counter and at the bench."""

from decimal import Decimal

import pytest
from django.urls import reverse

from orders.bench.queries.work import bench_work
from orders.bench.services import mould_job
from orders.models import WantedLine
from orders.reckoning.reckon import reckon
from stock.models import GlassTest
from stock.services.apart import heap_of, write_test
from stock.services.beads import glass_moulded
from stock.services.preparation import prepare_glass, raw_of, ready
from stock.services.sacks import weigh_in_sack
from tests.builders import (
    make_bead,
    make_business,
    make_collector,
    make_colour,
    make_design,
    make_draft,
    make_person,
    put_beads,
    put_glass,
)
from tests.orders.firing.conftest import make_workshop, waiting_job

pytestmark = pytest.mark.django_db
HALF = Decimal("0.5")


def striped():
    """A bead of green bottles and clear window panes, and a strand of it."""
    pane = heap_of(make_colour("clear"), "sheet")
    bead = make_bead("Striped", colours={make_colour("green"): HALF, pane: HALF})
    put_glass(pane, "powder", 20)
    return bead, make_design("Striped strand", beads=bead)


def notices(design) -> str:
    wanted = [WantedLine(design.pk, 1)]
    from django.utils import timezone

    return " ".join(
        reckon(wanted, customer=None, business=make_business(), today=timezone.localdate()).notices
    )


def hold_a_joint(bead, held: bool) -> None:
    one, other = (share.colour for share in bead.colours.all())
    test = GlassTest(one=one, other=other, held=held, tested_on="2026-03-01")
    write_test(test, person=make_person("kiln"))


def test_the_counter_is_told_before_the_order_is_taken():
    make_workshop()
    bead, design = striped()
    assert "never tested together" in notices(design)
    hold_a_joint(bead, held=True)
    assert "together" not in notices(design)
    hold_a_joint(bead, held=False)
    assert "the joint cracked" in notices(design)


def test_beads_that_lie_on_the_shelf_are_whole_and_need_no_warning():
    make_workshop()
    bead, design = striped()
    put_beads(bead, 500)
    assert "tested together" not in notices(design)


def test_the_bench_is_told_before_it_moulds(client):
    workshop = make_workshop()
    _bead, design = striped()
    job = waiting_job(workshop, design=design)
    (ready_job,) = bench_work().to_mould
    assert ready_job.clash is not None and ready_job.clash.verdict == "do not mix"
    client.force_login(workshop["hand"])
    for page in (reverse("orders:bench"), reverse("orders:bench_mould", args=[job.pk])):
        assert "never tested together" in client.get(page).content.decode()


def test_the_hand_who_moulds_says_which_heap_was_taken(client):
    workshop = make_workshop()
    green = make_colour("green")
    weigh_in_sack(
        make_collector(), colour=green, gross_g=9000, dirt_share=Decimal(0), mark="Anchor",
        person=make_person("yard"),
    )  # fmt: skip
    anchor = raw_of(green, 5_000_000)
    from dataclasses import replace

    from stock.services.places import glass_item

    prepare_glass(
        [replace(anchor, item=glass_item(green, "raw", "Anchor"))],
        [ready(green, "powder", 4_000_000, "Anchor")], form="powder", person=make_person("yard"),
    )  # fmt: skip
    job = waiting_job(workshop)
    client.force_login(workshop["hand"])
    page = reverse("orders:bench_mould", args=[job.pk])
    box = f"heap_{green.pk}"
    assert box in client.get(reverse("orders:bench")).content.decode()
    wrong = client.post(page, {"count": job.to_start, box: "mark:Star"})
    assert wrong.status_code == 422
    assert client.post(page, {"count": job.to_start, box: "mark:Anchor"}).status_code == 302
    job.refresh_from_db()
    assert [glass.mark for glass in glass_moulded(job.batch)] == ["Anchor"]


def test_the_orders_page_says_so_until_its_beads_are_moulded(client):
    workshop = make_workshop()
    _bead, design = striped()
    job = waiting_job(workshop, design=design)
    client.force_login(make_person("counter"))
    page = reverse("orders:order_detail", args=[job.order.number])
    assert "never tested together" in client.get(page).content.decode()
    mould_job(job, job.to_start, person=workshop["hand"])
    assert "never tested together" not in client.get(page).content.decode()
    draft = make_draft(1, design=design)
    page = reverse("orders:order_detail", args=[draft.number])
    assert "never tested together" in client.get(page).content.decode()
