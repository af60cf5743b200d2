"""Both floors of an order from the book to the screen: Sandbar on 20 April, worked by hand.

Source: the rows of true_cost_checks.csv; see tests/costing/test_two_floors.py for the sums.
"""

from datetime import date, datetime, time
from decimal import Decimal as D
from math import ceil
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.core.exceptions import ValidationError
from django.db.models import F
from django.urls import reverse

from orders.costing.cost_order import cost_order
from orders.costing.new_loads import with_new_loads
from orders.counter.services.ordering import confirm_order, draft_order
from orders.floor.promise import joining_for
from orders.models import DesignPart, Finding, Order, StrandDesign, WantedLine
from orders.money.queries.month_account import account_of
from orders.reckoning.reckon import reckon
from stock.models import GlassForm, KilnLoad, LoadTray, LocationKind
from stock.services.beads import log_good_beads, mould_beads
from stock.services.convert import Taken
from stock.services.places import glass_item, strand_item, usual_place
from stock.services.stringing import hand_over, string_strands
from tests.builders import make_customer, make_person
from tests.costing.checks import expected
from tests.stock.sandbar import (
    april,
    bring_and_pound,
    fire,
    mould,
    sandbar,
)
from workshop.models import Business, WorkingHours

pytestmark = pytest.mark.django_db


def agrees(check: str, found: D) -> None:
    """Within a thousandth of a cent: a bead's spill is kept to six decimals in the book."""
    assert abs(found - expected(check)) < D("0.00001"), (check, found)


MORNING = datetime(2026, 4, 20, 8, 0, tzinfo=ZoneInfo("UTC"))  # a Monday


@pytest.fixture
def shop():
    """The morning of 20 April: 2 bracelets strung, 28 beads sorted, 16.94 kg of powder."""
    Business.objects.all().delete()
    with time_machine.travel(MORNING, tick=False):
        place = sandbar()
        Business.objects.update(
            overhead=D("0.08"), margin=D("0.25"), price_step=D("0.10"), assurance=D("0.95"),
            time_zone="UTC",
        )  # fmt: skip
        for weekday in range(5):
            WorkingHours.objects.create(weekday=weekday, opens=time(8), closes=time(18))
        make_person("bench")
        place.counter = make_person("counter")
        for bead, grams, finished in ((place.tide, D("2.2"), D("2.09")),):
            fired = finished / (1 - bead.polishing_loss)
            bead.weighed_mg, bead.weighed_count = int(finished * 1000), 50
            bead.spill_share = 1 - fired / grams
            bead.save()
        bring_and_pound(place)
        place.batch1 = mould(place, place.tide, 160, 352)
        place.batch2 = mould(place, place.night, 48, 168)
        fire(place, 1, place.batch1, 10)
        fire(place, 2, place.batch2, 4)
        log_good_beads(place.batch1, good=148, rejected=12, person=place.person, on=april(6))
        bracelet = strand_item("Harbour bracelet")
        string_strands(
            bracelet, 8, {place.tide: 120}, person=place.person, on=april(7), findings=D("0.30")
        )
        shelf = usual_place(LocationKind.STRAND_SHELF)
        hand_over(
            [Taken(bracelet, shelf, 6)], person=place.person, why="sold", belongs=("", ""),
            on=april(8),
        )  # fmt: skip
        KilnLoad.objects.filter(number__lt=9000).update(number=F("number") + 9100)
        place.design = bracelet_of(place.tide, bracelet)
        yield place


def bracelet_of(bead, item) -> StrandDesign:
    """Fifteen tide beads, end to end: each leaves √(10² − 2²) = 9.798 mm of the cord."""
    clasp = Finding.objects.create(name="Clasp", kind="clasp", length_mm=0, price=D("0.30"))
    design = StrandDesign.objects.create(
        name="Harbour bracelet", code="harbour", finished_mm=D("147"), item=item, clasp=clasp,
        cord_ratio=1, cord_tails_mm=0, fit="fits",
    )  # fmt: skip
    DesignPart.objects.create(design=design, position=1, bead=bead, count=1, role="repeat")
    return design


def ten(shop, price: D | None = None) -> list[WantedLine]:
    return [WantedLine(shop.design.pk, 10, price)]


def reckoned(shop, lines):
    return reckon(lines, customer=None, business=Business.current(), today=date(2026, 4, 20))


def test_the_book_of_sandbar_gives_both_floors(shop):
    found = reckoned(shop, ten(shop))
    costing = found.costing
    assert costing.lines[0].ready_taken == 2
    (beads,) = costing.beads
    assert (beads.needed, beads.from_shelf, beads.start) == (120, 28, 105)
    agrees("FLOOR-V", beads.of_all)
    agrees("FLOOR-FULL", costing.cost)
    assert (found.promise.loads_new, found.promise.loads_used) == (1, 0)
    agrees("FLOOR-OOP", costing.pocket)
    agrees("FLOOR-LOW", costing.lines[0].lowest)
    agrees("FLOOR-SUGG", costing.lines[0].suggested)


def planned_load(shop, on: date, moulds: int) -> KilnLoad:
    """A load that stands on the board with room beside its moulds."""
    load = KilnLoad.objects.create(
        number=212, kiln=shop.kiln, starts_at=datetime.combine(on, time(9), ZoneInfo("UTC")),
        hold_c=760, hold_min=30,
    )  # fmt: skip
    LoadTray.objects.create(load=load, bead=shop.tide, moulds=moulds, beads=moulds * 16)
    return load


def test_a_load_that_is_lit_anyway_takes_nothing_out_of_the_drawer(shop):
    planned_load(shop, date(2026, 4, 22), 3)
    costing = reckoned(shop, ten(shop)).costing
    joined = joining_for(costing, today=date(2026, 4, 20))
    assert joined is not None
    assert [(load.number, load.day) for load in joined.loads] == [(212, date(2026, 4, 22))]
    agrees("FLOOR-OOP-JOIN", with_new_loads(cost_order(costing.facts), ()).pocket)


def test_a_full_board_has_no_load_to_join(shop):
    costing = reckoned(shop, ten(shop)).costing
    assert joining_for(costing, today=date(2026, 4, 20)) is None


def test_dear_fuel_says_what_would_lower_the_floor(shop):
    """Gas at 171 a load: a single load takes far more than the order's share of it."""
    shop.kiln.fuel_price = D("5.70")
    shop.kiln.usual_fill = D(1)
    shop.kiln.save()
    planned_load(shop, date(2026, 4, 24), 3)
    found = reckoned(shop, ten(shop, D("20.00")))
    (line,) = found.costing.lines
    assert line.pocket_rules
    said = " ".join(found.lower)
    assert "load 212" in said and "24 Apr" in said
    # 172.20 ÷ (20.00 − what one takes without the load, 0.71) = 8.93: ten pay for it already
    assert "From 10 × Harbour bracelet" not in said
    dearer = reckoned(shop, ten(shop, D("9.00")))
    strands = ceil(line.loads_cost / (D(9) - line.pocket_alone / 10))
    assert f"From {strands} × Harbour bracelet" in " ".join(dearer.lower)


# --- the owner's word -------------------------------------------------------------------------


def draft(shop, price: str) -> Order:
    return draft_order(make_customer(), ten(shop, D(price)), person=shop.counter)


def test_below_its_share_the_owner_says_why_and_it_stands_in_the_log(shop):
    from workshop.models import AuditEntry

    order = draft(shop, "6.50")
    with pytest.raises(ValidationError, match="not its share of kiln and rent .short €20.01"):
        confirm_order(order, person=shop.counter, owner_word="because")
    with pytest.raises(ValidationError, match="write why"):
        confirm_order(order, person=shop.person, owner_word="  ")
    confirm_order(order, person=shop.person, owner_word="to fill Monday's load")
    order.refresh_from_db()
    assert (order.below_cost_by, order.below_cost_why) == (shop.person, "to fill Monday's load")
    agrees("FLOOR-FULL", order.cost)
    agrees("FLOOR-OOP", order.pocket)
    said = AuditEntry.objects.get(act="confirm order").after
    assert said["why"] == "to fill Monday's load"
    assert "Harbour bracelet pays for itself" in said["below"]


def test_below_what_leaves_the_drawer_it_loses_money(shop):
    order = draft(shop, "1.25")
    with pytest.raises(ValidationError, match="takes €12.54 out of the drawer"):
        confirm_order(order, person=shop.counter)


def test_on_both_floors_nobody_is_asked(shop):
    order = draft(shop, "8.51")
    confirm_order(order, person=shop.counter)
    order.refresh_from_db()
    assert order.below_cost_by is None and order.below_cost_why == ""


# --- on the screens ----------------------------------------------------------------------------


def typed(shop, **more) -> dict[str, str]:
    pk = shop.design.pk
    return {"line": str(pk), f"n_{pk}": "10", **more}


def test_the_counter_shows_both_floors_and_opens_each(shop, client):
    client.force_login(shop.counter)
    page = client.post(reverse("orders:counter_panel"), typed(shop)).content.decode()
    for words in ("Full cost", "€85.01", "Out of pocket", "€12.54", "Lowest price", "€85.10"):
        assert words in page
    assert "€5.40 of what leaves the drawer is for new loads" in page
    for figure, words in (
        ("full", "Likely left over"),
        ("pocket", "Loads lit for it"),
        ("lowest", "The greater of the two"),
    ):
        opened = client.post(reverse("orders:counter_working", args=[figure]), typed(shop))
        assert words in opened.content.decode()


def test_the_counter_says_the_words_of_a_price_below(shop, client):
    client.force_login(shop.counter)
    price = {f"p_{shop.design.pk}": "6.50"}
    page = client.post(reverse("orders:counter_panel"), typed(shop, **price)).content.decode()
    assert "Fine now and then to fill a load" in page
    assert "does not carry its share below €8.51" in page
    price = {f"p_{shop.design.pk}": "1.00"}
    page = client.post(reverse("orders:counter_panel"), typed(shop, **price)).content.decode()
    assert "loses money below €8.51" in page


def test_the_order_page_shows_them_before_and_after_it_is_confirmed(shop, client):
    client.force_login(shop.person)
    order = draft(shop, "6.50")
    page = client.get(reverse("orders:order_detail", args=[order.number])).content.decode()
    for words in ("€85.01", "€12.54", "€85.10", "Why sell below the lowest price"):
        assert words in page
    confirm_order(order, person=shop.person, owner_word="to fill a load")
    page = client.get(reverse("orders:order_detail", args=[order.number])).content.decode()
    for words in ("€85.01", "€12.54", "to fill a load"):
        assert words in page
    for figure, words in (("full", "Likely left over"), ("pocket", "Raw glass bought for it")):
        opened = client.get(
            reverse("orders:order_working", args=[order.number]), {"figure": figure}
        )
        assert words in opened.content.decode()


def test_what_if_sets_both_floors_side_by_side(shop, client):
    client.force_login(shop.person)
    order = draft(shop, "9.00")
    address = reverse("orders:order_what_if", args=[order.number])
    answer = client.post(address, {"n_0": "20"})
    page = answer.content.decode()
    assert answer.status_code == 200, page[-3000:]
    for words in ("Full cost", "€85.01", "Out of pocket", "€12.54"):
        assert words in page


def test_the_cost_sheet_prints_both_floors(shop, client):
    from orders.reckoning.papers import cost_sheet_html

    order = draft(shop, "9.00")
    confirm_order(order, person=shop.counter)
    order = Order.objects.select_related("customer", "taken_by").get(pk=order.pk)
    sheet = cost_sheet_html(order, Business.current())
    assert "Full cost of the order" in sheet and "Out of pocket for the order" in sheet


def test_the_panel_asks_the_book_as_often_whatever_is_ordered(shop, client):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    client.force_login(shop.counter)
    address = reverse("orders:counter_panel")
    client.post(address, typed(shop))  # what is kept of the month and the session
    with CaptureQueriesContext(connection) as one:
        client.post(address, typed(shop))
    more = typed(shop)
    more[f"n_{shop.design.pk}"] = "500"
    with CaptureQueriesContext(connection) as many:
        client.post(address, more)
    assert len(one) == len(many)


# --- what is quoted, what lies on the shelf, what the month says ----------------------------------


def whole_rejects(shop):
    """An order whose expected rejects are whole beads, so that making it can go as expected."""
    for rate in ("0.10", "0.20", "0.05", "0.25"):
        shop.tide.reject_rate = D(rate)
        shop.tide.save()
        for strands in range(5, 12):
            costing = reckoned(shop, [WantedLine(shop.design.pk, strands)]).costing
            start = costing.beads[0].start
            if start * D(rate) % 1 == 0 and costing.beads[0].firings[0].fills < 9:
                return strands, costing
    raise AssertionError("no such order")


def test_floor_from_making_floor_from_stock_and_the_account_of_the_day_agree(shop):
    """An order is made as it was quoted: the shelf and the account say what the quote said.

    One amount stands between them, and has a name: the quote bears the set-ups of its beads whole,
    and in the book the beads left over take their part of them along to the shelf.
    """
    strands, quoted = whole_rejects(shop)
    (beads,) = quoted.beads
    rejects = int(beads.start * beads.reject_rate)
    day = april(20)
    powder = Taken(
        glass_item(shop.green, GlassForm.POWDER),
        usual_place(LocationKind.GLASS_SHELF),
        int(beads.start * beads.fill_g * 1000),
    )
    batch = mould_beads(shop.tide, beads.start, person=shop.person, on=day, glass=[powder])
    fire(shop, 17, batch, beads.fills)  # on the 20th
    log_good_beads(batch, good=beads.start - rejects, rejected=rejects, person=shop.person, on=day)
    string_strands(
        shop.design.item, strands - 2, {shop.tide: 15 * (strands - 2)}, person=shop.person,
        on=day, findings=D("0.30"),
    )  # fmt: skip
    ready = reckoned(shop, [WantedLine(shop.design.pk, strands)]).costing
    assert ready.lines[0].ready_taken == strands and not ready.labour_min - D("13.2")
    # 8 minutes to set up moulding and 12 for polishing, at 0.15 and 0.10 a minute: 5.00.
    left_over = 1 - D(beads.to_make) / (beads.start - rejects)
    of_set_ups = 20 * D("0.25") * left_over
    assert of_set_ups > D("0.05")
    assert abs(ready.cost - (quoted.cost - of_set_ups * D("1.08"))) < D("0.01")
    account = account_of(day, day).account
    (line,) = quoted.lines
    put = beads.of_all + beads.scrap - beads.glass_cost  # the glass was in goods already
    put += line.findings_cost + line.labour_cost + line.workshop_cost + 24 * D("0.25")
    assert abs(account.put - put) < D("0.01")
    goods = {each.key: each.amount for each in account.goods}
    assert goods["after"] - goods["before"] == goods["put_in"] == account.put
