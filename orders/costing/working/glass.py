"""The working of glass: by colour, ready, raw, short, about how many bottles, and its cost."""

from collections.abc import Callable
from decimal import Decimal

from orders.costing.facts import FormFacts, Key
from orders.costing.results import GlassCosting, PreparedCosting
from orders.costing.working.base import Working, added, given, listed, worked
from orders.costing.working.beads import glass_term
from orders.costing.working.terms import Term
from workshop.physics.sentences import gettext_noop as _

OfForm = Callable[[Working, Key, str], Term]


def colour_term(working: Working, glass: GlassCosting) -> Term:
    """One colour: needed, to prepare, raw, short, bottles, cost."""

    def make() -> Term:
        children = [
            _sum_of_forms(working, glass, needed_of_form_term, glass.needed_g, _("Ready glass")),
            _sum_of_forms(working, glass, to_prepare_term, glass.to_prepare_g, _("To prepare")),
            _raw_term(working, glass),
            short_term(working, glass),
        ]
        if glass.bottles is not None:
            children.append(_bottles(working, glass))
        children.append(colour_cost_term(working, glass))
        return listed(_("Glass"), children, glass.name, f"colour {glass.key}")

    return working.once(("colour", glass.key), make)


def _glass(working: Working, colour: Key) -> GlassCosting:
    return next(glass for glass in working.costing.glass if glass.key == colour)


def _prepared(working: Working, colour: Key, form: str) -> PreparedCosting:
    return next(kind for kind in _glass(working, colour).forms if kind.form == form)


def _form_facts(working: Working, colour: Key, form: str) -> FormFacts:
    return next(kind for kind in working.workshop.colours[colour].forms if kind.form == form)


def _subject(working: Working, colour: Key, form: str) -> str:
    return f"{working.workshop.colours[colour].name}, {form}"


def _sum_of_forms(
    working: Working, glass: GlassCosting, of_form: OfForm, grams: Decimal, name: str
) -> Term:
    parts = [of_form(working, glass.key, kind.form) for kind in glass.forms]
    return added(name, grams, "g", parts, glass.name)


def needed_of_form_term(working: Working, colour: Key, form: str) -> Term:
    """Prepared glass of a colour in a form, for all beads of the order."""

    def make() -> Term:
        parts = [
            glass_term(working, bead, colour)
            for bead in working.costing.beads
            for key, kind, _grams in bead.glass_g
            if key == colour and kind == form
        ]
        grams = _prepared(working, colour, form).needed_g
        subject = _subject(working, colour, form)
        return added(_("Prepared glass needed"), grams, "g", parts, subject, f"needed {form}")

    return working.once(("needed of form", colour, form), make)


def to_prepare_term(working: Working, colour: Key, form: str) -> Term:
    def make() -> Term:
        prepared = _prepared(working, colour, form)
        subject = _subject(working, colour, form)
        needed = needed_of_form_term(working, colour, form)
        free_g = _form_facts(working, colour, form).free_g
        free = given(_("Free prepared glass"), free_g, "g", "stock", subject)
        used = worked(
            _("Taken from prepared glass"), prepared.free_used_g, "g", "least", [needed, free]
        )
        children = [needed, used]
        name = _("Glass to prepare")
        grams = prepared.to_prepare_g
        return worked(name, grams, "g", "difference", children, subject, f"to prepare {form}")

    return working.once(("to prepare", colour, form), make)


def yield_terms(working: Working, colour: Key, form: str) -> list[Term]:
    facts = _form_facts(working, colour, form)
    subject = _subject(working, colour, form)
    return [
        given(_("Grinding yield"), facts.grinding_yield, "", "colour", subject),
        given(_("Washing yield"), facts.washing_yield, "", "colour", subject),
    ]


def _raw_of_form(working: Working, colour: Key, form: str) -> Term:
    """Raw glass for what is to prepare; of a form not from bottles, what is short of it."""
    prepared = _prepared(working, colour, form)
    children = [to_prepare_term(working, colour, form), *yield_terms(working, colour, form)]
    grams = prepared.behind_g
    name = _("Raw glass for it") if prepared.from_raw else _("Short of it")
    subject = _subject(working, colour, form)
    return worked(name, grams, "g", "quotient", children, subject, f"raw {form}")


def _raw_term(working: Working, glass: GlassCosting) -> Term:
    def make() -> Term:
        parts = [
            _raw_of_form(working, glass.key, kind.form)
            for kind in glass.forms
            if _form_facts(working, glass.key, kind.form).from_raw
        ]
        return added(_("Raw glass needed"), glass.raw_g, "g", parts, glass.name, "raw")

    return working.once(("raw", glass.key), make)


def _raw_short(working: Working, glass: GlassCosting) -> Term:
    def make() -> Term:
        raw = _raw_term(working, glass)
        facts = working.workshop.colours[glass.key]
        free = given(_("Free raw glass"), facts.raw_free_g, "g", "stock", glass.name)
        used = worked(_("Taken from raw glass"), glass.raw_free_used_g, "g", "least", [raw, free])
        grams = glass.raw_g - glass.raw_free_used_g
        return worked(_("Raw glass short"), grams, "g", "difference", [raw, used], glass.name)

    return working.once(("raw short", glass.key), make)


def short_term(working: Working, glass: GlassCosting) -> Term:
    """What must still come in."""
    parts = [_raw_short(working, glass)]
    for kind in glass.forms:
        if not _form_facts(working, glass.key, kind.form).from_raw:
            parts.append(_raw_of_form(working, glass.key, kind.form))
    return added(_("Short"), glass.short_g, "g", parts, glass.name, "short")


def _bottles(working: Working, glass: GlassCosting) -> Term:
    facts = working.workshop.colours[glass.key]
    assert facts.bottle_g is not None and glass.bottles is not None
    mass = given(_("Mass of one bottle"), facts.bottle_g, "g", "colour", glass.name)
    children = [_raw_short(working, glass), mass]
    name = _("Bottles, about")
    return worked(name, glass.bottles, "bottles", "rounded_up", children, glass.name, "bottles")


def colour_cost_term(working: Working, glass: GlassCosting) -> Term:
    """Raw glass behind everything used of a colour, prepared or not, at its price."""

    def make() -> Term:
        facts = working.workshop.colours[glass.key]
        price = given(
            _("Price of a kilogram"), facts.price_per_kg, working.currency, "stock", glass.name
        )
        parts = []
        for kind in glass.forms:
            needed = needed_of_form_term(working, glass.key, kind.form)
            subject = _subject(working, glass.key, kind.form)
            yields = yield_terms(working, glass.key, kind.form)
            raw_g = Decimal(needed.value) / yields[0].value / yields[1].value
            name = _("Raw glass behind it")
            behind = worked(name, raw_g, "g", "quotient", [needed, *yields], subject)
            parts.append(
                worked(
                    _("Glass"),
                    kind.cost,
                    working.currency,
                    "per_thousand",
                    [behind, price],
                    subject,
                    f"form {kind.form}",
                )
            )
        name = _("Cost of the glass")
        return added(name, glass.cost, working.currency, parts, glass.name, f"colour {glass.key}")

    return working.once(("colour cost", glass.key), make)
