"""Glass of one colour: what is needed ready, what of it is prepared and from how much raw glass.

prepared needed − free prepared = to prepare; ÷ (grinding yield × washing yield) = raw; − free raw
= short; bottles = short ÷ mass of one, rounded up. What is free prepared is charged at what it
stands at in the book, preparing and all; the rest at what its raw glass cost.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from orders.costing.checks import number
from orders.costing.facts import FormFacts, Key, WorkshopFacts
from orders.costing.figures import MONEY, Figure, fact, rule, total
from orders.costing.results import GlassCosting, PreparedCosting
from workshop.physics.sentences import gettext_noop as _

GRINDING = fact(_("Grinding yield"), "", "colour")
WASHING = fact(_("Washing yield"), "", "colour")
PRICE = fact(_("Price of a kilogram"), MONEY, "stock")
FREE_PREPARED = fact(_("Free prepared glass"), "g", "stock")
FREE_RAW = fact(_("Free raw glass"), "g", "stock")
BOTTLE = fact(_("Mass of one bottle"), "g", "colour")

NEEDED = total(_("Prepared glass needed"), "g")
USED = rule(_("Taken from prepared glass"), "g", "least")
TO_PREPARE = rule(_("Glass to prepare"), "g", "difference")
RAW_FOR_IT = rule(_("Raw glass for it"), "g", "quotient")
SHORT_OF_IT = rule(_("Short of it"), "g", "quotient")
READY_IN_ALL = total(_("Ready glass"), "g")
PREPARE_IN_ALL = total(_("To prepare"), "g")
RAW = total(_("Raw glass needed"), "g", "raw")
RAW_USED = rule(_("Taken from raw glass"), "g", "least")
RAW_SHORT = rule(_("Raw glass short"), "g", "difference")
SHORT = total(_("Short"), "g", "short")
BOTTLES = rule(_("Bottles, about"), "bottles", "rounded_up", "bottles")
RAW_BEHIND = rule(_("Raw glass behind it"), "g", "quotient")
STANDS_AT = fact(_("Stands at, a kilogram"), MONEY, "stock")
PRICE_NOW = fact(_("Price of a kilogram today"), MONEY, "colour")
FREE_COST = rule(_("Free prepared glass"), MONEY, "per_thousand")
RAW_COST = rule(_("Raw glass"), MONEY, "per_thousand")
COST = total(_("Glass"), MONEY)
COST_IN_ALL = total(_("Cost of the glass"), MONEY)


@dataclass(frozen=True, slots=True)
class FormFigures:
    """One form of a colour, before any order: what is free and what preparing it leaves."""

    facts: FormFacts
    subject: str
    free_g: Figure
    yields: tuple[Figure, Figure]
    stands_at: Figure | None


@dataclass(frozen=True, slots=True)
class ColourFigures:
    """One colour, before any order."""

    key: Key
    name: str
    swatch: str
    forms: tuple[FormFigures, ...]
    raw_free_g: Figure
    price_per_kg: Figure
    price_now: Figure
    bottle_g: Figure | None

    def form(self, name: str) -> FormFigures:
        return next(form for form in self.forms if form.facts.form == name)

    def raw_cost(self, grams: Figure, form: FormFigures, price: Figure, key: str = "") -> Figure:
        """The raw glass behind some prepared glass, at a price of a kilogram."""
        behind = RAW_BEHIND(form.subject, grams, *form.yields)
        return RAW_COST(self.name, behind, price, key=key)


def colour_figures(workshop: WorkshopFacts, key: Key) -> ColourFigures:
    """What is known of a colour; worked out once per workshop's facts.

    Raises CostingError for a yield, mass or price that cannot be.
    """
    kept = workshop._kept.get(("colour", key))
    if kept is None:
        kept = workshop._kept["colour", key] = _colour_figures(workshop, key)
    return kept


def _colour_figures(workshop: WorkshopFacts, key: Key) -> ColourFigures:
    colour = workshop.colours[key]
    name = colour.name
    bottle_g = colour.bottle_g
    average = PRICE(number(colour.price_per_kg, "price_per_kg", name), name)
    now = colour.price_now
    return ColourFigures(
        key=key,
        name=name,
        swatch=colour.swatch,
        forms=tuple([_form_figures(form, name) for form in colour.forms]),
        raw_free_g=FREE_RAW(number(colour.raw_free_g, "raw_free_g", name), name),
        price_per_kg=average,
        price_now=average if now is None else PRICE_NOW(number(now, "price_per_kg", name), name),
        bottle_g=None
        if bottle_g is None
        else BOTTLE(number(bottle_g, "bottle_g", name, above=True, most=100_000), name),
    )


def _form_figures(form: FormFacts, colour: str) -> FormFigures:
    subject, said = f"{colour}, {form.form}", f"{colour} {form.form}"
    grinding = number(form.grinding_yield, "grinding_yield", said, above=True, most=1)
    washing = number(form.washing_yield, "washing_yield", said, above=True, most=1)
    return FormFigures(
        facts=form,
        subject=subject,
        free_g=FREE_PREPARED(number(form.free_g, "free_g", said), subject),
        yields=(GRINDING(grinding, subject), WASHING(washing, subject)),
        stands_at=None
        if form.value_per_kg is None
        else STANDS_AT(number(form.value_per_kg, "price_per_kg", said), subject),
    )


def glass_of(colour: ColourFigures, parts: Mapping[str, Sequence[Figure]]) -> GlassCosting:
    """A colour's glass for an order.

    parts  by form, what each kind of bead needs of it [g]

    Source: the sums at the head of the module (convention of the workshop).
    """
    name = colour.name
    kinds = [form for form in colour.forms if form.facts.form in parts]
    forms = tuple([_prepared(colour, form, parts[form.facts.form]) for form in kinds])
    bottle_g = colour.bottle_g

    def of_all(figure: str) -> list[Figure]:
        return [form.figure(figure) for form in forms]

    def behind(*, from_raw: bool) -> list[Figure]:
        return [form.figure("behind_g") for form in forms if form.from_raw == from_raw]

    return GlassCosting(
        key=colour.key,
        name=name,
        swatch=colour.swatch,
        forms=forms,
        needed_g=lambda _glass: READY_IN_ALL(name, of_all("needed_g")),
        to_prepare_g=lambda _glass: PREPARE_IN_ALL(name, of_all("to_prepare_g")),
        raw_g=lambda _glass: RAW(name, behind(from_raw=True)),
        raw_free_used_g=lambda glass: RAW_USED("", glass.figure("raw_g"), colour.raw_free_g),
        raw_short_g=lambda glass: RAW_SHORT(
            name, glass.figure("raw_g"), glass.figure("raw_free_used_g")
        ),
        short_g=lambda glass: SHORT(name, [glass.figure("raw_short_g"), *behind(from_raw=False)]),
        bottles=bottle_g and (lambda glass: BOTTLES(name, glass.figure("raw_short_g"), bottle_g)),
        cost=lambda _glass: COST_IN_ALL(name, of_all("cost"), f"colour {colour.key}"),
    )


def _prepared(colour: ColourFigures, form: FormFigures, parts: Sequence[Figure]) -> PreparedCosting:
    """Prepared glass of one form, for all beads of the order."""
    name, subject = form.facts.form, form.subject
    needed = NEEDED(subject, parts, f"needed {name}")
    used = USED("", needed, form.free_g)
    to_prepare = TO_PREPARE(subject, needed, used, key=f"to prepare {name}")
    behind = RAW_FOR_IT if form.facts.from_raw else SHORT_OF_IT
    price = colour.price_per_kg
    if form.stands_at is None or not used.value:
        parts = [colour.raw_cost(needed, form, price)]
    else:
        parts = [FREE_COST(subject, used, form.stands_at)]
        if to_prepare.value:
            parts.append(colour.raw_cost(to_prepare, form, price))
    return PreparedCosting(
        form=name,
        needed_g=needed,
        free_used_g=used,
        to_prepare_g=to_prepare,
        behind_g=lambda _form: behind(subject, to_prepare, *form.yields, key=f"raw {name}"),
        from_raw=form.facts.from_raw,
        cost=COST(subject, parts, f"form {name}"),
    )
