"""One bead of a kind: its mass, the glass weighed out for it, where and how it is fired.

finished mass = volume × density × (1 − porosity), or the weighed mean once enough were weighed;
fired mass = finished ÷ (1 − polishing loss) [÷ (1 − waste from piercing)];
mould fill = fired ÷ (1 − spill); reject rate over two firings = 1 − (1 − q1)(1 − q2).
"""

from dataclasses import dataclass
from decimal import Decimal, localcontext
from typing import Any

from orders.costing.beads_to_start import check_scatter
from orders.costing.checks import NO_FIRING, check_rate, check_shares, exact, loss, number
from orders.costing.errors import CostingError
from orders.costing.facts import (
    PAINTING,
    PER_BEAD,
    PER_KG,
    PER_LOAD,
    PER_MOULD,
    PER_RUN,
    PIERCING,
    STRINGING,
    BeadFacts,
    BeadFiringFacts,
    ColourShare,
    Key,
    RateFacts,
    ScatterFacts,
    WorkshopFacts,
)
from orders.costing.figures import MONEY, Figure, Rule, fact, given, rule, total
from orders.costing.firing import FiringUnit, firing_unit
from orders.costing.glass import ColourFigures, FormFigures, colour_figures
from orders.costing.numbers import CONTEXT
from orders.costing.scatter import moments, scatter_over
from workshop.physics.sentences import gettext_noop as _
from workshop.physics.shapes import FIELD_WORDS, SHAPE_FIELDS, ShapeError, bead_shape

# What a bead is, and what is lost on the way from the mould to the strand.
SHARE = fact(_("Colour share, by mass"), "", "bead")
OWN_DENSITY = fact(_("Density of the glass"), "g/cm³", "bead", "density")
COLOUR_DENSITY = fact(_("Density of the glass"), "g/cm³", "colour")
MIXED_DENSITY = rule(_("Density of the glass"), "g/cm³", "mixed_density")
OWN_VOLUME = fact(_("Volume, bore taken out"), "mm³", "bead", "volume")
SHAPE_VOLUME = {
    shape: Rule(_("Volume, bore taken out"), "mm³", f"volume_{shape}", key="volume")
    for shape in SHAPE_FIELDS
}
SIZES = {
    field: fact(words.capitalize(), "" if field == "points" else "mm", "bead", field)
    for field, words in FIELD_WORDS.items()
}
SOLID = rule(_("Mass without pores"), "g", "per_thousand")
POROSITY = fact(_("Porosity"), "", "bead")
FINISHED = rule(_("Finished mass"), "g", "without", "finished")
POLISHING = fact(_("Polishing loss"), "", "bead")
FIRED = rule(_("Fired mass"), "g", "before_loss", "fired")
PIERCING_WASTE = fact(_("Waste from piercing"), "", "bead")
BEFORE_PIERCING = rule(_("Fired mass before piercing"), "g", "before_loss", "fired")
SPILL = fact(_("Spill"), "", "bead")
FILL = rule(_("Mould fill"), "g", "before_loss", "fill")
DOSE = fact(_("Pigment dose"), "g/kg", "bead")
PIGMENT_PRICE = fact(_("Price of pigment"), MONEY, "bead")
RAW_OF_COLOUR = rule(_("Its part of a kilogram"), MONEY, "product")
RAW_OF_ALL = total(_("Raw glass, a kilogram"), MONEY)
PAINT_PRICE = fact(_("Paint for one"), MONEY, "bead")

# Rejects, firing by firing.
REJECTS = _("Reject rate")
REJECTS_OF_ALL = rule(_("Reject rate over all firings"), "", "chained_rejects")
ALPHA, BETA = _("Scatter, alpha"), _("Scatter, beta")
ALPHA_OF_ALL = Rule(ALPHA, "", "chained_alpha")
BETA_OF_ALL = Rule(BETA, "", "chained_beta")
MEAN, VARIANCE = _("Mean reject rate"), _("Its variance")
FITTED_MEAN = Rule(MEAN, "", "beta_mean")
FITTED_VARIANCE = Rule(VARIANCE, "", "beta_variance")
NO_VARIANCE = fact(VARIANCE, "", "no scatter")


@dataclass(frozen=True, slots=True)
class ColourUnit:
    """One colour in one bead, and the share of its mass that it is."""

    colour: ColourFigures
    form: FormFigures
    share: Figure


@dataclass(frozen=True, slots=True)
class BeadUnit:
    """Figures of one bead that do not depend on how many are made.

    finished_g  mass of a good bead; fired_g before polishing and piercing; fill_g as weighed
                out for it
    dose        pigment in the glass [g/kg], and its price [a kg]; paint_price for one bead
    raw_per_kg  what its glass costs raw, by the shares of its colours
    reject_g    glass that a reject sorted out after each firing brings back
    rejects     reject rate of each firing, and reject_rate over all of them
    scatter     alpha and beta of the reject rate, where rejects come load by load
    """

    facts: BeadFacts
    finished_g: Figure
    fired_g: Figure
    fill_g: Figure
    colours: tuple[ColourUnit, ...]
    dose: Figure
    dose_price: Figure
    paint_price: Figure
    raw_per_kg: Figure
    reject_g: tuple[Figure, ...]
    firings: tuple[FiringUnit, ...]
    rejects: tuple[Figure, ...]
    reject_rate: Figure
    scatter: tuple[Figure, Figure] | None
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
    name = bead.name
    finished = _finished(workshop, bead)
    fired = FIRED(
        name, finished, POLISHING(loss(bead.polishing_loss, "polishing_loss", name), name)
    )
    reject_g = (fired, *[finished for _again in bead.firings[1:]])
    if waste := loss(bead.pierced_waste, "pierced_waste", name):
        fired = BEFORE_PIERCING(name, fired, PIERCING_WASTE(waste, name))
    fill = FILL(name, fired, SPILL(loss(bead.spill, "spill", name), name))
    colours = tuple([_colour(workshop, bead, part) for part in bead.colours])
    dose = number(bead.pigment_g_per_kg, "pigment_g_per_kg", name, most=1000)
    dose_price = number(bead.pigment_price_per_kg, "pigment_price_per_kg", name)
    paint_price = number(bead.paint_price_each, "paint_price_each", name)
    rejects, firings = _firings(workshop, bead, (fired, finished))
    return BeadUnit(
        facts=bead,
        finished_g=finished,
        fired_g=fired,
        fill_g=fill,
        colours=colours,
        dose=DOSE(dose, name),
        dose_price=PIGMENT_PRICE(dose_price, name),
        paint_price=PAINT_PRICE(paint_price, name),
        raw_per_kg=RAW_OF_ALL(
            name,
            [
                RAW_OF_COLOUR(part.colour.name, part.share, part.colour.price_per_kg)
                for part in colours
            ],
        ),
        reject_g=reject_g,
        firings=firings,
        rejects=rejects,
        # A rate of 100 % passes here and is refused with its own sentence by beads_to_start.
        reject_rate=rejects[0] if len(rejects) == 1 else REJECTS_OF_ALL(name, *rejects),
        scatter=_scatter(workshop, bead),
        rates=_rates(workshop, bead),
    )


def _finished(workshop: WorkshopFacts, bead: BeadFacts) -> Figure:
    """Finished mass of one bead: weighed, or volume × density less its pores."""
    volume_mm3, _length_mm = _size(bead)
    density = _density(workshop, bead)
    if _is_weighed(workshop, bead):
        assert bead.weighed is not None
        mass_g = number(bead.weighed.mean_g, "mean_g", bead.name, above=True)
        weighed = fact(_("Finished mass"), "g", f"mean of {bead.weighed.count} weighed", "finished")
        return weighed(mass_g, bead.name)
    volume_mm3 = number(volume_mm3, "volume_mm3", bead.name, above=True)
    porosity = POROSITY(loss(bead.porosity, "porosity", bead.name), bead.name)
    return FINISHED(bead.name, SOLID("", _volume(bead, volume_mm3), density), porosity)


def _volume(bead: BeadFacts, volume_mm3: Decimal) -> Figure:
    if bead.volume_mm3 is not None:
        return OWN_VOLUME(volume_mm3, bead.name)
    stated = SHAPE_VOLUME[bead.shape]
    return Figure(volume_mm3, stated, dimensions(bead), bead.name, stated.key)


def dimensions(bead: BeadFacts) -> list[Figure]:
    """A bead's sizes, in the order in which its shape names them."""
    sizes = dict(bead.dimensions)
    return [SIZES[field](exact(sizes[field]), bead.name) for field in SHAPE_FIELDS[bead.shape]]


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


def _density(workshop: WorkshopFacts, bead: BeadFacts) -> Figure:
    """Density of the bead's glass: its own, else of its colours mixed by mass."""
    if bead.density_g_cm3 is not None:
        own = number(bead.density_g_cm3, "density_g_cm3", bead.name, above=True, most=10)
        return OWN_DENSITY(own, bead.name)
    densities = []
    for part in bead.colours:
        colour = workshop.colours[part.colour]
        density = number(colour.density_g_cm3, "density_g_cm3", colour.name, above=True, most=10)
        densities.append(COLOUR_DENSITY(density, colour.name))
    if len({density.value for density in densities}) == 1:
        return densities[0]
    # Shares are by mass, so it is the volumes that add up.
    mixed = []
    for part, of_colour in zip(bead.colours, densities, strict=True):
        mixed += [_share(workshop, bead, part), of_colour]
    return MIXED_DENSITY(bead.name, *mixed)


def _is_weighed(workshop: WorkshopFacts, bead: BeadFacts) -> bool:
    weighed = bead.weighed
    return weighed is not None and (
        weighed.count >= workshop.choices.min_weighed
        or (bead.volume_mm3 is None and not bead.shape)
    )


def _colour(workshop: WorkshopFacts, bead: BeadFacts, part: ColourShare) -> ColourUnit:
    colour = colour_figures(workshop, part.colour)
    return ColourUnit(colour, colour.form(bead.form), _share(workshop, bead, part))


def _share(workshop: WorkshopFacts, bead: BeadFacts, part: ColourShare) -> Figure:
    return SHARE(exact(part.share), f"{bead.name}, {workshop.colours[part.colour].name}")


def _firings(
    workshop: WorkshopFacts, bead: BeadFacts, masses: tuple[Figure, Figure]
) -> tuple[tuple[Figure, ...], tuple[FiringUnit, ...]]:
    """Reject rate of each firing, and the firings.

    masses  of one bead in the mould of its first firing, and of a later one
    """
    if not bead.firings:
        raise CostingError("programme", NO_FIRING, subject=bead.name)
    rejects: tuple[Figure, ...] = ()
    units = []
    for place, firing in enumerate(bead.firings, 1):
        rate = number(firing.reject_rate, "reject_rate", bead.name, most=1)
        each_g = masses[min(place, 2) - 1]
        units.append(firing_unit(workshop, bead, place, rejects, each_g))
        told = fact(REJECTS, "", firing.reject_source, f"firing {place}")
        rejects = (*rejects, told(rate, bead.name))
    return rejects, tuple(units)


def _scatter(workshop: WorkshopFacts, bead: BeadFacts) -> tuple[Figure, Figure] | None:
    """alpha and beta of the reject rate: as fitted, or over several firings; None without any."""
    if not workshop.choices.rejects_by_load:
        return None
    for firing in bead.firings:
        if firing.scatter is not None:
            check_scatter(firing.scatter.alpha, firing.scatter.beta)
    scatter = scatter_over(bead.firings)
    if scatter is None or len(bead.firings) == 1:
        return None if scatter is None else _fitted(scatter, bead.name)
    stages: list[Figure] = []
    for place, firing in enumerate(bead.firings, 1):
        stages += _stage(firing, bead.name, place)
    return (
        Figure(scatter.alpha, ALPHA_OF_ALL, stages, bead.name, ""),
        Figure(scatter.beta, BETA_OF_ALL, stages, bead.name, ""),
    )


def _fitted(scatter: ScatterFacts, subject: str) -> tuple[Figure, Figure]:
    source = f"fitted to {scatter.loads} loads"
    return (
        given(ALPHA, scatter.alpha, "", source, subject),
        given(BETA, scatter.beta, "", source, subject),
    )


def _stage(firing: BeadFiringFacts, subject: str, place: int) -> tuple[Figure, Figure]:
    """Mean and variance of the reject rate of one firing."""
    keys = f"mean {place}", f"spread {place}"
    mean, variance = moments(firing)
    if firing.scatter is None:
        told = fact(MEAN, "", firing.reject_source)
        return told(mean, subject, keys[0]), NO_VARIANCE(variance, subject, keys[1])
    fitted = _fitted(firing.scatter, subject)
    return (
        Figure(mean, FITTED_MEAN, fitted, subject, keys[0]),
        Figure(variance, FITTED_VARIANCE, fitted, subject, keys[1]),
    )


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
    """The rates of the work that making this bead takes.

    Of each step its kind's and form's own, else its kind's, else its form's, else the general one.
    """
    found = []
    for rates in rates_by_step(workshop).values():
        held = [
            rate for rate in rates if rate.kind in ("", bead.kind) and rate.form in ("", bead.form)
        ]
        rate = max(held, key=lambda rate: (bool(rate.kind), bool(rate.form)), default=None)
        if rate is not None and _makes_beads(rate, bead):
            found.append(rate)
    return tuple(found)


OF_BEADS = frozenset({PER_KG, PER_MOULD, PER_BEAD, PER_LOAD, PER_RUN})


def _makes_beads(rate: RateFacts, bead: BeadFacts) -> bool:
    if rate.skill == STRINGING or rate.basis not in OF_BEADS:
        return False
    if rate.skill == PAINTING:
        return bead.painted
    return bead.pierced or rate.skill != PIERCING
