"""A day at a market stall: strands carried out, sold there, and the rest brought home."""

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
from orders.models import Sale, StallDay, StrandDesign, WantedLine
from orders.money.services.payments import PaymentDetails
from stock.models import LocationKind, PostingKind, StockLocation
from stock.services.book import post
from stock.services.places import usual_place
from workshop.models import Person
from workshop.services.acts import record_act


@dataclass(frozen=True)
class Home:
    """Of one design, at the end of the day: strands brought home, and those that are gone."""

    design: int
    home: int = 0
    missing: int = 0
    price: Decimal | None = None  # of those sold, where it was another than in force


@transaction.atomic
def carry_out(
    strands: Mapping[int, int],
    *,
    person: Person,
    stall: str = "",
    on: date | None = None,
    day: StallDay | None = None,
) -> StallDay:
    """Carry strands from the shelf to a stall, by design; what is held for orders stays.

    day  one that is open already and gets more; else a new one at the stall of that name
    """
    on = on or (day.on if day else timezone.localdate())
    if on > timezone.localdate():
        raise ValidationError({"on": _("That day is still ahead; write today or earlier.")})
    wanted = {design: count for design, count in strands.items() if count}
    if not wanted:
        raise ValidationError(_("Write how many strands go out."))
    if day is None:
        day = _begin(" ".join(stall.split()), person, on)
    elif not StallDay.objects.select_for_update().filter(pk=day.pk, home_at=None).exists():
        raise ValidationError(_already_home(day))
    moves, designs = off_the_shelf(wanted, day.place)
    post(
        PostingKind.MOVE,
        moves,
        on=on,
        person=person,
        why=str(_("carried out to %s") % day.place),
        belongs=("stall day", str(day.pk)),
    )
    record_act(person, "carry out", day, after=named(designs, wanted))
    return day


def _begin(stall: str, person: Person, on: date) -> StallDay:
    place = usual_place(LocationKind.STALL)
    if stall and stall != place.name:
        place, _made = StockLocation.objects.get_or_create(kind=LocationKind.STALL, name=stall[:60])
    StockLocation.objects.select_for_update().get(pk=place.pk)
    open_day = StallDay.objects.filter(place=place, home_at=None).first()
    if open_day is not None:
        raise ValidationError(
            {
                "stall": _("%(day)s is not home yet. Carry more out to it, or bring it home first.")
                % {"day": open_day}
            }
        )
    return StallDay.objects.create(place=place, on=on, carried_by=person)


@transaction.atomic
def come_home(
    day: StallDay,
    counted: Sequence[Home],
    *,
    person: Person,
    way: PaymentDetails,
    owner_word: str = "",
    priced: PricedSale | None = None,
) -> Sale | None:
    """Bring a stall home: what was counted goes back on the shelf, the rest was sold.

    What was sold and not written down one by one is one sale of that day, paid in one sum. Gives
    it, or None where nothing is left that was sold.
    """
    if not StallDay.objects.select_for_update().filter(pk=day.pk, home_at=None).exists():
        raise ValidationError(_already_home(day))
    designs = StrandDesign.objects.in_bulk([each.design for each in counted])
    lines = sold_by_count(day, counted, designs)
    sale = None
    if lines:
        sale = sell(
            lines, person=person, way=way, day=day, on=day.on, owner_word=owner_word,
            note=str(day), priced=priced,
        )  # fmt: skip
    bring_back(
        day.place,
        home={each.design: each.home for each in counted},
        missing={each.design: each.missing for each in counted},
        why=(str(_("home from %s") % day.place), str(_("missing after %s") % day.place)),
        on=day.on,
        person=person,
        belongs=("stall day", str(day.pk)),
    )
    day.home_at = timezone.now()
    day.save(update_fields=["home_at"])
    record_act(
        person,
        "bring stall home",
        day,
        after=named(designs, {each.design: each.home for each in counted}),
    )
    return sale


def sold_by_count(
    day: StallDay, counted: Sequence[Home], designs: Mapping[int, StrandDesign]
) -> list[WantedLine]:
    """What is out less what came home and what is gone: it was sold (1 query).

    Refused where more came home than is out, and where a design that is out was not counted.
    """
    out: dict[int | None, int] = {row.item_id: row.quantity for row in free_strands(at=day)}
    lines = []
    for each in counted:
        design = designs[each.design]
        there = out.pop(design.item_id, 0)
        sold = there - each.home - each.missing
        if min(each.home, each.missing) < 0 or sold < 0:
            raise ShelfShort(design, each.home + each.missing, there, 0, day)
        if sold:
            lines.append(WantedLine(design.pk, sold, each.price))
    if out:
        raise ValidationError(_("Something is out that was not counted. Open the page again."))
    return lines


def _already_home(day: StallDay) -> str:
    return _("%(day)s is home already; somebody else has written it down.") % {"day": day}
