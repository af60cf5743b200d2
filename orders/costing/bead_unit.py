"""One bead of a kind: its mass, the glass weighed out for it, where and how it is fired.

finished mass = volume × density × (1 − porosity), or the weighed mean once enough were weighed;
fired mass = finished ÷ (1 − polishing loss) [÷ (1 − waste from piercing)];
mould fill = fired ÷ (1 − spill); reject rate over two firings = 1 − (1 − q1)(1 − q2).
"""

from dataclasses import dataclass
from decimal import Decimal, localcontext
from typing import Any

from orders.costing.beads_to_start import check_scatter
from orders.costing.checks import (
    NO_FIRING,
    UNKNOWN,
    check_rate,
    check_shares,
    exact,
    loss,
    number,
    whole,
)
from orders.costing.errors import CostingError
from orders.costing.facts import (
    PAINTING,
    PER_BEAD,
    PER_KG,
    PER_LOAD,
    PER_MOULD,
    PIERCING,
    STRINGING,
    BeadFacts,
    BeadFiringFacts,
    ColourFacts,
    ColourShare,
    FormFacts,
    Key,
    KilnFacts,
    MouldFacts,
    ProgrammeFacts,
    RateFacts,
    ScatterFacts,
    WorkshopFacts,
)
from orders.costing.kiln_choice import kiln_for
from orders.costing.kiln_minutes import load_min
from orders.costing.numbers import CONTEXT, G_PER_KG, MM3_PER_CM3, ONE, ZERO
from orders.costing.scatter import scatter_over
from workshop.physics.sentences import gettext_noop
from workshop.physics.shapes import ShapeError, bead_shape

NO_MOULD = gettext_noop(
    "No mould for %(subject)s is owned, so it cannot be moulded. Add the mould, or choose another "
    "for this bead."
)


@dataclass(frozen=True, slots=True)
class ColourUnit:
    """One colour in one bead. glass_g is prepared glass for one bead started."""

    colour: ColourFacts
    form: FormFacts
    share: Decimal
    glass_g: Decimal
    cost: Decimal


@dataclass(frozen=True, slots=True)
class FiringUnit:
    """One firing of a bead and the kiln it goes into.

    reach   share of the beads started that are expected to reach this firing
    heat_g  glass per bead that is heated
    """

    number: int
    facts: BeadFiringFacts
    reject_rate: Decimal
    reach: Decimal
    programme: ProgrammeFacts
    mould: MouldFacts
    kiln: KilnFacts
    fills_a_load: int
    load_min: Decimal


@dataclass(frozen=True, slots=True)
class BeadUnit:
    """Figures of one bead that do not depend on how many are made."""

    facts: BeadFacts
    volume_mm3: Decimal | None
    length_mm: Decimal
    density_g_cm3: Decimal
    weighed: bool
    finished_g: Decimal
    fired_g: Decimal
    fill_g: Decimal
    colours: tuple[ColourUnit, ...]
    glass_cost: Decimal
    pigment_g: Decimal
    pigment_cost: Decimal
    firings: tuple[FiringUnit, ...]
    reject_rate: Decimal
    scatter: ScatterFacts | None
    rates: tuple[RateFacts, ...]


def bead_unit(workshop: WorkshopFacts, key: Key) -> BeadUnit:
    """The figures of one bead; worked out once per workshop's facts.

    Raises CostingError for facts that cannot be: see the sentences in checks.py and above.
    """
    kept = workshop._kept.get(("bead", key))
    if kept is None:
        with localcontext(CONTEXT):
            kept = _bead_unit(workshop, workshop.beads[key])
        workshop._kept["bead", key] = kept
    return kept


def bead_length_mm(workshop: WorkshopFacts, key: Key) -> Decimal:
    """What a bead takes of the cord; asks for nothing that only making it needs."""
    kept = workshop._kept.get(("length", key))
    if kept is None:
        kept = workshop._kept["length", key] = _size(workshop.beads[key])[1]
    return kept


def _bead_unit(workshop: WorkshopFacts, bead: BeadFacts) -> BeadUnit:
    check_shares(workshop, bead)
    volume_mm3, length_mm = _size(bead)
    density = _density(workshop, bead)
    weighed = _is_weighed(workshop, bead)
    if weighed:
        assert bead.weighed is not None
        finished_g = number(bead.weighed.mean_g, "mean_g", bead.name, above=True)
    else:
        volume_mm3 = number(volume_mm3, "volume_mm3", bead.name, above=True)
        porosity = loss(bead.porosity, "porosity", bead.name)
        finished_g = volume_mm3 / MM3_PER_CM3 * density * (ONE - porosity)
    fired_g = finished_g / (ONE - loss(bead.polishing_loss, "polishing_loss", bead.name))
    fired_g /= ONE - loss(bead.pierced_waste, "pierced_waste", bead.name)
    fill_g = fired_g / (ONE - loss(bead.spill, "spill", bead.name))
    colours = tuple(_colour(workshop, bead, part, fill_g) for part in bead.colours)
    dose = number(bead.pigment_g_per_kg, "pigment_g_per_kg", bead.name, most=1000)
    pigment_g = fill_g * dose / G_PER_KG
    price = number(bead.pigment_price_per_kg, "pigment_price_per_kg", bead.name)
    number(bead.paint_price_each, "paint_price_each", bead.name)
    firings, reject_rate = _firings(workshop, bead)
    return BeadUnit(
        facts=bead,
        volume_mm3=volume_mm3,
        length_mm=length_mm,
        density_g_cm3=density,
        weighed=weighed,
        finished_g=finished_g,
        fired_g=fired_g,
        fill_g=fill_g,
        colours=colours,
        glass_cost=sum((part.cost for part in colours), ZERO),
        pigment_g=pigment_g,
        pigment_cost=pigment_g * price / G_PER_KG,
        firings=firings,
        reject_rate=reject_rate,
        scatter=_scatter(workshop, bead),
        rates=_rates(workshop, bead),
    )


def _size(bead: BeadFacts) -> tuple[Decimal | None, Decimal]:
    """Volume and length on the cord: as given, else of the shape."""
    volume, length = bead.volume_mm3, bead.length_mm
    if bead.shape and (volume is None or length is None):
        try:
            shape = bead_shape(bead.shape, **dict(bead.dimensions))
        except ShapeError as error:
            params: dict[str, Any] = dict(error.params)
            raise CostingError(error.field, error.template, subject=bead.name, **params) from error
        volume = exact(shape.volume_mm3()) if volume is None else volume
        length = exact(shape.length_on_cord_mm()) if length is None else length
    length_mm = number(length, "length_mm", bead.name, above=True, most=1000)
    if volume is None:
        return None, length_mm
    return number(volume, "volume_mm3", bead.name, above=True), length_mm


def _density(workshop: WorkshopFacts, bead: BeadFacts) -> Decimal:
    """Density of the bead's glass: its own, else of its colours mixed by mass."""
    if bead.density_g_cm3 is not None:
        return number(bead.density_g_cm3, "density_g_cm3", bead.name, above=True, most=10)
    densities = []
    for part in bead.colours:
        colour = workshop.colours[part.colour]
        densities.append(
            number(colour.density_g_cm3, "density_g_cm3", colour.name, above=True, most=10)
        )
    if len(set(densities)) == 1:
        return densities[0]
    # Shares are by mass, so it is the volumes that add up.
    parts = zip(bead.colours, densities, strict=True)
    return ONE / sum((exact(part.share) / density for part, density in parts), ZERO)


def _is_weighed(workshop: WorkshopFacts, bead: BeadFacts) -> bool:
    weighed = bead.weighed
    return weighed is not None and (
        weighed.count >= workshop.choices.min_weighed
        or (bead.volume_mm3 is None and not bead.shape)
    )


def _colour(
    workshop: WorkshopFacts, bead: BeadFacts, part: ColourShare, fill_g: Decimal
) -> ColourUnit:
    colour = workshop.colours[part.colour]
    form = next(form for form in colour.forms if form.form == bead.form)
    for field in ("grinding_yield", "washing_yield"):
        number(getattr(form, field), field, f"{colour.name} {form.form}", above=True, most=1)
    number(form.free_g, "free_g", f"{colour.name} {form.form}")
    number(colour.raw_free_g, "raw_free_g", colour.name)
    number(colour.price_per_kg, "price_per_kg", colour.name)
    if colour.bottle_g is not None:
        number(colour.bottle_g, "bottle_g", colour.name, above=True, most=100_000)
    glass_g = fill_g * exact(part.share)
    raw_g = glass_g / form.grinding_yield / form.washing_yield
    return ColourUnit(
        colour, form, exact(part.share), glass_g, raw_g * colour.price_per_kg / G_PER_KG
    )


def _firings(workshop: WorkshopFacts, bead: BeadFacts) -> tuple[tuple[FiringUnit, ...], Decimal]:
    if not bead.firings:
        raise CostingError("programme", NO_FIRING, subject=bead.name)
    units = []
    reach = ONE
    for place, firing in enumerate(bead.firings):
        reject_rate = number(firing.reject_rate, "reject_rate", bead.name, most=1)
        units.append(_firing(workshop, bead, place + 1, firing, reject_rate, reach))
        reach *= ONE - reject_rate
    # A rate of 100 % passes here and is refused with its own sentence by beads_to_start.
    return tuple(units), ONE - reach


def _firing(
    workshop: WorkshopFacts,
    bead: BeadFacts,
    number_of_firing: int,
    firing: BeadFiringFacts,
    reject_rate: Decimal,
    reach: Decimal,
) -> FiringUnit:
    if firing.programme not in workshop.programmes:
        raise CostingError("programme", UNKNOWN, subject=bead.name, what="programme")
    programme = workshop.programmes[firing.programme]
    number(programme.temperature_c, "temperature_c", programme.name, above=True, most=1500)
    number(programme.minutes, "minutes", programme.name, above=True, most=100_000)
    mould = workshop.moulds.get(firing.mould)
    if mould is None or mould.owned < 1:
        raise CostingError("mould", NO_MOULD, subject=bead.name)
    whole(mould.cavities, "cavities", mould.name, least=1)
    whole(mould.places, "places", mould.name, least=1)
    number(mould.clay_g, "clay_g", mould.name)
    kiln = kiln_for(workshop, bead, programme, mould)
    return FiringUnit(
        number=number_of_firing,
        facts=firing,
        reject_rate=reject_rate,
        reach=reach,
        programme=programme,
        mould=mould,
        kiln=kiln,
        fills_a_load=min(mould.owned, kiln.places // mould.places),
        load_min=exact(load_min(kiln, programme)),
    )


def _scatter(workshop: WorkshopFacts, bead: BeadFacts) -> ScatterFacts | None:
    if not workshop.choices.rejects_by_load:
        return None
    for firing in bead.firings:
        if firing.scatter is not None:
            check_scatter(firing.scatter.alpha, firing.scatter.beta)
    return scatter_over(bead.firings)


def rates_by_step(workshop: WorkshopFacts) -> dict[str, list[RateFacts]]:
    """The labour rates, checked, by step."""
    kept = workshop._kept.get("rates")
    if kept is None:
        kept = {}
        for rate in workshop.rates:
            check_rate(rate)
            kept.setdefault(rate.step, []).append(rate)
        workshop._kept["rates"] = kept
    return kept


def _rates(workshop: WorkshopFacts, bead: BeadFacts) -> tuple[RateFacts, ...]:
    """The rates of the work that making this bead takes: its kind's own, else every kind's."""
    found = []
    for rates in rates_by_step(workshop).values():
        rate = next((rate for rate in rates if rate.kind == bead.kind), None)
        rate = rate or next((rate for rate in rates if not rate.kind), None)
        if rate is not None and _makes_beads(rate, bead):
            found.append(rate)
    return tuple(found)


def _makes_beads(rate: RateFacts, bead: BeadFacts) -> bool:
    if rate.skill == STRINGING or rate.basis not in (PER_KG, PER_MOULD, PER_BEAD, PER_LOAD):
        return False
    if rate.skill == PAINTING:
        return bead.painted
    return bead.pierced or rate.skill != PIERCING
