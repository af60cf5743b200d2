"""Paint, kiln wash and fuel in stock: taken by their standard or weight, and given back."""

from datetime import datetime, timedelta
from decimal import Decimal

import time_machine
from django.urls import reverse
from django.utils import timezone

from orders.models import Finding
from orders.money.queries.month_account import account_of
from stock.models import Balance, Charge, KilnLoad, PostingKind
from stock.services.beads import mould_beads, paint_beads
from stock.services.book import Move, post
from stock.services.places import TO_PAINT, bench_place
from stock.services.supplies import use_at_load
from stock.services.undo import take_back
from tests.builders import make_bead, make_person, put_beads
from tests.orders.supplies.test_buy import buy, differences, lies
from tests.pages import marks_of
from workshop.models import Kiln


def make_supply(kind: str, kg: int, price: str, **given) -> Finding:
    """So many kilograms of something, bought for so much."""
    finding = Finding.objects.create(name=f"The {kind}", kind=kind, price=Decimal(1), **given)
    buy(finding, kg * 1_000_000, price)
    return finding


def test_filling_moulds_takes_the_wash_that_its_standard_charges(monday):
    bead = monday["bead"]
    type(bead.mould).objects.filter(pk=bead.mould_id).update(wash_per_fill=Decimal("0.02"))
    bead.mould.refresh_from_db()
    wash = make_supply("wash", 2, "12.80")
    batch = mould_beads(bead, 36, person=make_person("bench"))
    # 3 fillings of 12 at 0.02 are 0.06; at 12.80 for 2 kg that is 0.06 ÷ 6.40 = 0.009375 kg.
    assert lies(wash) == (2_000_000 - 9_375, 0, Decimal("12.74"))
    posting = batch.item.movements.get(to_place__kind="bench").posting
    assert posting.charges.get(step="wash").amount == Decimal("0.06")
    assert posting.charges.get(name="used").amount == Decimal("-0.06")
    assert differences() == []
    take_back(posting, person=make_person("owner"), why="wrong bead")
    assert lies(wash) == (2_000_000, 0, Decimal("12.80"))
    assert differences() == []


def two_pots() -> list[Finding]:
    """A kilogram of paint for 60.00 and half a kilogram of white for 20.00."""
    pots = [make_supply("paint", 1, "60.00")]
    pots.append(Finding.objects.create(name="White paint", kind="paint", price=1))
    buy(pots[1], 500_000, "20.00")
    for pot in pots:
        pot.refresh_from_db()
    return pots


def to_be_painted(monday):
    """40 beads of a kind that bears 0.05 of paint each stand to be painted; gives their batch."""
    bead = make_bead(
        "Painted", kind="painted", second_programme=monday["bead"].programme,
        paint_price_each=Decimal("0.05"),
    )  # fmt: skip
    item = put_beads(bead, 40)
    place = bench_place(TO_PAINT)
    shelf = item.balances.get(inside=True).place
    post(
        PostingKind.MOVE, [Move(item, shelf, place, 40)], on=timezone.localdate(),
        person=make_person("bench"), why="to be painted",
    )  # fmt: skip
    return item.batch


def test_painting_takes_paint_of_each_pot_and_no_more_than_there_is(monday):
    pots = two_pots()
    painted = paint_beads(to_be_painted(monday), person=make_person("bench"))
    # 40 × 0.05 = 2.00 of 80.00 is a fortieth of each pot.
    assert lies(pots[0])[:1] == (975_000,)
    assert lies(pots[1])[:1] == (487_500,)
    assert differences() == []
    take_back(painted, person=make_person("owner"), why="the wrong ones")
    assert [lies(pot)[0] for pot in pots] == [1_000_000, 500_000]
    assert differences() == []


def test_painting_takes_of_each_paint_its_own_amount_where_it_was_weighed(client, monday):
    ground, white = two_pots()
    batch = to_be_painted(monday)
    page = reverse("stock:bead_paints", args=[batch.bead_id])
    client.force_login(make_person("kiln"))
    assert page in client.get(reverse("stock:bead", args=[batch.bead_id])).content.decode()
    sent = {f"g_{white.item_id}": "1,25"} | marks_of(client, page)
    assert client.post(page, sent).status_code == 302
    assert client.post(page, sent).status_code == 422, "what it was filled from is gone"
    assert (
        "12.5 mg on one" in client.get(reverse("stock:bead", args=[batch.bead_id])).content.decode()
    )
    painted = paint_beads(batch, person=make_person("bench"))
    # 1.25 g on a hundred are 12.5 mg on one: 40 take 500 mg of the white, and none of the other.
    assert [lies(pot)[0] for pot in (ground, white)] == [1_000_000, 499_500]
    take_back(painted, person=make_person("owner"), why="the wrong ones")
    # With the other ticked and not weighed, it bears the rest of the 2.00 that the beads bear:
    # the white costs 40.00 a kilogram, so 500 mg cost 0.02; 1.98 of 60.00 are 33 g of a kilogram.
    sent = {f"g_{white.item_id}": "1,25", f"on_{ground.item_id}": "on"} | marks_of(client, page)
    assert client.post(page, sent).status_code == 302
    paint_beads(batch, person=make_person("bench"))
    assert [lies(pot)[0] for pot in (ground, white)] == [967_000, 499_500]
    assert differences() == []
    wrong = client.post(page, {f"g_{white.item_id}": "0"} | marks_of(client, page))
    assert wrong.status_code == 422
    client.force_login(make_person("counter"))
    assert client.get(page).status_code == 404


def test_a_load_takes_the_fuel_it_was_logged_with(monday):
    wood = make_supply("fuel", 100, "14.00", fuel="wood")
    keeper, today = make_person("kiln"), timezone.localdate()
    use_at_load("7", "wood", used_kg=Decimal("24.5"), wash=Decimal(0), person=keeper, on=today)
    assert lies(wood) == (75_500_000, 0, Decimal("10.57"))
    none = use_at_load("8", "lpg", used_kg=Decimal(5), wash=Decimal(0), person=keeper, on=today)
    assert none is None
    # More than the book knows of: what there is, and the keeper is not held up.
    use_at_load("9", "wood", used_kg=Decimal(90), wash=Decimal(0), person=keeper, on=today)
    assert lies(wood) == (0, 0, Decimal(0))
    assert differences() == []


def test_what_is_logged_for_an_earlier_day_takes_no_more_than_lay_there_then(monday):
    keeper = make_person("kiln")
    wood = make_supply("fuel", 100, "14.00", fuel="wood")
    yesterday = timezone.localdate() - timedelta(days=1)
    assert use_at_load(
        "7", "wood", used_kg=Decimal(24), wash=Decimal(0), person=keeper, on=yesterday
    ) is None  # fmt: skip
    assert lies(wood)[0] == 100_000_000


def test_the_account_of_the_month_adds_up_with_what_was_bought_and_used(monday):
    wood = make_supply("fuel", 100, "14.00", fuel="wood")
    keeper, today = make_person("kiln"), timezone.localdate()
    use_at_load("7", "wood", used_kg=Decimal(50), wash=Decimal(0), person=keeper, on=today)
    with time_machine.travel(datetime.combine(today, datetime.min.time()) + timedelta(hours=15)):
        goods = {each.key: each.amount for each in account_of(today, today).account.goods}
    assert (goods["bought"], goods["used"]) == (Decimal("14.00"), Decimal("-7.00"))
    before, after = goods.pop("before"), goods.pop("after")
    assert before + sum(goods.values()) == after
    assert Charge.objects.get(name="used").amount == Decimal("-7.00")
    assert lies(wood)[2] == Decimal("7.00")


def test_fuel_from_the_shelf_is_burnt_at_what_it_cost_and_the_rest_at_its_price(monday):
    wood = make_supply("fuel", 20, "6.00", fuel="wood")
    kiln, today = Kiln.objects.get(), timezone.localdate()
    Kiln.objects.update(fuel="wood", fuel_price=Decimal("0.20"))
    at = timezone.now()
    KilnLoad.objects.create(
        number=7, kiln=kiln, state="cooled", starts_at=at, started_at=at, ended_at=at, hold_c=720,
        hold_min=30, fuel_used=Decimal(25),
    )  # fmt: skip
    use_at_load(
        "7", "wood", used_kg=Decimal(25), wash=Decimal(0), person=make_person("kiln"), on=today
    )
    # 20 kg at 0.30, and 5 kg that the book knew nothing of at the kiln's 0.20: 7.00.
    lines = {line.key: line for line in account_of(today, today).account.lines}
    assert lines["fuel"].spent == Decimal("7.00")
    assert lies(wood)[0] == 0


def test_the_shelf_is_counted_in_metres_and_pieces_on_its_page(client, clasp, cord):
    buy(clasp, 10, "3.00")
    buy(cord, 100_000, "6.00")
    place = Balance.objects.get(item=cord.item_id, inside=True).place
    client.force_login(make_person("bench"))
    page = reverse("stock:count", args=[place.pk])
    sent = {f"item_{clasp.item_id}": "9", f"item_{cord.item_id}": "98.5", "on": "2027-03-01"}
    sent |= {f"was_{clasp.item_id}": "10", f"was_{cord.item_id}": "100000", "why": "one gone"}
    assert client.post(page, sent).status_code == 302
    assert lies(clasp) == (9, 0, Decimal("2.70"))
    assert lies(cord) == (98_500, 0, Decimal("5.91"))
