"""Every act that a phone may do without a signal: written down, the browser closed, sent once."""

import io
import json
import os
from datetime import datetime, timedelta
from decimal import Decimal
from pathlib import Path
from urllib.parse import quote

import pytest
from django.db import connection  # noqa: F401, asked for by the mark below
from django.utils import timezone
from PIL import Image
from playwright.sync_api import expect

from orders.bench.services import finish_job
from orders.firing.queries.trays import trays_of
from orders.firing.services.log import TrayIn, TrayOut, log_firing, start_load
from orders.models import DesignPrice
from stock.models import Balance, GlassForm, LocationKind, StockLocation
from stock.services.sacks import weigh_in_sack
from tests.browser.looking import SIDEWAYS
from tests.browser.paired_phones import PHONES, another_edition, keeps, yard_in
from tests.builders import make_collector, make_colour, make_design, make_kiln, make_person
from tests.orders.counter.selling import ready_strands
from tests.orders.firing.conftest import hot as _hot
from tests.orders.firing.conftest import make_load, moulded_job, painted_bead, put_in, waiting_job
from workshop.models import Mould

hot = _hot
pytestmark = [
    pytest.mark.browser,
    pytest.mark.slow,
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif("connection.vendor != 'sqlite'", reason="a desk has a book of SQLite"),
]
WAITING = "/workshop/phones/waiting/"
LATE = "SELECT act, count(*) FROM workshop_act WHERE after LIKE '%happened at%' GROUP BY act"


UNFOLD = "for (const each of document.querySelectorAll('main details')) each.open = true"
HOUR = "(ms) => new Date(ms).toLocaleString([], { dateStyle: 'medium', timeStyle: 'short' })"
SCREENS = os.environ.get("SCREENS")


def pictured(page, name: str) -> None:
    """With `SCREENS=folder` a picture at each width is kept, to be looked at."""
    for width in (360, 768, 1280) if SCREENS else ():
        page.set_viewport_size({"width": width, "height": 800})
        page.screenshot(path=Path(SCREENS) / f"{name}-{width}.png", full_page=True)
    page.set_viewport_size({"width": 360, "height": 740})


def burn(hot, load, hours_ago):
    load.refresh_from_db()
    at = timezone.now() - timedelta(hours=hours_ago)
    start_load(load, [TrayIn(t, t.beads) for t in trays_of(load)], person=hot["keeper"], at=at)
    return load


def cooled(hot, kiln, **given):
    job = moulded_job(hot, **given)
    load = make_load(hot, kiln=kiln, starts_at=timezone.now() - timedelta(hours=30))
    put_in(load, job)
    burn(hot, load, 30)
    outs = [TrayOut(tray, tray.beads, 0) for tray in trays_of(load)]
    log_firing(load, outs, person=hot["keeper"], ended_at=timezone.now() - timedelta(hours=20))
    job.refresh_from_db()
    return job


@pytest.fixture
def work(hot, tmp_path):
    """One piece of work for each act, and the yard with its desk."""
    for role in PHONES.values():
        make_person(role)
    make_person("owner")
    Mould.objects.update(owned=40)
    muffle, clamp = make_kiln("Muffle"), make_kiln("Clamp")
    weigh_in_sack(make_collector(), colour=make_colour(), gross_g=20_000, person=hot["hand"])
    to_light = make_load(hot, kiln=muffle)
    put_in(to_light, moulded_job(hot, customer="Tomas Reku"))
    to_log = make_load(hot, kiln=clamp)
    put_in(to_log, moulded_job(hot, customer="Ilka Dorn"))
    to_pierce = make_load(hot, hold_c=860, starts_at=timezone.now() - timedelta(hours=5))
    put_in(to_pierce, moulded_job(hot, customer="Old Harbour Stall", design=hot["chunky"]))
    to_string = cooled(hot, muffle, customer="Noor Vale")
    finish_job(to_string, good=to_string.to_start, rejected=0, person=hot["hand"])
    painted = make_design("Painted", beads=painted_bead())
    to_paint = cooled(hot, muffle, customer="Ines Tarrow", design=painted)
    to_finish = cooled(hot, muffle, customer="Bo Lund")
    burn(hot, to_log, 30)
    burn(hot, to_pierce, 5)
    ready = ready_strands("Shelf bracelet", 3)
    DesignPrice.objects.create(design=ready, price=Decimal("6.50"), valid_from="2026-01-01")
    shelf = StockLocation.objects.filter(kind=LocationKind.STRAND_SHELF).first()
    to_mould = waiting_job(hot)
    return {
        "yard": yard_in(tmp_path),
        "mould": to_mould,
        "paint": to_paint,
        "finish": to_finish,
        "string": to_string.order.lines.get(),
        "light": to_light,
        "pierce": to_pierce,
        "log": to_log,
        "shelf": shelf,
        "hand": hot["hand"],
        "ready": ready,
    }


def a_picture() -> dict:
    out = io.BytesIO()
    Image.frombytes("RGB", (640, 480), os.urandom(640 * 480 * 3)).save(out, "JPEG")
    return {"name": "p.jpg", "mimeType": "image/jpeg", "buffer": out.getvalue()}


def written_down(page, yard, path: str, boxes: dict[str, str], *, photo: bool = False) -> None:
    """Fill in a page that was kept, by the names of its boxes, and press its button."""
    page.goto(yard.at(path))
    page.set_default_timeout(30_000)
    expect(page.locator(".message.kept")).to_contain_text("out of reach")
    assert page.evaluate(SIDEWAYS) <= 0, path
    for name, value in boxes.items():
        box = page.locator(f"main [name='{name}']").first
        if box.get_attribute("type") in {"radio", "checkbox"}:
            named = "" if value == "on" else f"[value='{value}']"
            page.locator(f"main [name='{name}']{named}").first.evaluate("box => box.click()")
        else:
            page.evaluate(UNFOLD)
            box.fill(value)
    if photo:
        page.locator("input[data-photo]").set_input_files(a_picture())
        expect(page.locator("button.main").first).to_be_enabled()
    page.locator("button.main").first.click()
    expect(page).to_have_url(yard.at(WAITING), timeout=20_000)


def acts_of(work) -> list[tuple[str, dict[str, str]]]:
    """The page of each act, and what is written there."""
    beads = {each: str(work[each].to_start) for each in ("mould", "finish")}
    heap = Balance.objects.get(item__form=GlassForm.RAW, inside=True)
    shelved = Balance.objects.filter(place=work["shelf"], quantity__gt=0).first()
    [tray] = trays_of(work["log"])
    ready = work["ready"].pk
    return [
        ("/stock/preparations/log/", {f"in_{heap.pk}": "5", f"out_{make_colour().pk}": "4"}),
        (f"/bench/beads/{work['mould'].pk}/moulded/", {"count": beads["mould"], "minutes": "9"}),
        (f"/bench/beads/{work['paint'].pk}/painted/", {"minutes": "12"}),
        (f"/firing/load/{work['pierce'].number}/pierced/", {"pierced_by": str(work["hand"].pk)}),
        (f"/bench/beads/{work['finish'].pk}/finished/", {"good": beads["finish"]}),
        (f"/bench/strands/{work['string'].pk}/strung/", {"strands": "1"}),
        (f"/firing/load/{work['light'].number}/start/", {}),
        (f"/firing/load/{work['log'].number}/log/", {f"all_{tray.pk}": "on"}),
        (f"/stock/counts/{work['shelf'].pk}/", {f"item_{shelved.item_id}": "3"}),
        ("/sell/", {f"n_{ready}": "1"}),
        ("/counter/phone/", {"who": "Rosa Quay", f"n_{ready}": "4", "deposit": "2"}),
    ]


def test_every_act_is_written_down_on_a_phone_whose_clock_is_wrong_and_sent_once(
    work, playwright, browser_type_launch_args, tmp_path
):
    yard, acts = work["yard"], acts_of(work)
    given = (playwright, browser_type_launch_args, "owner")
    load = f"/firing/load/{work['light'].number}/"
    sacks = yard.asked("SELECT count(*) FROM stock_sack")[0][0]
    wrong = another_edition(tmp_path / "wrong", clock_ahead_ms=2 * 60 * 60 * 1000)
    with yard.open_desk(wrong), yard.phone(*given) as page:
        yard.come_in(page, "owner")
        keeps(page, *(path for path, _boxes in acts), "/stock/sacks/log/", load, WAITING)
        keeps(page, "/workshop/photos/", "/scan/")
    began = timezone.now()
    for some in (acts[:6], acts[6:]):
        # The browser is closed and opened again in between, the desk being away.
        with yard.phone(*given) as page:
            for path, boxes in some:
                written_down(page, yard, path, boxes)
    with yard.phone(*given) as page:
        assert (
            page.goto(yard.at(WAITING))
            and page.evaluate("Date.now()") / 1000
            > (timezone.now() + timedelta(hours=1.9)).timestamp()
        )
        sack = {"collector": str(make_collector().pk), "colour": str(make_colour().pk)}
        written_down(page, yard, "/stock/sacks/log/", {**sack, "gross_g": "7 kg"}, photo=True)
        # The code of a load sheet leads to the page that was kept of the load.
        page.goto(yard.at(f"/scan/?code={quote(yard.at(load))}"))
        expect(page).to_have_url(yard.at(load))
        page.get_by_role("link", name="Photograph the load or its defects").click()
        expect(page.get_by_role("heading", level=1)).to_have_text("Photograph of a load")
        page.locator("input[data-photo]").set_input_files(a_picture())
        page.get_by_label("What it shows").fill("a crack in the door")
        page.get_by_role("button", name="Keep the photograph").click()
        expect(page).to_have_url(yard.at(WAITING), timeout=20_000)
        rows = page.locator("#phone-acts > li")
        expect(rows).to_have_count(len(acts) + 2)
        expect(rows.last.locator("img")).to_be_visible()
        expect(rows.last).to_contain_text(f"oad {work['light'].number}")
        hours = {
            page.evaluate(HOUR, (began + timedelta(minutes=late)).timestamp() * 1000)
            for late in range(int((timezone.now() - began).total_seconds() // 60) + 2)
        }
        for row in rows.all():
            assert row.locator("[data-hour]").inner_text() in hours, "the hour of the desk"
        pictured(page, "waiting")
        raw = page.evaluate(
            "async () => (await phoneStore.all('acts')).map("
            "(row) => new TextDecoder('latin1').decode(row.data)).join()"
        )
        assert "/9j/" not in raw and "JFIF" not in raw, "photographs are enciphered too"
    ended = timezone.now()
    # The desk is back; somebody put the phone's clock right meanwhile.
    with yard.open_desk(), yard.phone(*given) as page:
        page.goto(yard.at(WAITING))
        told = page.locator("#phone-told > li")
        try:
            expect(told).to_have_count(len(acts) + 2, timeout=100_000)
        except AssertionError:
            print(page.locator("#main").inner_text())
            raise
        expect(page.locator("#phone-acts > li")).to_have_count(0)
        told = page.locator("#phone-told [data-said]").all_inner_texts()
        assert all(told), f"each with its sentence: {told}"
        pictured(page, "told")
    print(yard.asked(LATE))
    late = yard.asked("SELECT after FROM workshop_act WHERE after LIKE '%happened at%' ORDER BY id")
    hours = [datetime.fromisoformat(json.loads(after)["happened at"]) for (after,) in late]
    slack = timedelta(seconds=20)
    assert began - slack < min(hours) and max(hours) < ended + slack
    assert hours == sorted(hours), "in the order in which they were done"
    assert yard.asked("SELECT count(*) FROM stock_sack")[0][0] == sacks + 1
    assert yard.asked("SELECT kind FROM workshop_photo ORDER BY id") == [("sack",), ("load",)]
    yard.check_book()
