"""Sandbar Beads: an invented workshop whose April was worked by hand, act by act.

Employer's share 0.25, every hand 7.20 an hour; workshop costs 90.00 a month over 880, 940 and 880
minutes; a kiln of 24 places with 30 kg of wood at 0.14 and 1.20 of wear; ten loads in March.
"""

from datetime import date, datetime
from decimal import Decimal as D
from types import SimpleNamespace
from zoneinfo import ZoneInfo

from stock.models import (
    Balance,
    ChargeName,
    GlassForm,
    KilnLoad,
    LoadTray,
    LocationKind,
    PatternFactor,
    PostingKind,
)
from stock.services.beads import load_beads, log_good_beads, mould_beads, unload_beads
from stock.services.book import post
from stock.services.convert import Taken
from stock.services.counting import count_shelf
from stock.services.load_costs import charges_of_load
from stock.services.moves import Cost
from stock.services.places import glass_item, strand_item, usual_place
from stock.services.preparation import prepare_glass, raw_of, ready
from stock.services.sacks import weigh_in_sack
from stock.services.stringing import hand_over, string_strands
from tests.builders import (
    make_bead,
    make_business,
    make_collector,
    make_colour,
    make_kiln,
    make_mould,
    make_person,
    make_rate,
)
from workshop.models import LabourRate, StandingCost

KG = 1_000_000
MARCH_FILLS = (7, 12, 9, 6, 11, 8, 10, 9, 13, 11)
STEPS = (  # step, skill, basis, minutes, allowance, set-up
    ("Pounding", "preparing", "kg", "30", "0.10", 5),
    ("Moulding", "moulding", "mould", "6.5", "0.12", 8),
    ("Tending", "firing", "load", "55", "0.10", 0),
    ("Polishing", "polishing", "bead", "0.12", "0.10", 12),
    ("Stringing", "stringing", "strand", "5", "0.10", 4),
    ("Packing", "stringing", "order", "12", "0.10", 0),
)


def april(day: int) -> date:
    return date(2026, 4, day)


def sandbar() -> SimpleNamespace:
    """The workshop on 1 April, with what March and the months before left to measure."""
    make_business(name="Sandbar Beads")
    person = make_person()
    for step, skill, basis, minutes, allowance, setup in STEPS:
        make_rate(
            step, skill=skill, basis=basis, minutes_each=D(minutes), allowance=D(allowance),
            setup_min=setup, hourly=D("7.20"),
        )  # fmt: skip
    StandingCost.objects.create(
        valid_from=date(2026, 1, 1), employer_share=D("0.25"), workshop_month=90, office_month=20
    )
    PatternFactor.objects.create(pattern="stripes", skill="moulding", factor=D("1.8"))
    green = make_colour(
        "green", price_per_kg=D("0.16"), washing_yield=D("0.97"), powder_yield=D("0.90")
    )
    kiln = make_kiln(
        "clay", places=24, fuel_price=D("0.14"), fuel_per_load=30, wear_per_load=D("1.20")
    )
    common = {"owned": 20, "usual_life": 40, "wash_per_fill": D("0.02")}
    round_mould = make_mould("round", cavities=16, price=6, **common)
    great_mould = make_mould("great", cavities=12, price=8, **common)
    tide = make_bead(
        "tide", colours={green: 1}, mould=round_mould, reject_rate=D("0.08"),
        polishing_loss=D("0.03"), spill_share=D("0.02"),
    )  # fmt: skip
    night = make_bead(
        "night", colours={green: 1}, mould=great_mould, reject_rate=D("0.10"), polishing_loss=0,
        pattern="stripes", spill_share=D("0.02"), diameter_mm=12,
    )  # fmt: skip
    place = SimpleNamespace(person=person, green=green, kiln=kiln, tide=tide, night=night)
    for number, filled in enumerate(MARCH_FILLS, start=1):
        load = load_of(
            place, 9000 + number, datetime(2026, 3, 1 + number, 15, tzinfo=ZoneInfo("UTC"))
        )
        LoadTray.objects.create(load=load, bead=tide, moulds=filled, beads=filled * 16)
    for month, minutes in ((1, 880), (2, 940), (3, 880)):
        post(
            PostingKind.OPENING, [], on=date(2026, month, 15), person=person, why="worked before",
            charges=[Cost(ChargeName.HANDS, D(0), minutes=D(minutes))],
        )  # fmt: skip
    return place


def load_of(place: SimpleNamespace, number: int, ended: datetime) -> KilnLoad:
    return KilnLoad.objects.create(
        number=number, kiln=place.kiln, state="cooled", starts_at=ended, ended_at=ended,
        hold_c=760, hold_min=30,
    )  # fmt: skip


def bring_and_pound(place: SimpleNamespace) -> None:
    """50 kg of green for 8.00, 20 kg of it pounded to 17.46 kg."""
    weigh_in_sack(
        make_collector(), colour=place.green, gross_g=50_000, dirt_share=D(0),
        price_per_kg=D("0.16"), person=place.person, received_on=april(1),
    )  # fmt: skip
    prepare_glass(
        [raw_of(place.green, 20 * KG)],
        [ready(place.green, GlassForm.POWDER, 17_460_000)],
        form="powder", person=place.person, on=april(2),
    )  # fmt: skip


def mould(place: SimpleNamespace, bead, count: int, grams: int):
    powder = glass_item(place.green, GlassForm.POWDER)
    shelf = usual_place(LocationKind.GLASS_SHELF)
    return mould_beads(
        bead, count, person=place.person, on=april(3), glass=[Taken(powder, shelf, grams * 1000)]
    )


def fire(place: SimpleNamespace, number: int, batch, moulds: int) -> LoadTray:
    """A load of one tray: lit, cooled, and its beads on the bench with what it put into them."""
    load = load_of(place, number, datetime(2026, 4, 3 + number, 15, tzinfo=ZoneInfo("UTC")))
    tray = LoadTray.objects.create(
        load=load, bead=batch.bead, batch=batch, moulds=moulds, beads=batch.started
    )
    day = april(3 + number)
    load_beads(batch, batch.started, person=place.person, on=day, load=str(number))
    unload_beads(
        batch, batch.started, person=place.person, on=day, load=str(number),
        charges=charges_of_load(load, [tray])[tray.pk],
    )  # fmt: skip
    return tray


def live_through_april(place: SimpleNamespace) -> None:
    bring_and_pound(place)
    place.batch1 = mould(place, place.tide, 160, 352)
    place.batch2 = mould(place, place.night, 48, 168)
    fire(place, 1, place.batch1, 10)
    fire(place, 2, place.batch2, 4)
    log_good_beads(place.batch1, good=148, rejected=12, person=place.person, on=april(6))
    place.bracelet = strand_item("Harbour bracelet")
    place.strung = string_strands(
        place.bracelet, 8, {place.tide: 120}, person=place.person, on=april(7), findings=D("0.30")
    )
    shelf = usual_place(LocationKind.STRAND_SHELF)
    place.sale = hand_over(
        [Taken(place.bracelet, shelf, 6)], person=place.person, why="sold", belongs=("", ""),
        on=april(8),
    )  # fmt: skip
    powder = glass_item(place.green, GlassForm.POWDER)
    place.count = count_shelf(
        usual_place(LocationKind.GLASS_SHELF), {powder: 16_832_000},
        person=place.person, why="counted",
        on=april(30),
    )  # fmt: skip


def worth(**where) -> D:
    """Value of everything within the walls, or of part of it."""
    return sum(Balance.objects.inside().filter(**where).values_list("value", flat=True), D(0))


__all__ = ["LabourRate", "april", "live_through_april", "sandbar", "worth"]
