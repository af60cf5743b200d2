"""Strands lent to a shop: they stay ours until the shop has sold them, and the rest comes back."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.counter.queries import free_strands
from orders.counter.services.carrying import bring_back, named, off_the_shelf
from orders.counter.services.selling import PricedSale, ShelfShort, sell
from orders.models import Consignment, Customer, Sale, StrandDesign, WantedLine
from stock.models import LocationKind, PostingKind, StockLocation
from stock.services.book import post
from workshop.models import Person
from workshop.services.acts import record_act


@dataclass(frozen=True)
class There:
    """Of one design, when the goods with a shop are counted: strands that lie there still, those
    that are taken back now, and those that are gone; what is left of it was sold."""

    design: int
    still: int = 0
    back: int = 0
    missing: int = 0
    price: Decimal | None = None  # to buyers, where it was another than in force


@transaction.atomic
def lend(
    shop: Customer,
    strands: Mapping[int, int],
    *,
    person: Person,
    on: date | None = None,
    share: Decimal | None = None,
) -> Consignment:
    """Lend strands from the shelf to a shop, by design; what is held for orders stays.

    share  of the price that the shop keeps: agreed by the owner with the first goods, and anew
           whenever she writes another
    """
    on = on or timezone.localdate()
    if on > timezone.localdate():
        raise ValidationError({"on": _("That day is still ahead; write today or earlier.")})
    wanted = {design: count for design, count in strands.items() if count}
    if not wanted:
        raise ValidationError(_("Write how many strands are lent."))
    goods = _with(shop, share if person.is_owner else None, on)
    moves, designs = off_the_shelf(wanted, goods.place)
    post(
        PostingKind.MOVE,
        moves,
        on=on,
        person=person,
        why=str(_("lent to %s") % shop),
        belongs=("goods with a shop", str(goods.pk)),
    )
    record_act(person, "lend to a shop", goods, after=named(designs, wanted))
    return goods


def _with(shop: Customer, share: Decimal | None, on: date) -> Consignment:
    """The goods with a shop; begun with a place of their own when it is lent to first."""
    found = Consignment.objects.select_for_update(of=("self",)).filter(shop=shop).first()
    if found is None:
        if share is None:
            raise ValidationError(
                _("%(shop)s has no share agreed yet. The owner writes it with the first goods.")
                % {"shop": shop}
            )
        place, _made = StockLocation.objects.get_or_create(
            kind=LocationKind.SHOP, name=shop.name[:60]
        )
        if Consignment.objects.filter(place=place).exists():  # another shop of the same name
            place = StockLocation.objects.create(
                kind=LocationKind.SHOP, name=f"{shop.name[:50]} {shop.pk}"
            )
        return Consignment.objects.create(shop=shop, place=place, share=share, began_on=on)
    if share is not None and share != found.share:
        found.share = share
        found.save(update_fields=["share"])
    return found


@transaction.atomic
def count_at_shop(
    goods: Consignment,
    counted: Sequence[There],
    *,
    person: Person,
    on: date | None = None,
    owner_word: str = "",
    priced: PricedSale | None = None,
) -> Sale | None:
    """Count what lies with a shop: what it sold is invoiced less its share, to be paid later; what
    it gives back lies on the shelf again; what is gone is a difference of the count.

    Gives the sale, or None where nothing was sold.
    """
    on = on or timezone.localdate()
    if on > timezone.localdate():
        raise ValidationError({"on": _("That day is still ahead; write today or earlier.")})
    goods = Consignment.objects.select_for_update(of=("self",)).get(pk=goods.pk)
    designs = StrandDesign.objects.in_bulk([each.design for each in counted])
    lines = sold_there(goods, counted, designs)
    sale = None
    if lines:
        sale = sell(
            lines, person=person, way=None, customer=goods.shop, shop=goods, on=on,
            owner_word=owner_word, priced=priced,
        )  # fmt: skip
    bring_back(
        goods.place,
        home={each.design: each.back for each in counted},
        missing={each.design: each.missing for each in counted},
        why=(str(_("back from %s") % goods.shop), str(_("missing at %s") % goods.shop)),
        on=on,
        person=person,
        belongs=("goods with a shop", str(goods.pk)),
    )
    goods.counted_on = on
    goods.save(update_fields=["counted_on"])
    told = {
        "still there": named(designs, {each.design: each.still for each in counted}),
        "back": named(designs, {each.design: each.back for each in counted}),
        "missing": named(designs, {each.design: each.missing for each in counted}),
        "sold": {str(designs[line.design]): line.strands for line in lines},
    }
    record_act(person, "count at a shop", goods, after=told)
    return sale


def sold_there(
    goods: Consignment, counted: Sequence[There], designs: Mapping[int, StrandDesign]
) -> list[WantedLine]:
    """What was lent less what is still there, back or gone: it was sold (1 query).

    Refused where more is counted than was lent, and where a design that lies there was not.
    """
    lent: dict[int | None, int] = {row.item_id: row.quantity for row in free_strands(at=goods)}
    lines = []
    for each in counted:
        design = designs[each.design]
        there = lent.pop(design.item_id, 0)
        found = each.still + each.back + each.missing
        if min(each.still, each.back, each.missing) < 0 or found > there:
            raise ShelfShort(design, found, there, 0, goods)
        if there > found:
            lines.append(WantedLine(design.pk, there - found, each.price))
    if lent:
        raise ValidationError(_("Something lies there that was not counted. Open the page again."))
    return lines
