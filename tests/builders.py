"""Builders for tests: each makes something whole, and names only what the test is about."""

from datetime import date
from decimal import Decimal
from itertools import count
from typing import Any

from django.db import transaction
from django.utils import timezone

from stock.models import Bead, BeadColour, Collector, GlassColour, GlassForm, Item, LocationKind
from stock.models import PostingKind as Kind
from stock.services.book import Move, post
from stock.services.places import batch_item, glass_item, usual_place
from workshop.models import Business, Kiln, Mould, Person, Programme

_next = count(1)


def make_person(role: str = "owner", **given: Any) -> Person:
    """Somebody of a role; the same one again for the same role."""
    name = given.pop("username", role)
    person = Person.objects.filter(username=name).first()
    return person or Person.objects.create_user(
        username=name, password="sea glass 42", role=role, **given
    )


def make_business(**given: Any) -> Business:
    business = Business(
        **{"name": "Tidewrack Beads", "currency": "EUR", "time_zone": "UTC"} | given
    )
    business.save()
    return business


def make_colour(name: str = "green", **given: Any) -> GlassColour:
    swatches = {"green": "#2f6b4a", "amber": "#9a5a14", "cobalt": "#244f9e", "clear": "#5f8583"}
    given.setdefault("swatch", swatches.get(name, "#777777"))
    return GlassColour.objects.get_or_create(name=name, defaults=given)[0]


def make_collector(name: str = "Ilse Brandt", **given: Any) -> Collector:
    return Collector.objects.get_or_create(name=name, defaults=given)[0]


def make_kiln(name: str = "Clay kiln", **given: Any) -> Kiln:
    return Kiln.objects.get_or_create(name=name, defaults={"places": 12, **given})[0]


def make_mould(name: str = "Round ten", **given: Any) -> Mould:
    given = {"shape": "round", "bead_across_mm": Decimal(10), "cavities": 12, "owned": 6} | given
    return Mould.objects.get_or_create(name=name, defaults={"clay_g": 900, **given})[0]


def make_programme(name: str = "Powder", **given: Any) -> Programme:
    usual = {"kind": "powder", "hold_c": 720, "hold_min": 30, "from_c": 650, "to_c": 780}
    usual |= {"from_min": 25, "to_min": 35} | given
    return Programme.objects.get_or_create(name=name, defaults=usual)[0]


def make_bead(name: str = "Green round", *, colours: Any = None, **given: Any) -> Bead:
    """A 10 mm round powder bead with a 2 mm bore, all green unless told otherwise."""
    usual: dict[str, Any] = {
        "kind": "powder",
        "shape": "round",
        "diameter_mm": Decimal(10),
        "bore_mm": Decimal(2),
    }
    given = usual | given
    given["mould"] = given.get("mould") or make_mould()
    given["programme"] = given.get("programme") or make_programme()
    bead = Bead.objects.create(name=name, **given)
    for layer, (colour, share) in enumerate((colours or {make_colour(): Decimal(1)}).items()):
        BeadColour.objects.create(bead=bead, colour=colour, share=Decimal(share), layer=layer)
    return bead


def put_glass(colour: GlassColour | None, form: str, kg: Any, *, value: Any = 0, **given: Any):
    """Glass on its usual shelf, as if it had always been here; gives the item."""
    where = LocationKind.YARD if form == GlassForm.RAW else LocationKind.GLASS_SHELF
    item = glass_item(colour, form)
    return _opening(item, where, int(Decimal(kg) * 1_000_000), None, value, **given)


def put_beads(bead: Bead, pieces: int, *, made_on: date = date(2026, 1, 5), **given: Any) -> Item:
    """Good beads of a new batch on the bead shelf; gives the batch's item."""
    from stock.models import BeadBatch

    batch = BeadBatch.objects.create(
        number=next(_next) + 90_000, bead=bead, made_on=made_on, started=pieces, good=pieces
    )
    each = given.pop("glass_mg_each", 1200)
    return _opening(batch_item(batch), LocationKind.BEAD_SHELF, pieces, pieces * each, 0, **given)


def _opening(item: Item, place_kind: str, quantity: int, glass_mg: Any, value: Any, **given: Any):
    move = Move(
        item, usual_place(LocationKind.OPENING), usual_place(place_kind), quantity, glass_mg,
        Decimal(value),
    )  # fmt: skip
    post(
        Kind.OPENING,
        [move],
        on=given.get("on", date(2026, 1, 5)),
        person=make_person(),
        why="here before",
    )
    return item


def make_customer(name: str = "Marisa Orlo", **given: Any):
    from orders.models import Customer

    return Customer.objects.get_or_create(name=name, defaults=given)[0]


def make_design(name: str = "Harbour bracelet", *, beads: Any = None, **given: Any):
    """An 18 cm strand of one bead repeated (18 of them when it is 10 mm with a 2 mm bore).

    `beads` may be a bead, or a list of (bead, count).
    """
    from django.utils.text import slugify

    from orders.models import DesignPart, StrandDesign

    given = {"finished_mm": Decimal(180), "code": slugify(name)} | given
    design = StrandDesign.objects.create(name=name, **given)
    if not isinstance(beads, list):
        beads = [(beads or Bead.objects.first() or make_bead(), 1)]
    for position, (bead, pieces) in enumerate(beads, start=1):
        DesignPart.objects.create(design=design, position=position, bead=bead, count=pieces)
    return design


def make_rate(step: str = "Stringing", **given: Any):
    """What a step takes: six minutes a strand at 10.00 an hour, unless told otherwise."""
    from workshop.models import LabourRate

    usual = {"skill": "stringing", "basis": "strand", "minutes_each": Decimal(6)}
    usual |= {"hourly": Decimal(10), "valid_from": date(2026, 1, 1)}
    return LabourRate.objects.create(step_id=step, **usual | given)


def make_draft(strands: int = 1, *, design: Any = None, customer: Any = None, **given: Any):
    """An order written down for one design and not promised yet."""
    from orders.counter.services.ordering import draft_order

    line = _wanted(strands, design, given)
    person = given.pop("person", None) or make_person("counter")
    return draft_order(customer or make_customer(), [line], person=person, **given)


def make_order(strands: int = 1, *, design: Any = None, customer: Any = None, **given: Any):
    """An order taken and confirmed as the counter does it: reckoned once, with the kilns held."""
    from orders.counter.services.ordering import confirm_order, draft_order
    from orders.floor.kiln_room import hold_the_kilns
    from orders.reckoning.reckon import reckon

    line, customer = _wanted(strands, design, given), customer or make_customer()
    person = given.pop("person", None) or make_person("counter")
    with transaction.atomic():
        hold_the_kilns()
        reckoned = reckon(
            [line], customer=customer, business=Business.current(), today=timezone.localdate()
        )
        order = draft_order(customer, [line], person=person, costing=reckoned.costing, **given)
        owner = make_person("owner")
        return confirm_order(order, person=owner, owner_word="agreed", reckoned=reckoned).order


def _wanted(strands: int, design: Any, given: dict[str, Any]) -> Any:
    from orders.models import WantedLine

    return WantedLine((design or make_design()).pk, strands, given.pop("price", None))
