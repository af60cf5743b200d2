"""Sacks of glass weighed in at the yard."""

from datetime import date
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext as _

from stock.models import (
    Collector,
    CollectorPrice,
    GlassColour,
    GlassForm,
    PlaceKind,
    PostingKind,
    Sack,
)
from stock.services.book import Move, post
from stock.services.places import glass_item, usual_place
from workshop.models import Business, Person
from workshop.money import round_half_up
from workshop.services.acts import record_act
from workshop.services.numbers import take_number

G_PER_KG = Decimal(1000)
MG_PER_G = 1000


def price_for(collector: Collector, colour: GlassColour | None, on: date) -> Decimal:
    """What a kilogram is paid on a day: the collector's price, else everyone's, else the colour's."""
    if colour is None:
        return Decimal(0)
    agreed = (
        CollectorPrice.objects.filter(colour=colour, valid_from__lte=on)
        .filter(Q(collector=collector) | Q(collector__isnull=True))
        .order_by("collector_id", "-valid_from")
    )
    # A collector's own price goes before the general one; nulls sort differently by database.
    own = [price for price in agreed if price.collector_id is not None]
    general = [price for price in agreed if price.collector_id is None]
    for price in own or general:
        return price.price_per_kg
    return colour.price_per_kg


@transaction.atomic
def weigh_in_sack(
    collector: Collector,
    *,
    colour: GlassColour | None,
    gross_g: int,
    person: Person,
    tare_g: int = 0,
    dirt_share: Decimal = Decimal("0.03"),
    price_per_kg: Decimal | None = None,
    paid: bool = False,
    origin: str = Sack.Origin.BOTTLES,
    received_on: date | None = None,
    note: str = "",
) -> Sack:
    """Log one sack: its glass goes from the collectors to the yard, its price is paid or owed.

    Old beads of unknown glass are held apart until somebody clears them.
    """
    on = received_on or timezone.localdate()
    price = price_for(collector, colour, on) if price_per_kg is None else price_per_kg
    sack = Sack(
        collector=collector,
        colour=colour,
        origin=origin,
        held_apart=origin == Sack.Origin.OLD_BEADS,
        received_on=on,
        gross_g=gross_g,
        tare_g=tare_g,
        dirt_share=dirt_share,
        price_per_kg=price,
        note=note,
        logged_by=person,
    )
    if gross_g <= tare_g:
        raise ValidationError({"tare_g": _("The empty sack must weigh less than the full one.")})
    sack.amount = round_half_up(price * sack.net_g / G_PER_KG, Business.current().money_digits)
    sack.paid_on = on if paid else None
    sack.number = take_number("sack")
    sack.full_clean(exclude=["number", "posting"])
    shelf = PlaceKind.APART if sack.held_apart else PlaceKind.YARD
    move = Move(
        item=glass_item(colour, GlassForm.RAW),
        from_place=usual_place(PlaceKind.COLLECTORS),
        to_place=usual_place(shelf),
        quantity=sack.net_g * MG_PER_G,
        value=sack.amount,
    )
    sack.posting = post(
        PostingKind.SACK,
        [move],
        on=on,
        person=person,
        why=str(_("sack %d weighed in") % sack.number),
        belongs=("sack", str(sack.number)),
    )
    sack.save()
    record_act(
        person, "weigh in sack", sack, after={"net_g": sack.net_g, "colour": str(colour or "")}
    )
    return sack
