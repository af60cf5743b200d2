"""A step of the working as a sentence with its own numbers put in.

The general rule, with letters, stands one tap deeper (`rule_said`). Shares are told in per cent.
"""

import re
from collections.abc import Callable, Sequence
from typing import Any, Protocol

from django.utils.translation import get_language, gettext_noop, ngettext, pgettext_lazy
from django.utils.translation import gettext as _

from workshop import formats
from workshop.languages import SOURCE
from workshop.money import MINOR_DIGITS

MOST_NAMED = 4
CAPITAL_NOUNS = frozenset({"de"})  # languages in which a name keeps its capital amid a sentence
LETTERS = "abcdefghijklmn"
# What is counted, as it stands after a number; measures (g, mm, min) are written alike everywhere.
UNITS = {
    "bead": pgettext_lazy("unit after a number", "bead"),
    "beads": pgettext_lazy("unit after a number", "beads"),
    "bottles": pgettext_lazy("unit after a number", "bottles"),
    "hands": pgettext_lazy("unit after a number", "hands"),
    "load": pgettext_lazy("unit after a number", "load"),
    "loads": pgettext_lazy("unit after a number", "loads"),
    "mould": pgettext_lazy("unit after a number", "mould"),
    "moulds": pgettext_lazy("unit after a number", "moulds"),
    "order": pgettext_lazy("unit after a number", "order"),
    "pieces": pgettext_lazy("unit after a number", "pieces"),
    "places": pgettext_lazy("unit after a number", "places"),
    "rounds": pgettext_lazy("unit after a number", "rounds"),
    "run": pgettext_lazy("unit after a number", "run"),
    "runs": pgettext_lazy("unit after a number", "runs"),
    "strand": pgettext_lazy("unit after a number", "strand"),
}
# Where a fact is from. What is not here is a name: of a book, a standard or a thing of the owner's.
SOURCES = {
    "EN ISO 18125, from memory": pgettext_lazy("source of a figure", "EN ISO 18125, from memory"),
    "VAT rates": pgettext_lazy("source of a figure", "VAT rates"),
    "VDI heat atlas": pgettext_lazy("source of a figure", "VDI heat atlas"),
    "bead": pgettext_lazy("source of a figure", "bead"),
    "bead: cannot be made as it stands": pgettext_lazy(
        "source of a figure", "bead: cannot be made as it stands"
    ),
    "colour": pgettext_lazy("source of a figure", "colour"),
    "common practice, no source": pgettext_lazy("source of a figure", "common practice, no source"),
    "definition": pgettext_lazy("source of a figure", "definition"),
    "design": pgettext_lazy("source of a figure", "design"),
    "kiln": pgettext_lazy("source of a figure", "kiln"),
    "layout": pgettext_lazy("source of a figure", "layout"),
    "measured": pgettext_lazy("source of a figure", "measured"),
    "minutes of a load": pgettext_lazy("source of a figure", "minutes of a load"),
    "mould": pgettext_lazy("source of a figure", "mould"),
    "neighbouring length": pgettext_lazy("source of a figure", "neighbouring length"),
    "no scatter": pgettext_lazy("source of a figure", "no scatter"),
    "one more": pgettext_lazy("source of a figure", "one more"),
    "order": pgettext_lazy("source of a figure", "order"),
    "order line": pgettext_lazy("source of a figure", "order line"),
    "owner's choice": pgettext_lazy("source of a figure", "owner's choice"),
    "pattern": pgettext_lazy("source of a figure", "pattern"),
    "people": pgettext_lazy("source of a figure", "people"),
    "price list": pgettext_lazy("source of a figure", "price list"),
    "price list: it names a price for as many": pgettext_lazy(
        "source of a figure", "price list: it names a price for as many"
    ),
    "price policy": pgettext_lazy("source of a figure", "price policy"),
    "programme": pgettext_lazy("source of a figure", "programme"),
    "promise": pgettext_lazy("source of a figure", "promise"),
    "quantity breaks": pgettext_lazy("source of a figure", "quantity breaks"),
    "rate": pgettext_lazy("source of a figure", "rate"),
    "reference, see fuel": pgettext_lazy("source of a figure", "reference, see fuel"),
    "standing costs": pgettext_lazy("source of a figure", "standing costs"),
    "stock": pgettext_lazy("source of a figure", "stock"),
    "usual": pgettext_lazy("source of a figure", "usual"),
    "weighed": pgettext_lazy("source of a figure", "weighed"),
    "what if": pgettext_lazy("source of a figure", "what if"),
    "worked out": pgettext_lazy("source of a figure", "worked out"),
}
COUNTED_SOURCE = re.compile(r"(mean of|fitted to) (\d+) (?:weighed|loads)")
# Bare numbers of the working that are shares of one.
SHARES = frozenset(
    {
        "Allowance", "Assurance", "Colour share, by mass", "Efficiency", "Efficiency of the fire",
        "Employer's share", "Grinding yield", "Margin", "Margin asked for", "Moisture", "Overhead",
        "Polishing loss", "Porosity", "Rate of VAT", "Reject rate", "Reject rate over all firings",
        "Spill", "Usual fill", "Washing yield",
    }
)  # fmt: skip


class Step(Protocol):
    """A term of a working, live or kept."""

    @property
    def name(self) -> str: ...
    @property
    def value(self) -> Any: ...
    @property
    def unit(self) -> str: ...
    @property
    def how(self) -> str: ...
    @property
    def formula(self) -> str: ...
    @property
    def children(self) -> Sequence[Any]: ...


def figure_said(term: Step) -> str:
    """A value with its unit: money in its currency, a share in per cent."""
    if not term.unit and term.name in SHARES:
        return formats.percent(term.value)
    figure = formats.quantity(term.value, term.unit)
    return (
        figure if not term.unit or term.unit in MINOR_DIGITS else f"{figure} {unit_said(term.unit)}"
    )


def unit_said(unit: str) -> str:
    """A unit as it stands after its number."""
    return str(UNITS.get(unit, unit))


def source_said(source: str) -> str:
    """Where a fact is from, in words; a name as it is."""
    if counted := COUNTED_SOURCE.fullmatch(source):
        n = int(counted[2])
        if counted[1] == "mean of":
            return ngettext("mean of %(n)s weighed", "mean of %(n)s weighed", n) % {"n": n}
        return ngettext("fitted to %(n)s load", "fitted to %(n)s loads", n) % {"n": n}
    return str(SOURCES.get(source, source))


def sentence_of(term: Step) -> str:
    """How a figure follows from its parts, with their numbers and names put in."""
    say = SENTENCES.get(term.how)
    parts = [_named(part) for part in term.children]
    if say is None or not parts:
        return _(term.formula)
    return say(parts, term)


def rule_said(term: Step) -> str:
    """The general rule, and what each of its letters is; "" where the sentence says it all."""
    if term.how not in SENTENCES or term.how in ADDED_UP or not term.formula:
        return ""
    letters = ", ".join(
        f"{letter}: {_(part.name)}"
        for letter, part in zip(LETTERS, term.children[:MOST_NAMED], strict=False)
    )
    return f"{_(term.formula)} ({letters})" if letters else _(term.formula)


def _named(term: Step) -> str:
    """A part with its name; "164 beads wanted" rather than "164 beads beads wanted"."""
    name = _(term.name)
    if (get_language() or SOURCE).split("-")[0] not in CAPITAL_NOUNS:
        name = f"{name[:1].lower()}{name[1:]}"
    figure = figure_said(term)
    unit = unit_said(term.unit)
    return f"{figure.removesuffix(unit) if unit and name.startswith(unit) else figure + ' '}{name}"


def _joined(sign: str) -> Callable[[list[str], Step], str]:
    def say(parts: list[str], term: Step) -> str:
        told = f" {sign} ".join(parts[:MOST_NAMED])
        more = len(parts) - MOST_NAMED
        return told if more <= 0 else _("%(told)s %(sign)s %(n)s more") % {
            "told": told, "sign": sign, "n": more
        }  # fmt: skip

    return say


def _told(sentence: str, least: int) -> Callable[[list[str], Step], str]:
    """A sentence with the parts in their places; the bare rule where there are too few."""

    def say(parts: list[str], term: Step) -> str:
        if len(parts) < least:
            return _(term.formula)
        given = dict(zip(LETTERS, parts, strict=False)) | {"all": ", ".join(parts[:MOST_NAMED])}
        return _(sentence) % given

    return say


# Their sentence is the rule itself.
ADDED_UP = frozenset({"sum", "difference", "rest", "product", "quotient", "least", "greatest"})
SENTENCES: dict[str, Callable[[list[str], Step], str]] = {
    "sum": _joined("+"),
    "difference": _joined("−"),
    "rest": _joined("−"),
    "product": _joined("×"),
    "quotient": _joined("÷"),
    "share": _told(gettext_noop("%(a)s × %(b)s ÷ %(c)s"), 3),
    "without": _told(gettext_noop("%(a)s, less %(b)s"), 2),
    "with": _told(gettext_noop("%(a)s, and %(b)s on top"), 2),
    "without_tax": _told(gettext_noop("%(a)s, with %(b)s taken out"), 2),
    "before_loss": _told(gettext_noop("%(a)s after %(b)s: so much more before"), 2),
    "rounded_up": _told(gettext_noop("%(a)s ÷ %(b)s, rounded up"), 2),
    "rounded_down": _told(gettext_noop("%(a)s ÷ %(b)s, rounded down"), 2),
    "whole_multiple": _told(gettext_noop("%(a)s, rounded up to whole %(b)s"), 2),
    "up_to_step": _told(gettext_noop("%(a)s, rounded up to a step of %(b)s"), 2),
    "half_up": _told(gettext_noop("%(a)s × %(b)s, rounded to %(c)s"), 3),
    "half_up_less": _told(gettext_noop("%(a)s, less %(b)s, rounded to %(c)s"), 3),
    "least": _told(gettext_noop("the least of %(all)s"), 1),
    "greatest": _told(gettext_noop("the greatest of %(all)s"), 1),
    "survivors": _told(gettext_noop("%(a)s, of which %(b)s fail, rounded up"), 2),
    "chained_rejects": _told(gettext_noop("one firing after the other: %(all)s"), 1),
    "start": _told(
        gettext_noop("so many that %(a)s come good although %(b)s fails, with %(c)s"), 3
    ),
    "start_scattered": _told(
        gettext_noop(
            "so many that %(a)s come good although rejects scatter from load to load, with %(d)s"
        ),
        4,
    ),
    "paid_by_hour": _told(gettext_noop("%(a)s at %(b)s an hour"), 2),
    "margin": _told(gettext_noop("what %(b)s leaves above %(a)s, in 100 of it"), 2),
    "cord_length": _told(gettext_noop("%(a)s × %(b)s, and %(c)s; in metres"), 3),
    "beta_mean": _told(gettext_noop("%(a)s of both, %(b)s beside it"), 2),
    "beta_variance": _told(gettext_noop("how far %(a)s and %(b)s scatter"), 2),
    "per_thousand": _told(gettext_noop("%(all)s, multiplied, ÷ 1,000"), 1),
    "thousandth": _told(gettext_noop("%(all)s, added up, ÷ 1,000"), 1),
    "borne": _told(gettext_noop("%(a)s for %(b)s of the %(c)s that likely come good (%(d)s)"), 4),
}
