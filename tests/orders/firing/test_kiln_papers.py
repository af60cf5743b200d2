"""The load sheet and the work ticket: what a keeper and a hand must read, and no money."""

import io

import pytest
from django.urls import reverse
from pypdf import PdfReader

from tests.builders import make_kiln, make_person
from tests.orders.firing.conftest import make_load, moulded_job, put_in, waiting_job

pytestmark = pytest.mark.django_db


def words_of(response) -> str:
    assert response["Content-Type"] == "application/pdf"
    pages = PdfReader(io.BytesIO(response.content)).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def test_the_load_sheet_says_what_goes_in_how_it_is_fired_and_the_cautions(client, workshop):
    job = moulded_job(workshop, customer="Tomas Reku")
    load = make_load(workshop)
    put_in(load, job)
    client.force_login(workshop["keeper"])
    sheet = words_of(client.get(reverse("orders:load_sheet", args=[load.number])))
    assert f"load {load.number}" in sheet and "Tomas Reku" in sheet
    assert "720 °C" in sheet and "30 min" in sheet
    assert f"order {job.order.number}" in sheet and "Green round" in sheet
    for caution in ("carbon monoxide", "heat-proof gloves", "Local rules"):
        assert caution in sheet
    assert "€" not in sheet and "EUR" not in sheet


def test_a_usual_load_and_a_usual_day_stand_on_one_sheet_with_the_cautions_together(
    client, workshop
):
    load = make_load(workshop)
    for _tray in range(6):  # a load of the demo has one to six trays
        put_in(load, moulded_job(workshop))
    for _job in range(8):
        waiting_job(workshop)
    client.force_login(workshop["keeper"])
    sheet = client.get(reverse("orders:load_sheet", args=[load.number]))
    client.force_login(workshop["hand"])
    ticket = client.get(reverse("orders:bench_ticket"))
    for paper, first, last in (
        (sheet, "carbon monoxide", "Local rules"),
        (ticket, "never sweep dry", "Local rules"),
    ):
        [page] = PdfReader(io.BytesIO(paper.content)).pages
        words = " ".join(page.extract_text().split())
        assert first in words and last in words


def test_an_electric_kiln_has_no_smoke_but_a_switch(client, workshop):
    kiln = make_kiln("Muffle", fuel="electricity")
    load = make_load(workshop, kiln=kiln)
    put_in(load, moulded_job(workshop))
    client.force_login(workshop["keeper"])
    sheet = words_of(client.get(reverse("orders:load_sheet", args=[load.number])))
    assert "carbon monoxide" not in sheet and "Switch the kiln off" in sheet


def test_the_work_ticket_lists_the_glass_to_weigh_out_and_no_money(client, workshop):
    job = waiting_job(workshop)
    client.force_login(workshop["hand"])
    ticket = words_of(client.get(reverse("orders:bench_ticket")))
    assert "To mould" in ticket and "Green round" in ticket and " g" in ticket
    assert str(job.to_start) in ticket
    assert "never sweep dry" in ticket and "Local rules" in ticket
    assert "€" not in ticket and "EUR" not in ticket


def test_an_empty_bench_prints_a_ticket_all_the_same(client, workshop):
    client.force_login(workshop["hand"])
    assert "Nothing lies ready" in words_of(client.get(reverse("orders:bench_ticket")))


def test_the_yard_prints_neither(client, workshop):
    load = make_load(workshop)
    client.force_login(make_person("yard"))
    assert client.get(reverse("orders:load_sheet", args=[load.number])).status_code == 404
    assert client.get(reverse("orders:bench_ticket")).status_code == 404
