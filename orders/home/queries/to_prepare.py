"""Glass that orders wait for and that lies raw: what is to be prepared, and from which sacks."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_CEILING, Decimal

from orders.making.queries.shortage import FormNeed, glass_short_by_colour
from stock.models import Balance, GlassColour, GlassForm, LocationKind, Sack
from stock.services.standards import Standards
from stock.trail import slices_behind_each
from workshop.models import Skill
from workshop.money import ZERO
from workshop.rates import Amount

MG_PER_G = 1000


@dataclass(frozen=True)
class ToPrepare:
    """Raw glass of one colour to be made into one form.

    raw_mg     to take from the yard: what the orders lack, or all there is where that is less
    ready_mg   what comes out of it by the colour's usual yield
    minutes    of hands, by the rates of the day
    sacks      those it lies in, the oldest first
    """

    colour: GlassColour
    form: str
    raw_mg: int
    ready_mg: int
    minutes: int
    orders: int
    first_due: date | None
    sacks: tuple[Sack, ...]

    @property
    def form_word(self) -> str:
        return str(GlassForm(self.form).label)

    @property
    def raw_g(self) -> int:
        return -(-self.raw_mg // MG_PER_G)


def glass_to_prepare_for_orders(today: date) -> list[ToPrepare]:
    """The work that waits at the mortar, the first due first (13 queries, whatever the orders)."""
    standards = Standards(today)
    wanted = []
    for row in glass_short_by_colour(today):
        left = row.raw_mg
        for need in row.forms:
            take = 0 if need.form in NOT_PREPARED else min(left, need.raw_for_it_mg)
            if take:
                left -= take
                wanted.append((row, need, take))
    lie_in = _sacks_of([(row.colour, take) for row, _need, take in wanted])
    found = [
        ToPrepare(
            row.colour,
            need.form,
            take,
            (ready := _comes_out(row.colour, need, take)),
            _minutes(standards, need.form, ready),
            row.orders,
            row.first_due,
            sacks,
        )
        for (row, need, take), sacks in zip(wanted, lie_in, strict=True)
    ]
    return sorted(found, key=lambda each: (each.first_due or date.max, each.colour.name, each.form))


NOT_PREPARED = {GlassForm.REJECTS, GlassForm.RAW}


def _comes_out(colour: GlassColour, need: FormNeed, raw_mg: int) -> int:
    return min(need.lacking_mg, int(raw_mg * colour.yield_for(need.form)))


def _minutes(standards: Standards, form: str, ready_mg: int) -> int:
    """By the kilogram that comes out, as the hands are charged for it, with the set-up."""
    amount = Amount(glass_g=Decimal(ready_mg) / MG_PER_G)
    minutes = sum(
        (
            amount.units(rate.basis) * standards.minutes_each(rate) + rate.setup_min
            for rate in standards.rates.of(Skill.PREPARING, form=form)
        ),
        ZERO,
    )
    return int(minutes.to_integral_value(ROUND_CEILING))


def _sacks_of(wanted: Sequence[tuple[GlassColour, int]]) -> list[tuple[Sack, ...]]:
    """The sacks from which so much raw glass of a colour would be taken, the oldest first.

    Glass of one colour that is wanted twice is taken one after the other.
    """
    heaps: dict[int, list[Balance]] = {}
    rows = Balance.objects.at(LocationKind.YARD).filter(
        item__form=GlassForm.RAW,
        item__colour__in=[colour for colour, _mg in wanted],
        quantity__gt=0,
    )
    for balance in rows.select_related("item").order_by("pk"):
        heaps.setdefault(balance.item.colour_id, []).append(balance)
    most = {
        colour.pk: sum(mg for other, mg in wanted if other.pk == colour.pk)
        for colour, _mg in wanted
    }
    parts = [part for pk, mg in most.items() for part in _parts(heaps.get(pk, ()), mg)]
    behind = dict(
        zip(
            [balance.pk for balance, _mg in parts],
            slices_behind_each(parts) if parts else (),
            strict=True,
        )
    )
    postings = {posting for each in behind.values() for posting, _part, _whole in each}
    sacks = {sack.posting_id: sack for sack in Sack.objects.filter(posting__in=postings)}
    of_colour = {
        pk: tuple(
            dict.fromkeys(
                sacks[posting]
                for balance in heaps.get(pk, ())
                for posting, _part, _whole in behind.get(balance.pk, ())
                if posting in sacks
            )
        )
        for pk in most
    }
    return [of_colour[colour.pk] for colour, _mg in wanted]


def _parts(heaps: Iterable[Balance], wanted_mg: int) -> list[tuple[Balance, int]]:
    found = []
    for balance in heaps:
        take = min(wanted_mg, balance.quantity)
        if take:
            found.append((balance, take))
            wanted_mg -= take
    return found
