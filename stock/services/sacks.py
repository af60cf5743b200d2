"""Sacks of glass weighed in at the yard."""

import re
from collections.abc import Mapping
from datetime import date
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext as _

from stock.models import (
    HELD_APART,
    Collector,
    CollectorPrice,
    GlassColour,
    GlassForm,
    GlassKind,
    Item,
    LocationKind,
    LossName,
    Posting,
    PostingKind,
    Sack,
)
from stock.services.apart import heap_of
from stock.services.book import Move, post
from stock.services.ceilings import check_price
from stock.services.convert import Loss, Made, Taken, convert
from stock.services.payouts import write_payout
from stock.services.places import glass_item, usual_place
from stock.services.standards import Standards
from stock.services.tickets import belongs_to, write_preparing
from workshop.models import Business, Person, PreparedForm, Skill, exact
from workshop.money import round_half_up
from workshop.rates import Amount
from workshop.services.acts import record_act
from workshop.services.numbers import take_number

G_PER_KG = Decimal(1000)
MG_PER_G = 1000


def price_for(collector: Collector | None, colour: GlassColour | None, on: date) -> Decimal:
    """What a kilogram is paid on a day: the collector's own price, else the general one."""
    if colour is None:
        return Decimal(0)
    whose = Q(collector__isnull=True)
    if collector is not None:
        whose |= Q(collector=collector)
    agreed = CollectorPrice.objects.filter(whose, colour=colour, valid_from__lte=on).order_by(
        "collector_id", "-valid_from"
    )
    # A collector's own price goes before the general one; nulls sort differently by database.
    own = [price for price in agreed if price.collector_id is not None]
    general = [price for price in agreed if price.collector_id is None]
    for price in own or general:
        return price.price_per_kg
    return colour.price_per_kg


def general_prices(on: date) -> dict[int, Decimal]:
    """What a kilogram of each colour is paid to everyone on a day, by colour key (2 queries)."""
    prices = dict(GlassColour.objects.values_list("pk", "price_per_kg"))
    agreed = CollectorPrice.objects.filter(collector__isnull=True, valid_from__lte=on)
    prices |= dict(agreed.order_by("valid_from").values_list("colour_id", "price_per_kg"))
    return prices


# What kind of glass a sack holds, by what it is said to be; all else is bottle glass.
KIND_OF_ORIGIN = {
    Sack.Origin.SHEET: GlassKind.SHEET,
    Sack.Origin.OVEN: GlassKind.OVEN,
    Sack.Origin.UNKNOWN: GlassKind.UNKNOWN,
    Sack.Origin.OLD_BEADS: GlassKind.UNKNOWN,
}
IVORY_WORDS = frozenset({"ivory", "tusk", "tusks", "elephant", "walrus"})


def refuse_ivory(origin: str, note: str) -> None:
    """Ivory is not taken in, whatever it is called."""
    if origin == "ivory" or IVORY_WORDS & set(re.findall(r"[a-z]+", note.lower())):
        raise ValidationError(
            {
                "origin": _(
                    "Ivory is not taken in: trade in it is banned or bound to permits under CITES "
                    "(cites.org). Keep it apart and ask the CITES authority of the country."
                )
            }
        )


def known_mark(mark: str) -> str:
    """The mark as it was first written: “anchor” and “Anchor” are one heap (1 query)."""
    typed = " ".join(mark.split())
    known = Item.objects.filter(mark__iexact=typed).exclude(mark="").first() if typed else None
    return known.mark if known is not None else typed


def refuse_mixed_mark(colour: GlassColour | None, mark: str) -> None:
    """A mark belongs to one glass; a mix of colours has none."""
    if colour is None and mark.strip():
        raise ValidationError(
            {
                "mark": _(
                    "Mixed glass has no one maker. Tap its colour, or write the mark as a note and "
                    "sort the glass first."
                )
            }
        )


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
    mark: str = "",
) -> Sack:
    """Log one sack: its glass goes from the collectors to the yard, its price is paid or owed.

    Glass that is no bottle glass comes to a heap of its own; oven and unknown glass (old beads
    too) is held apart until the owner says what may become of it. A mark stays with the glass.
    """
    on = received_on or timezone.localdate()
    refuse_ivory(origin, note)
    refuse_mixed_mark(colour, mark)
    listed = price_for(collector, colour, on)
    price = listed if price_per_kg is None else price_per_kg
    check_price(person, price, listed=listed)
    kind = KIND_OF_ORIGIN.get(Sack.Origin(origin), GlassKind.BOTTLE)
    colour = heap_of(colour, kind)
    sack = Sack(
        collector=collector,
        colour=colour,
        origin=origin,
        mark=known_mark(mark),
        held_apart=colour is not None and colour.kind in HELD_APART,
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
    if paid and sack.amount:
        sack.payout = write_payout(collector, [sack], person=person, on=on)
    sack.posting = _post_sack(sack, person)
    sack.save()
    _keep_account(sack)
    record_act(
        person, "weigh in sack", sack, after={"net_g": sack.net_g, "colour": str(colour or "")}
    )
    return sack


def _keep_account(sack: Sack) -> None:
    """The collector's own sums with this sack among them."""
    what = "owed" if sack.paid_on is None else "paid"
    account = Collector.objects.filter(pk=sack.collector_id)
    account.update(brought=F("brought") + 1, **{what: F(what) + exact(sack.amount)})
    account.filter(Q(last_on=None) | Q(last_on__lt=sack.received_on)).update(
        last_on=sack.received_on
    )


def _post_sack(sack: Sack, person: Person) -> Posting:
    """Its glass comes into the yard, or apart, at what is paid for it."""
    move = Move(
        item=glass_item(sack.colour, GlassForm.RAW, sack.mark),
        from_place=usual_place(LocationKind.COLLECTORS),
        to_place=usual_place(LocationKind.APART if sack.held_apart else LocationKind.YARD),
        quantity=sack.net_g * MG_PER_G,
        value=sack.amount,
    )
    return post(
        PostingKind.SACK,
        [move],
        on=sack.received_on,
        person=person,
        why=str(_("sack %d weighed in") % sack.number),
        belongs=("sack", str(sack.number)),
    )


@transaction.atomic
def sort_glass(
    parts: Mapping[GlassColour, int],
    *,
    taken_g: int,
    person: Person,
    dirt_g: int = 0,
    on: date | None = None,
    minutes: int = 0,
) -> Posting:
    """Sort mixed raw glass of the yard into colours [g]; what is left over is dirt or unweighed.

    minutes  that it took: they are paid like any other work
    """
    yard = usual_place(LocationKind.YARD)
    if not any(parts.values()):
        raise ValidationError(_("Write how much of at least one colour was sorted out."))
    on = on or timezone.localdate()
    sorted_out = Amount(glass_g=Decimal(sum(parts.values())))
    posting = convert(
        PostingKind.SORTING,
        [Taken(glass_item(None, GlassForm.RAW), yard, taken_g * MG_PER_G)],
        [
            Made(glass_item(colour, GlassForm.RAW), yard, mass_g * MG_PER_G)
            for colour, mass_g in parts.items()
        ],
        [Loss(LossName.DIRT, dirt_g * MG_PER_G)],
        rest=LossName.UNWEIGHED,
        on=on,
        person=person,
        why=str(_("mixed glass sorted by colour")),
        charges=Standards(on).steps(Skill.PREPARING, sorted_out, form=PreparedForm.RAW),
    )
    out_mg = int(sorted_out.glass_g * MG_PER_G)
    write_preparing(
        posting, minutes, out_mg, hand=person, form=PreparedForm.RAW, belongs=belongs_to(posting)
    )
    record_act(
        person,
        "sort glass",
        posting,
        after={colour.name: mass_g for colour, mass_g in parts.items()},
    )
    return posting
