"""Orders worked by hand from the written conventions, against `manage.py cost ORDER --json`.

Each sum stands beside its figure. Tubes are used, whose volume anybody can work out:
π/4 × (8² − 2²) × 8 = 376.99 mm³. Beads to start are scipy 1.17's `n + nbinom.ppf(p, n, 1 − q)`.
"""

import json
from datetime import date
from decimal import Decimal as D
from io import StringIO
from math import ceil, pi

import pytest
from django.core.management import call_command

from orders.counter.services.ordering import draft_order
from orders.making.services.holds import strand_item
from orders.models import DesignPart, DesignPrice, Finding, QuantityBreak, StrandDesign, WantedLine
from stock.models import LocationKind
from tests.builders import (
    _opening,
    make_bead,
    make_business,
    make_colour,
    make_customer,
    make_kiln,
    make_mould,
    make_person,
    make_programme,
    make_rate,
    put_beads,
    put_glass,
)

DAY = date(2026, 1, 1)
TUBE_MM3 = pi / 4 * (8**2 - 2**2) * 8
# 2.50 g/cm³, 5 % pores, 4 % polished away, 2 % spilt: 0.95171 g weighed out for one
FILL_G = TUBE_MM3 / 1000 * 2.5 * 0.95 / 0.96 / 0.98


@pytest.fixture
def shop(db):
    make_business(overhead=D("0.10"), margin=D("0.25"), price_step=D("0.10"))
    make_kiln("Drum", usual_fill=1, places=24, preheat_min=60, cooling_min=90, highest_c=820,
              fuel_price=D("0.25"), fuel_per_load=D(24))  # fmt: skip
    make_kiln("Hot", usual_fill=1, places=10, preheat_min=45, cooling_min=120, fuel="electricity",
              fuel_price=D("0.30"), efficiency=D("0.50"))  # fmt: skip
    green = make_colour(powder_yield=D("0.90"), washing_yield=D("0.95"), price_per_kg=D("0.40"),
                        bottle_g=400)  # fmt: skip
    put_glass(green, "powder", "0.1")
    make_rate("Filling", skill="moulding", basis="mould", minutes_each=D(6), setup_min=D(15),
              allowance=D("0.15"), hourly=D(10))  # fmt: skip
    make_rate("Packing", skill="stringing", basis="order", minutes_each=D(20), hourly=D(8))


def tube(name: str = "Tube", **given):
    usual = {"shape": "tube", "diameter_mm": D(8), "bore_mm": D(2), "length_mm": D(8)}
    usual |= {"reject_rate": D("0.08"), "porosity": D("0.05"), "polishing_loss": D("0.04")}
    usual |= {"spill_share": D("0.02"), "mould": make_mould("Trough", cavities=12, owned=6)}
    return make_bead(name, **usual | given)


def design(*parts, **given) -> StrandDesign:
    made = StrandDesign.objects.create(
        **{"name": "Strand", "code": "strand", "finished_mm": D("406.4")} | given
    )
    for place, (bead, count, role) in enumerate(parts, 1):
        DesignPart.objects.create(design=made, position=place, bead=bead, count=count, role=role)
    return made


def told(of: StrandDesign, strands: int, *, customer=None, price=None) -> dict:
    order = draft_order(
        customer or make_customer(), [WantedLine(of.pk, strands, price)], person=make_person()
    )
    out = StringIO()
    call_command("cost", str(order.number), "--json", stdout=out)
    return json.loads(out.getvalue())


def figure(tree: dict, *keys: str) -> float:
    for key in keys:
        tree = next(child for child in tree["children"] if child["key"] == key)
    return float(tree["value"])


def near(expected: float):
    return pytest.approx(expected, rel=1e-12)


def test_thirty_knotted_strands_of_sixteen_inches(shop):
    bead = tube()
    tree = told(design((bead, 1, "repeat"), gap="knot", gap_mm=D(1)), 30)
    strand = ("strands", str(StrandDesign.objects.get().pk))
    assert figure(tree, *strand, f"bead {bead.pk}") == 45  # (406.4 + 1) ÷ (8 + 1) = 45.3
    assert figure(tree, *strand, "finished") == near(404)  # 45 × 8 + 44 × 1
    assert figure(tree, "beads", f"bead {bead.pk}", "needed") == 1350
    # scipy: 1350 + nbinom.ppf(0.95, 1350, 0.92) = 1486; naive 1350 ÷ 0.92 = 1468
    assert figure(tree, "beads", f"bead {bead.pk}", "start") == 1486
    glass = ("glass", f"colour {bead.colours.get().colour_id}")
    needed = 1486 * FILL_G
    assert figure(tree, *glass, "Ready glass") == near(needed)  # 1,414.2 g
    assert figure(tree, *glass, "short") == near((needed - 100) / 0.90 / 0.95)  # no raw glass
    assert figure(tree, *glass, "bottles") == ceil((needed - 100) / 0.855 / 400) == 4
    fills = 124  # 1486 ÷ 12 = 123.8
    assert figure(tree, "firings", "kiln time") == near((60 + 30 + 90) * fills / 24)
    assert figure(tree, "firings", "loads") == 21  # 6 moulds owned: 124 ÷ 6
    fuel = 24 * fills / 24 * 0.25
    labour = (15 + 6 * 1.15 * fills) * 10 / 60 + 20 * 8 / 60
    paid = needed / 0.855 * 0.40 / 1000
    # rejects bring the raw glass they replace; of 1486 × 0.92 good ones 1350 are this order's
    scrap = 1486 * 0.08 * FILL_G * 0.98 * 0.40 / 1000
    setup_and_packing = 15 * 10 / 60 + 20 * 8 / 60
    beads = (paid + fuel + labour - setup_and_packing - scrap) * 1350 / (1486 * 0.92)
    cost = (beads + setup_and_packing) * 1.10
    assert figure(tree, "cost", "making", "fuel") == near(fuel)  # 31.00
    assert figure(tree, "cost", "making", "labour") == near(labour)
    assert figure(tree, "cost") == near(cost)
    assert figure(tree, "lines", "line 1", "suggested") == near(ceil(cost / 30 / 0.75 * 10) / 10)


def test_painted_beads_are_fired_twice_in_the_kiln_that_reaches_it(shop):
    hot = make_programme("Hot", hold_c=880, hold_min=40, from_c=850, to_c=900, to_min=45)
    paint = make_programme("Paint", hold_c=620, hold_min=20, from_c=600, to_c=640, from_min=15)
    bead = tube(kind="painted", programme=hot, second_programme=paint, reject_rate=D("0.10"),
                second_reject_rate=D("0.05"), paint_price_each=D("0.02"))  # fmt: skip
    make_rate("Painting", skill="painting", basis="bead", minutes_each=D("0.8"), hourly=D(12))
    tree = told(design((bead, 1, "repeat"), finished_mm=D(160)), 5)  # 20 beads each
    # 1 − 0.90 × 0.95 = 0.145; scipy: 100 + nbinom.ppf(0.95, 100, 0.855) = 125
    assert figure(tree, "beads", f"bead {bead.pk}", "start") == 125
    # 125 ÷ 12 → 11 fills; 125 × 0.9 = 112.5 → 113 painted, 10 fills. Hot: 205 min, 10 places;
    # the paint goes to the first kiln that reaches 620 °C, the drum: 170 min, 24 places
    assert figure(tree, "firings", "kiln time") == near(205 * 11 / 10 + 170 * 10 / 24)
    # Hot is electric: (glass × 1.12 + clay × 1.00) × (880 − 25) kJ at 50 % of 3.6 MJ/kWh
    # of 11 moulds of 12 beads, each 98 % of what was weighed out for it
    heat_mj = (11 * 12 * FILL_G * 0.98 / 1000 * 1.12 + 11 * 0.9 * 1.00) * 855 / 1000
    fuel = heat_mj / 0.5 / 3.6 * 0.30 + 24 * 10 / 24 * 0.25
    assert figure(tree, "cost", "making", "fuel") == near(fuel)
    assert figure(tree, "cost", "making", "pigment") == near(113 * 0.02)
    labour = (15 + 6.9 * 11) * 10 / 60 + 113 * 0.8 * 12 / 60 + 20 * 8 / 60
    assert figure(tree, "cost", "making", "labour") == near(labour)


def test_beads_remade_from_three_glasses_take_rejects_and_no_raw_glass(shop):
    green, amber = make_colour(), make_colour("amber", density_g_cm3=D("2.54"), price_per_kg=D(1))
    cobalt = make_colour("cobalt", density_g_cm3=D("2.46"), price_per_kg=D(2))
    put_glass(green, "rejects", "0.05")
    bead = tube(kind="remade", colours={green: "0.5", amber: "0.3", cobalt: "0.2"})
    tree = told(design((bead, 1, "repeat"), finished_mm=D(160)), 5)
    start = 114  # the known 100 at 8 % and 95 %
    # volumes add up: 1 ÷ (0.5 ÷ 2.50 + 0.3 ÷ 2.54 + 0.2 ÷ 2.46) = 2.5038 g/cm³
    density = 1 / (0.5 / 2.50 + 0.3 / 2.54 + 0.2 / 2.46)
    fill = TUBE_MM3 / 1000 * density * 0.95 / 0.96 / 0.98
    assert figure(tree, "beads", f"bead {bead.pk}", "start") == start
    for colour, share, free in ((green, 0.5, 50), (amber, 0.3, 0), (cobalt, 0.2, 0)):
        grams = start * fill * share
        assert figure(tree, "glass", f"colour {colour.pk}", "Ready glass") == near(grams)
        assert figure(tree, "glass", f"colour {colour.pk}", "short") == near(grams - free)
        assert figure(tree, "glass", f"colour {colour.pk}", "bottles") == 0
    paid = start * fill * (0.5 * 0.40 + 0.3 * 1 + 0.2 * 2) / 1000
    assert figure(tree, "cost", "making", "glass") == near(paid)


def test_a_mirrored_piece_of_two_rows_with_a_centrepiece(shop):
    bead = tube()
    moon = tube("Moon", kind="centrepiece", diameter_mm=D(20), length_mm=D(24), bore_mm=D(4))
    clasp = Finding.objects.create(name="Hook", kind="clasp", length_mm=D(20), price=D("0.30"))
    cord = Finding.objects.create(name="Cotton", kind="cord", price=D("0.12"))
    piece = design(
        (bead, 2, "once"), (bead, 3, "repeat"), (moon, 1, "centre"), mirrored=True, rows=2,
        row_step_mm=D(60), finished_mm=D(300), clasp=clasp, cord=cord, cord_ratio=D("1.5"),
        cord_tails_mm=D(100),
    )  # fmt: skip
    tree = told(piece, 4)
    strand = ("strands", str(piece.pk))
    # inner: 300 − 20 = 280 mm; once 2 × 16 + 24 = 56; (280 − 56) ÷ 48 = 4.67 → 4: 4 × 6 + 4 beads
    # outer: 340 mm; (340 − 56) ÷ 48 = 5.9 → 5: 5 × 6 + 4
    assert figure(tree, *strand, f"bead {bead.pk}") == 28 + 34
    assert figure(tree, *strand, f"bead {moon.pk}") == 2
    assert figure(tree, *strand, "finished") == near(20 + 56 + 4 * 48)  # 268
    cord_m = (1.5 * 268 + 100 + 1.5 * (20 + 56 + 5 * 48) + 100) / 1000
    findings = 4 * (0.30 + cord_m * 0.12)
    assert figure(tree, "cost", "making", "findings") == near(findings)


def test_of_an_order_that_lies_ready_only_the_packing_is_left(shop):
    bead = tube()
    strand = design((bead, 1, "repeat"), finished_mm=D(160))
    _opening(strand_item(strand), LocationKind.STRAND_SHELF, 6, 120_000, 0)
    tree = told(strand, 5)
    assert figure(tree, "cost") == near(20 * 8 / 60 * 1.10)
    assert figure(tree, "labour", "minutes") == 20


def test_the_shelf_gives_what_it_has_and_the_rest_is_started_in_whole_moulds(shop):
    business = make_business(
        overhead=D("0.10"), margin=D("0.25"), price_step=D("0.10"), whole_moulds=True,
        assurance=D("0.50"),
    )  # fmt: skip
    assert business.whole_moulds
    bead = tube()
    put_beads(bead, 37)
    tree = told(design((bead, 1, "repeat"), finished_mm=D(160)), 5)
    # 100 − 37 = 63; scipy: 63 + nbinom.ppf(0.5, 63, 0.92) = 68; whole moulds of 12: 72
    assert figure(tree, "beads", f"bead {bead.pk}", "start") == 72


@pytest.mark.parametrize(
    ("currency", "step", "places"), [("XOF", "25", 0), ("TND", "0.050", 3), ("EUR", "0.10", 2)]
)
def test_money_has_the_digits_of_its_currency(db, shop, currency, step, places):
    make_business(currency=currency, overhead=D("0.10"), margin=D("0.25"), price_step=D(step))
    tree = told(design((tube(), 1, "repeat"), finished_mm=D(160)), 7)
    each = figure(tree, "lines", "line 1", "cost each")
    assert figure(tree, "lines", "line 1", "lowest") == near(ceil(each * 10**places) / 10**places)
    step = float(step)
    suggested = ceil(each / 0.75 / step - 1e-9) * step
    assert figure(tree, "lines", "line 1", "suggested") == near(suggested)


def test_the_price_in_force_is_the_first_that_is_found(shop):
    strand = design((tube(), 1, "repeat"), finished_mm=D(160))
    trader, shopkeeper = make_customer(group="trader"), make_customer("Quay shop", group="shop")

    def price(strands: int, customer, by_hand=None) -> D:
        line = next(
            one
            for one in told(strand, strands, customer=customer, price=by_hand)["children"]
            if one["key"] == "lines"
        )["children"][0]
        return D(next(one["value"] for one in line["children"] if one["key"] == "price"))

    for group, least, each in (("", 1, "5"), ("trader", 1, "4.20"), ("trader", 12, "3.90")):
        DesignPrice.objects.create(
            design=strand, group=group, from_strands=least, price=D(each), valid_from=DAY
        )
    assert [price(n, trader) for n in (11, 12)] == [D("4.20"), D("3.90")]
    assert price(12, shopkeeper) == 5
    QuantityBreak.objects.create(from_strands=12, off=D("0.075"), valid_from=DAY)
    # everybody's 5 × 0.925 = 4.625, half-up; the trader's 3.90 is for twelve already
    assert price(12, shopkeeper) == D("4.63")
    assert price(12, trader) == D("3.90")
    DesignPrice.objects.create(design=strand, customer=trader, price=D("3.80"), valid_from=DAY)
    assert price(12, trader) == D("3.80")
    assert price(12, trader, D("3.33")) == D("3.33")
