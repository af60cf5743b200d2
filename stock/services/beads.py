"""Beads from the mould to the shelf: moulded, fired, sorted into good and rejects."""

import uuid
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F
from django.utils import timezone
from django.utils.translation import gettext as _

from stock.masses import fill_mg
from stock.models import (
    Balance,
    Bead,
    BeadBatch,
    ChargeName,
    GlassColour,
    GlassForm,
    Item,
    ItemKind,
    LocationKind,
    LossName,
    Posting,
    PostingKind,
    StockLocation,
)
from stock.services.apart import mix_of
from stock.services.book import Move, NotEnough, post
from stock.services.convert import Loss, Made, Taken, Told, convert
from stock.services.moves import ZERO, Cost
from stock.services.places import (
    COOLED,
    MOULDED,
    PAINTED,
    TO_PAINT,
    batch_item,
    bench_place,
    glass_item,
    usual_place,
)
from stock.services.sacks import general_prices
from stock.services.standards import Standards, set_up_borne
from stock.services.supplies import used_by_worth, used_paints
from stock.services.tickets import Done, write_ticket
from workshop.costs.amounts import six
from workshop.costs.sorting import sort_value
from workshop.models import Person, Skill
from workshop.rates import Amount
from workshop.services.acts import record_act
from workshop.services.numbers import take_number

MG_PER_G, G_PER_KG, MG_PER_KG = 1000, 1000, 1_000_000
TO_REMAKE, TO_GLASS = "remade", "glass"
# Spots whose beads are not sorted as those of a first or a second firing.
NOT_SORTED = {1: (TO_PAINT, PAINTED), 2: (TO_PAINT, MOULDED)}


def glass_to_weigh(
    bead: Bead,
    count: int,
    *,
    marks: Mapping[int, str] | None = None,
    held: Mapping[int, int] | None = None,
) -> list[Taken]:
    """Glass of each colour that `count` beads take from the glass shelf, by the bead's shares.

    marks  which heap of a colour is taken from, by colour key; else one that has enough
    held   what is held for whoever moulds, in mg by item key
    """
    form = bead.moulded_from
    parts = list(bead.colours.select_related("colour"))
    if not parts:
        raise ValidationError(
            _("%(bead)s has no colours yet; give them in the bead's page first.") % {"bead": bead}
        )
    shelf = usual_place(LocationKind.GLASS_SHELF)
    each = fill_mg(bead, parts)
    marked = marked_heaps(part.colour_id for part in parts)
    found: list[Taken] = []
    for part in parts:
        wanted = _whole(each * count * part.share)
        plain = glass_item(part.colour, form)
        heaps = marked.get((part.colour_id, form), [])
        mark = (marks or {}).get(part.colour_id)
        if mark is not None:
            found.append(Taken(glass_item(part.colour, form, mark), shelf, wanted))
        elif not heaps:
            found.append(Taken(plain, shelf, wanted))
        else:
            found += _from_heaps(plain, heaps, shelf, wanted, held or {})
    return found


def marked_heaps(colours: Iterable[int]) -> dict[tuple[int, str], list[Balance]]:
    """Heaps of a lot's or maker's glass on the glass shelf, by colour key and form (1 query)."""
    rows = (
        Balance.objects.filter(
            place__code=LocationKind.GLASS_SHELF, item__colour__in=list(colours), quantity__gt=0
        )
        .of_glass()
        .exclude(item__mark="")
        .select_related("item__colour", "place")
    )
    found: dict[tuple[int, str], list[Balance]] = {}
    for row in rows.order_by("item__mark"):
        assert row.item.colour_id is not None, "a mark belongs to a colour"
        found.setdefault((row.item.colour_id, row.item.form), []).append(row)
    return found


def _from_heaps(
    plain: Item, marked: Sequence[Balance], shelf: StockLocation, wanted: int,
    held: Mapping[int, int],
) -> list[Taken]:  # fmt: skip
    """One heap where one has enough, the one without a mark first; else a part of each."""
    row = Balance.objects.filter(item=plain, place=shelf).first()
    free = {plain: (row.free_quantity if row else 0) + held.get(plain.pk, 0)}
    free |= {each.item: each.free_quantity + held.get(each.item_id, 0) for each in marked}
    enough = next((item for item, mg in free.items() if mg >= wanted), None)
    if enough is not None:
        return [Taken(enough, shelf, wanted)]
    found, left = [], wanted
    for item, mg in free.items():
        if piece := min(mg, left):
            found.append(Taken(item, shelf, piece))
            left -= piece
    return [*found, Taken(plain, shelf, left)] if left else found


@transaction.atomic
def mould_beads(
    bead: Bead,
    count: int,
    *,
    person: Person,
    on: date | None = None,
    glass: Sequence[Taken] | None = None,
    from_holds: Mapping[int, int] | None = None,
    note: str = "",
    belongs: tuple[str, str] | None = None,
    key: uuid.UUID | None = None,
    minutes: int | None = None,
) -> BeadBatch:
    """Fill moulds with `count` beads: prepared glass becomes a new batch on the bench.

    glass       what was weighed out; left out, what the bead's colours and losses ask for
    from_holds  of that, what was held for an order, in mg by item key
    minutes     that it took; None where the work is told otherwise, so that no ticket is written
    """
    if key is not None and (done := Posting.objects.filter(key=key).first()):
        return BeadBatch.objects.get(number=int(done.belongs_ref))
    if count < 1:
        raise ValidationError({"count": _("Mould at least one bead.")})
    on = on or timezone.localdate()
    taken = [
        replace(part, from_hold=min(part.quantity, (from_holds or {}).get(part.item.pk, 0)))
        for part in (glass if glass is not None else glass_to_weigh(bead, count))
    ]
    batch = BeadBatch(
        number=take_number("batch"), bead=bead, made_on=on, started=count, note=note[:200]
    )
    batch.full_clean(exclude=["number"])
    batch.save()
    filled_mg = sum(t.quantity for t in taken)
    spilt = _whole(Decimal(filled_mg) * bead.spill_share)
    belongs = belongs or ("batch", str(batch.number))
    charges = _moulding_charges(bead, count, Decimal(filled_mg) / MG_PER_G, on, belongs)
    wash = sum((cost.amount for cost in charges if cost.step == "wash"), ZERO)
    posting = convert(
        PostingKind.MOULDING,
        taken,
        [Made(batch_item(batch), bench_place(MOULDED), count)],
        [Loss(LossName.SPILL, spilt)],
        on=on,
        person=person,
        why=str(_("batch %d moulded") % batch.number),
        belongs=belongs,
        key=key,
        charges=charges,
        beside=used_by_worth("wash", wash, on=on),
    )
    record_act(person, "mould beads", batch, after={"bead": bead.name, "count": count})
    if minutes is not None:
        work = Done(beads=count, moulds=-(-count // bead.mould.cavities), minutes=minutes)
        write_ticket(Skill.MOULDING, work, person, posting=posting, bead=bead)
    return batch


def _moulding_charges(
    bead: Bead, count: int, glass_g: Decimal, on: date, belongs: tuple[str, str]
) -> list[Cost]:
    """Hands, workshop, wear and wash of filling the moulds, and the pigment stirred in."""
    standards = Standards(on)
    fills = -(-count // bead.mould.cavities)
    amount = Amount(beads=count, moulds=fills, glass_g=glass_g)
    costs = standards.steps(
        Skill.MOULDING, amount, bead=bead, set_up=set_up_borne(belongs)
    ) + standards.fills(bead.mould, fills)
    pigment_g = glass_g * bead.pigment_g_per_kg / G_PER_KG
    if pigment_g and bead.pigment_price_per_kg:
        price = bead.pigment_price_per_kg / G_PER_KG
        cost = Cost(ChargeName.MATERIALS, six(pigment_g * price), "pigment", pigment_g, rate=price)
        costs.append(cost)
    return costs


@transaction.atomic
def paint_beads(
    batch: BeadBatch,
    count: int | None = None,
    *,
    person: Person,
    on: date | None = None,
    belongs: tuple[str, str] | None = None,
    minutes: int | None = None,
) -> Posting | None:
    """Beads of a batch that stand to be painted are painted: they bear the hands and the paint.

    count    of them; left out, all that stand there (None is given when none does)
    minutes  that it took; None where the work is told otherwise, so that no ticket is written
    """
    on = on or timezone.localdate()
    item, painted = batch_item(batch), bench_place(PAINTED)
    there = beads_to_paint(batch)
    if count is None and not there:
        return None
    count = there if count is None else count
    if not 1 <= count <= there:
        raise ValidationError({"count": too_many_to_paint(batch, there)})
    bead, belongs = batch.bead, belongs or ("batch", str(batch.number))
    costs = Standards(on).steps(
        Skill.PAINTING, Amount(beads=count), bead=bead, set_up=set_up_borne(belongs)
    )
    price = bead.paint_price_each
    if price:
        costs.append(
            Cost(ChargeName.MATERIALS, six(count * price), "paint", Decimal(count), rate=price)
        )
    moves = [Move(item, bench_place(TO_PAINT), painted, count)]
    paint = used_paints(list(bead.paints.all()), count, count * price, on=on)
    posting = post(
        PostingKind.PAINTING, moves + paint, on=on, person=person,
        why=str(_("batch %d painted") % batch.number), belongs=belongs,
        charges=[replace(cost, item=item, place=painted) for cost in costs],
    )  # fmt: skip
    record_act(person, "paint beads", batch, after={"count": count})
    if minutes is not None:
        done = Done(beads=count, minutes=minutes)
        write_ticket(Skill.PAINTING, done, person, posting=posting, bead=bead)
    return posting


def beads_to_paint(batch: BeadBatch) -> int:
    """Beads of a batch that came sound out of their first firing and are not painted (1 query)."""
    row = Balance.objects.filter(item__batch=batch, place__code=TO_PAINT).first()
    return row.free_quantity if row is not None else 0


def too_many_to_paint(batch: BeadBatch, there: int) -> str:
    """Why so many beads cannot be painted."""
    return _("%(there)s beads of %(batch)s stand to be painted; write 1 to %(there)s.") % {
        "there": there, "batch": batch
    }  # fmt: skip


@transaction.atomic
def load_beads(
    batch: BeadBatch,
    count: int,
    *,
    person: Person,
    on: date | None = None,
    load: str = "",
    firing: int = 1,
) -> Posting:
    """Moulded beads into the kiln; painted ones for their second firing."""
    besides = _not_for(firing, batch)
    return _shift(batch, count, (LocationKind.BENCH,), usual_place(LocationKind.KILN),
                  PostingKind.LOADING, person, on, load, besides=besides)  # fmt: skip


def _not_for(firing: int, batch: BeadBatch) -> set[str]:
    """Spots of the bench whose beads do not go into a first or a second firing."""
    if firing == 1:
        return {COOLED, TO_PAINT, PAINTED}
    painted = Balance.objects.filter(item__batch=batch, place__code=PAINTED, quantity__gt=0)
    # Older books have no spot of their own for painted beads: there they stand to be painted.
    return {MOULDED, COOLED, *([TO_PAINT] if painted.exists() else [])}


@transaction.atomic
def unload_beads(
    batch: BeadBatch,
    count: int,
    *,
    person: Person,
    on: date | None = None,
    load: str = "",
    charges: Sequence[Cost] = (),
) -> Posting:
    """A cooled load's beads out of the kiln, to be finished and sorted.

    charges  what the load puts into them: fuel, tending, workshop, wear
    """
    return _shift(batch, count, (LocationKind.KILN,), bench_place(COOLED),
                  PostingKind.FIRING, person, on, load, charges)  # fmt: skip


def _shift(
    batch: BeadBatch,
    count: int,
    kinds: Sequence[str],
    to_place: StockLocation,
    kind: str,
    person: Person,
    on: date | None,
    load: str,
    charges: Sequence[Cost] = (),
    besides: Collection[str] = (),
) -> Posting:
    item = batch_item(batch)
    moves = [
        Move(item, part.place, to_place, part.quantity)
        for part in take_where_it_is(item, count, kinds, besides)
        if part.place != to_place
    ]
    belongs = ("load", load) if load else ("batch", str(batch.number))
    return post(
        kind, moves, on=on or timezone.localdate(), person=person,
        why=str(_("batch %d") % batch.number), belongs=belongs,
        charges=[replace(cost, item=item, place=to_place) for cost in charges],
    )  # fmt: skip


def take_where_it_is(
    item: Item, count: int, kinds: Sequence[str], besides: Collection[str] = ()
) -> list[Taken]:
    """`count` pieces of an item from the places of some kinds, in the order of the kinds.

    besides  codes of spots that nothing is taken from
    """
    rows = Balance.objects.at(*kinds).filter(item=item, quantity__gt=0).select_related("place")
    rows = rows.exclude(place__code__in=besides)
    found, parts = 0, []
    for row in sorted(rows, key=lambda row: (list(kinds).index(row.place.kind), row.place_id)):
        piece = min(row.free_quantity, count - found)
        if piece > 0:
            parts.append(Taken(item, row.place, piece))
            found += piece
    if found < count:
        raise NotEnough(item, usual_place(kinds[0]), count, found)
    return parts


@transaction.atomic
def log_good_beads(
    batch: BeadBatch,
    *,
    good: int,
    rejected: int,
    person: Person,
    on: date | None = None,
    firing: int | None = None,
    rejects_to: str = TO_REMAKE,
    place: StockLocation | None = None,
    broken: int = 0,
    belongs: tuple[str, str] | None = None,
    charges: Sequence[Cost] = (),
    spoiled: bool = False,
    minutes: int | None = None,
) -> Posting:
    """Finish and sort what came out of the kiln: good beads to the shelf, rejects to the glass.

    Usual rejects rest on the good beads; what goes beyond, and what broke, is expensed.

    firing      1 or 2; a painted bead's good ones go on to painting after the first
    rejects_to  "remade": kept as rejects for remade beads; "glass": raw glass again
    broken      beads gone altogether (an accident in the kiln); their glass and cost are lost
    charges     what the load puts into them, if they come straight out of the kiln
    spoiled     the whole load is lost: no work is charged, all but the scrap is expensed
    minutes     that it took; None where the work is told otherwise, so that no ticket is written
    """
    on = on or timezone.localdate()
    # Of two people who sort the same batch, the second waits here and then sees what is left.
    now = BeadBatch.objects.select_for_update().get(pk=batch.pk)
    bead = batch.bead
    firing = firing or next_firing(batch)
    count = good + rejected + broken
    if min(good, rejected, broken) < 0 or not count:
        raise ValidationError(_("Write how many came good and how many are rejects."))
    if firing == 2:
        _refuse_unpainted(batch, count)
    kinds, besides = (LocationKind.KILN, LocationKind.BENCH), NOT_SORTED[firing]
    taken = take_where_it_is(batch_item(batch), count, kinds, besides)
    last = firing >= bead.firings
    _refuse_more_than_started(now, (good if last else 0) + rejected + broken)
    glass = _sorted_glass(bead, taken, good, rejected, broken, firing)
    shelf = (place or usual_place(LocationKind.BEAD_SHELF)) if last else bench_place(TO_PAINT)
    made = [Made(batch_item(batch), shelf, good, glass.good_mg)]
    scrap = ZERO
    if glass.reject_mg:
        made.append(_rejects(batch, glass.reject_mg, rejects_to))
        scrap = scrap_value(bead, glass.reject_mg, on)
    belongs = belongs or ("batch", str(batch.number))
    costs = list(charges)
    if last and not spoiled:
        costs += _sorting_charges(bead, good, rejected, on, belongs)
    rate = Decimal(bead.second_reject_rate if firing == 2 else bead.reject_rate)

    def told(value: Decimal) -> Told:
        found = sort_value(
            value, good=good, rejects=rejected, broken=broken, reject_rate=rate, scrap=scrap
        )
        worth = [found.good, found.scrap][: len(made)]
        if len(made) == 1 and found.scrap:  # rejects too light to weigh bring nothing
            worth = [found.good + found.scrap]
        if spoiled:
            gone = found.accidents + found.beyond
            return Told(worth, expenses=[Cost(ChargeName.SPOILED, -gone)])
        beyond = [Cost(ChargeName.BEYOND, -found.beyond)] if found.beyond else []
        return Told(worth, {LossName.ACCIDENT: found.accidents}, beyond)

    posting = convert(
        PostingKind.FINISHING,
        taken,
        made,
        glass.losses,
        rest=LossName.UNWEIGHED,
        on=on,
        person=person,
        why=str(_("batch %d finished and sorted") % batch.number),
        belongs=belongs,
        charges=costs,
        told=told,
    )
    BeadBatch.objects.filter(pk=batch.pk).update(
        good=F("good") + (good if last else 0), rejected=F("rejected") + rejected + broken
    )
    batch.refresh_from_db(fields=["good", "rejected"])
    record_act(
        person, "finish and sort", batch, after={"good": good, "rejected": rejected, "lost": broken}
    )
    if minutes is not None and (last or minutes):
        # Beads sorted before their paint are polished and counted toward pay after it.
        pieces = {"beads": good, "rejected": rejected + broken} if last else {}
        done = Done(minutes=minutes, **pieces)
        write_ticket(Skill.POLISHING, done, person, posting=posting, bead=bead)
    return posting


def _refuse_unpainted(batch: BeadBatch, count: int) -> None:
    """Beads that stand to be painted are not sorted: their paint is to be burnt in first."""
    to_paint = beads_to_paint(batch)
    if not to_paint:
        return
    rows = Balance.objects.at(LocationKind.KILN, LocationKind.BENCH).filter(item__batch=batch)
    if sum(row.free_quantity for row in rows) - to_paint < count:
        raise ValidationError(
            _("%(n)s beads of %(batch)s are to be painted first.") % {"n": to_paint, "batch": batch}
        )


def _refuse_more_than_started(batch: BeadBatch, more: int) -> None:
    """Beads that a count found beyond those started cannot be told good or reject of this batch."""
    left = batch.started - batch.good - batch.rejected
    if more > left:
        raise ValidationError(
            _(
                "%(batch)s was begun with %(started)s beads, and %(left)s of them are not sorted "
                "yet; %(more)s cannot be. Count again, and take a count back that found too many."
            )
            % {"batch": batch, "started": batch.started, "left": max(left, 0), "more": more}
        )


def _sorting_charges(
    bead: Bead, good: int, rejected: int, on: date, belongs: tuple[str, str]
) -> list[Cost]:
    """Piercing and polishing of every bead sorted; those gone altogether were never at hand."""
    handled = good + rejected
    if not handled:
        return []
    standards, borne = Standards(on), set_up_borne(belongs)
    fills = -(-handled // bead.mould.cavities)
    amount = Amount(beads=handled, moulds=fills)
    paid = Amount(beads=good, moulds=-(-good // bead.mould.cavities))
    skills = [Skill.PIERCING, Skill.POLISHING] if bead.pierced_hot else [Skill.POLISHING]
    return [
        cost
        for skill in skills
        for cost in standards.steps(skill, amount, bead=bead, good=paid, set_up=borne)
    ]


def scrap_value(bead: Bead, glass_mg: int, on: date) -> Decimal:
    """What rejects bring as glass: so much raw glass of the bead's colours, as the yard has it.

    By the average of a gram in the yard; where that is empty, by the price in force (2 queries).
    """
    parts = list(bead.colours.all())
    whole = sum((Decimal(part.share) for part in parts), ZERO)
    rows = Balance.objects.at(LocationKind.YARD).filter(
        item__form=GlassForm.RAW, item__colour__in=[part.colour_id for part in parts]
    )
    there: dict[int, list[Decimal]] = {}
    for colour, quantity, value in rows.values_list("item__colour", "quantity", "value"):
        kept = there.setdefault(colour, [ZERO, ZERO])
        kept[0] += quantity
        kept[1] += value
    prices: dict[int, Decimal] = {}
    found = ZERO
    for part in parts:
        quantity, value = there.get(part.colour_id, (ZERO, ZERO))
        if quantity:
            each = value / quantity
        else:
            prices = prices or general_prices(on)
            each = prices[part.colour_id] / MG_PER_KG
        found += glass_mg * Decimal(part.share) / whole * each
    return six(found)


@dataclass(frozen=True)
class _SortedGlass:
    """Glass of what was sorted, in milligrams: in good beads, in rejects, and lost by name."""

    good_mg: int
    reject_mg: int
    losses: tuple[Loss, ...]


def _sorted_glass(
    bead: Bead, taken: Sequence[Taken], good: int, rejected: int, broken: int, firing: int
) -> _SortedGlass:
    """Piercing and polishing take glass once, after the first firing; broken beads take theirs."""
    glass = sum(_glass_share(part) for part in taken)
    lost = glass * broken // (good + rejected + broken)
    sound = glass - lost
    # What the hole takes is gone from good beads and rejects alike before they are sorted.
    pierced = _whole(sound * Decimal(bead.pierced_waste)) if firing == 1 else 0
    rejects = (sound - pierced) * rejected // max(1, good + rejected)
    good_mg = sound - pierced - rejects
    polished = _whole(good_mg * Decimal(bead.polishing_loss)) if firing == 1 else 0
    losses = (
        Loss(LossName.PIERCING, pierced),
        Loss(LossName.POLISHING, polished),
        Loss(LossName.ACCIDENT, lost),
    )
    return _SortedGlass(good_mg - polished, rejects, losses)


def next_firing(batch: BeadBatch) -> int:
    """Which firing the batch's beads come from: the second once some were sent to painting.

    Where part of a batch is only moulded yet, and nothing of it fired twice, that part is next.
    """
    if batch.bead.firings == 1:
        return 1
    lying = Balance.objects.inside().filter(item__batch=batch, quantity__gt=0)
    spots = {row.place.spot for row in lying.select_related("place")}
    if MOULDED in spots and not spots & {PAINTED, COOLED, LocationKind.KILN}:
        return 1
    painted = Posting.objects.filter(
        kind=PostingKind.FINISHING,
        reversed_by__isnull=True,
        movements__item__batch=batch,
        movements__to_place=bench_place(TO_PAINT),
    )
    return 2 if painted.exists() else 1


def _glass_share(part: Taken) -> int:
    row = Balance.objects.get(item=part.item, place=part.place)
    return row.glass_mg * part.quantity // row.quantity


def _rejects(batch: BeadBatch, glass_mg: int, rejects_to: str) -> Made:
    colour, mark = _glass_of_rejects(batch)
    if rejects_to == TO_GLASS:
        raw = glass_item(colour, GlassForm.RAW, mark)
        return Made(raw, usual_place(LocationKind.YARD), glass_mg)
    rejects = glass_item(colour, GlassForm.REJECTS, mark)
    return Made(rejects, usual_place(LocationKind.GLASS_SHELF), glass_mg)


def _glass_of_rejects(batch: BeadBatch) -> tuple[GlassColour | None, str]:
    """The heap that a batch's rejects are: its one glass with its mark, else a mix of its kind."""
    colours = [part.colour for part in batch.bead.colours.select_related("colour")]
    if len(colours) != 1:
        return mix_of(colours), ""
    marks = {glass.mark for glass in glass_moulded(batch)}
    return colours[0], marks.pop() if len(marks) == 1 else ""


def glass_moulded(batch: BeadBatch) -> list[Item]:
    """The heaps that a batch's moulds were filled from (1 query)."""
    return list(
        Item.objects.filter(
            kind=ItemKind.GLASS,
            movements__from_place__inside=True,
            movements__posting__kind=PostingKind.MOULDING,
            movements__posting__reversed_by__isnull=True,
            movements__posting__movements__item__batch=batch,
        )
        .select_related("colour")
        .distinct()
        .order_by("pk")
    )


def _whole(mg: Decimal) -> int:
    return int(mg.to_integral_value(ROUND_HALF_UP))
