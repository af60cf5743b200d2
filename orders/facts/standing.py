"""What holds of strand designs whatever lies on the shelves and whoever asks.

Designs and beads, moulds and programmes, kilns, rates, list prices and breaks change seldom and are
asked for at every key pressed at the counter, so they are kept (`workshop/standing.py`).
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from orders.costing import facts as told
from orders.costing.facts import (
    BeadFacts,
    DesignFacts,
    MouldFacts,
    ProgrammeFacts,
    RateFacts,
    SpacerFacts,
)
from orders.facts.beads import bead_facts, mould_facts, programme_facts
from orders.facts.designs import design_facts
from orders.models import (
    Customer,
    DesignPart,
    DesignPrice,
    Finding,
    QuantityBreak,
    StrandDesign,
    WorkMinutes,
)
from stock.agreement import clashes
from stock.models import Bead, BeadColour, CollectorPrice, GlassColour
from stock.runs import piercing_hands
from stock.services.standards import MinutesByBead, Standards
from workshop.models import Kiln, LabourRate, TaxRate
from workshop.money import ZERO
from workshop.standing import kept


@dataclass(frozen=True)
class Standing:
    """Facts of some designs on a day.

    rows        the designs themselves, with clasp and cord
    prices      those for everybody that are in force, as they were written
    findings    their clasps, spacers and cord that are kept in stock
    colours     the glass of their beads; prices_now what a kilogram of it is bought at
    kilns       those in use; hands who can pierce
    known       of the day's standards, what stands: see `standards`
    tax         the rate of VAT that holds unless another is chosen
    """

    on: date
    rows: tuple[StrandDesign, ...]
    prices: tuple[DesignPrice, ...]
    designs: dict[int, DesignFacts]
    beads: dict[int, BeadFacts]
    moulds: dict[int, MouldFacts]
    programmes: dict[int, ProgrammeFacts]
    spacers: dict[int, SpacerFacts]
    findings: tuple[Finding, ...]
    colours: tuple[GlassColour, ...]
    prices_now: dict[int, Decimal]
    kilns: tuple[Kiln, ...]
    hands: int
    rates: tuple[RateFacts, ...]
    breaks: tuple[told.QuantityBreak, ...]
    known: dict[str, object]
    tax: TaxRate | None

    def standards(self) -> Standards:
        """The standards of the day, of which only what does not stand is still to be read."""
        made = Standards(self.on)
        vars(made).update(self.known)
        return made


def standing_facts(design_ids: Iterable[int], on: date) -> Standing:
    """The standing facts of designs by key; one that is gone is left out (1 query, 18 at most)."""
    keys = tuple(design_ids)
    return kept("designs", (keys, on), lambda: _read(keys, on))


def _read(keys: Sequence[int], on: date) -> Standing:
    found = StrandDesign.objects.with_findings().in_bulk(keys)
    designs = [found[key] for key in keys if key in found]
    parts = (
        DesignPart.objects.filter(design__in=designs)
        .select_related("spacer", *(f"bead__{name}" for name in BEAD_NEEDS))
        .order_by("design_id", "position")
    )
    prices = list(prices_in_force(designs, None, on))
    return _gathered(designs, list(parts), prices, on)


# What comes with the bead of a part.
BEAD_NEEDS = ("mould", "programme", "second_programme")


def typed_facts(design: StrandDesign, parts: Sequence[DesignPart], on: date) -> Standing:
    """The standing facts of one design that is only being typed (17 queries at most).

    `clasp` and `cord` come with it, and with its parts what BEAD_NEEDS names. One that is being
    changed bears the key of the design it changes, and so finds its prices.
    """
    prices = list(prices_in_force([design], None, on)) if design.pk else []
    return _gathered([design], parts, prices, on)


def _gathered(
    designs: Sequence[StrandDesign],
    parts: Sequence[DesignPart],
    prices: Sequence[DesignPrice],
    on: date,
) -> Standing:
    beads = {part.bead_id: part.bead for part in parts if part.bead is not None}
    shares = _shares(beads)
    used = {share.colour_id for rows in shares.values() for share in rows}
    colours = {colour.pk: colour for colour in GlassColour.objects.filter(pk__in=used)}
    clashing = clashes({key: [colours[row.colour_id] for row in s] for key, s in shares.items()})
    standards = Standards(on)
    minutes = MinutesByBead(standards)
    kilns = tuple(Kiln.objects.filter(in_use=True).order_by("pk"))
    programmes = (row for bead in beads.values() for row in (bead.programme, bead.second_programme))
    return Standing(
        on=on,
        rows=tuple(designs),
        prices=tuple(prices),
        designs=_designs(designs, parts, standards),
        beads={
            key: bead_facts(bead, shares.get(key, ()), minutes.of(bead), clashing.get(key))
            for key, bead in beads.items()
        },
        moulds={bead.mould_id: mould_facts(bead.mould) for bead in beads.values()},
        programmes={row.pk: programme_facts(row) for row in programmes if row is not None},
        spacers={
            part.spacer_id: SpacerFacts(
                part.spacer_id, part.spacer.name, part.spacer.length_mm, part.spacer.price
            )
            for part in parts
            if part.spacer is not None
        },
        findings=tuple(_kept_findings(designs, parts)),
        colours=tuple(colours.values()),
        prices_now=_prices_now(colours, on),
        kilns=kilns,
        hands=piercing_hands() if any(kiln.is_kept_hot for kiln in kilns) else 1,
        rates=tuple(_rates(standards)),
        breaks=tuple(breaks_in_force(on)),
        known=standards.standing_parts(),
        tax=TaxRate.standard_on(on),
    )


def _kept_findings(
    designs: Sequence[StrandDesign], parts: Iterable[DesignPart]
) -> Iterable[Finding]:
    """Each finding of some designs that is kept in stock, once."""
    found = [row for design in designs for row in (design.clasp, design.cord)]
    found += [part.spacer for part in parts]
    return {row.pk: row for row in found if row is not None and row.kept}.values()


def prices_in_force(
    designs: Sequence[StrandDesign], customer: Customer | None, on: date
) -> Iterable[DesignPrice]:
    """The newest price of each design, group and quantity: a customer's own, or for None those for
    everybody (1 query)."""
    newest: dict[tuple[int, str, int], DesignPrice] = {}
    rows = DesignPrice.objects.filter(customer=customer, design__in=designs, valid_from__lte=on)
    for price in rows.order_by("valid_from", "id"):
        newest[price.design_id, price.group, price.from_strands] = price
    return newest.values()


def breaks_in_force(on: date) -> Iterable[told.QuantityBreak]:
    """The newest quantity break of each group and number of strands (1 query).

    One of 0 stands too: it is how a group is kept out of what everybody gets.
    """
    newest: dict[tuple[str, int], QuantityBreak] = {}
    for row in QuantityBreak.objects.filter(valid_from__lte=on).order_by("valid_from", "id"):
        newest[row.group, row.from_strands] = row
    for row in newest.values():
        yield told.QuantityBreak(row.from_strands, row.off, row.group)


def _prices_now(colours: dict[int, GlassColour], on: date) -> dict[int, Decimal]:
    """What a kilogram of each colour's raw glass is bought at on a day."""
    agreed = CollectorPrice.objects.filter(
        collector__isnull=True, colour__in=colours, valid_from__lte=on
    )
    prices = {key: colour.price_per_kg for key, colour in colours.items()}
    return prices | dict(agreed.order_by("valid_from").values_list("colour_id", "price_per_kg"))


def _shares(beads: dict[int, Bead]) -> dict[int, list[BeadColour]]:
    found: dict[int, list[BeadColour]] = {}
    for share in BeadColour.objects.filter(bead__in=beads).order_by("bead_id", "layer", "id"):
        found.setdefault(share.bead_id, []).append(share)
    return found


def _rates(standards: Standards) -> Iterable[RateFacts]:
    """The newest rate of each step, kind and form, with the employer's share (2 queries)."""
    share = standards.standing.employer_share
    newest: dict[tuple[str, str, str], LabourRate] = {}
    held = LabourRate.objects.filter(valid_from__lte=standards.on)
    for rate in held.order_by("valid_from", "id"):
        newest[rate.step_id, rate.kind, rate.form] = rate
    for rate in sorted(newest.values(), key=lambda rate: rate.pk):
        yield RateFacts(
            key=rate.pk,
            step=rate.step_id,
            skill=rate.skill,
            basis=rate.basis,
            minutes_each=rate.minutes_each,
            hourly=rate.hourly,
            setup_min=rate.setup_min,
            allowance=rate.allowance,
            piece=rate.piece,
            kind=rate.kind,
            form=rate.form,
            employer_share=share,
        )


def _designs(
    designs: Sequence[StrandDesign], parts: Iterable[DesignPart], standards: Standards
) -> dict[int, DesignFacts]:
    """Each design with its own of the parts, which come in their order.

    Minutes of work on a piece are read where there is such a line (1 query).
    """
    work = [design.pk for design in designs if design.is_work]
    own_rates: dict[int, tuple[RateFacts, ...]] = {d.pk: () for d in designs if d.is_loose}
    if work:
        own_rates |= _work_rates(work, standards)
    own: dict[int | None, list[DesignPart]] = {design.pk: [] for design in designs}
    for part in parts:
        own[part.design_id].append(part)
    made = [design_facts(each, own[each.pk], own_rates.get(each.pk)) for each in designs]
    return {int(facts.key): facts for facts in made}


def _work_rates(designs: Sequence[int], standards: Standards) -> dict[int, tuple[RateFacts, ...]]:
    """A rate for each skill that works on a piece, at the dearest pay an hour of that skill.

    The minutes are written for this very work, so no allowance is laid on them.
    """
    found: dict[int, list[RateFacts]] = {pk: [] for pk in designs}
    for row in WorkMinutes.objects.filter(design__in=designs).select_related("design"):
        hourly = max((rate.hourly for rate in standards.rates.of(row.skill)), default=ZERO)
        found[row.design_id].append(
            RateFacts(
                key=f"work {row.pk}",
                step=row.design.name,
                skill=row.skill,
                basis=told.PER_STRAND,
                minutes_each=row.minutes,
                hourly=hourly,
                employer_share=standards.standing.employer_share,
            )
        )
    return {pk: tuple(rates) for pk, rates in found.items()}
