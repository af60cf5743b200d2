"""What a box of a form and a cell of a sheet say to each other.

A cell holds what a person sees on the screen: “market trader”, “yes”, “12 mm”, “8 %”. The box gets
what the browser would have sent. What may stand in a cell is asked of the box itself.
"""

import re
from collections.abc import Iterable, Iterator
from datetime import date, datetime, time
from decimal import Decimal, InvalidOperation
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from workshop.form_fields import CountField, LengthField, MassField, MoneyBox, PercentField
from workshop.formats import typed_with
from workshop.physics.number_text import UnitError, read_number

MOST_WORDS = 24  # of a list, in a sentence
QUANTITIES = (LengthField, MassField, CountField)
# A point and three figures: a thousand times more to whoever writes a decimal comma.
POINT_AND_THREE = re.compile(r"(?<![\d.,])[1-9]\d{0,2}\.\d{3}(?![\d.,])")


def plain(words: Any) -> str:
    """Words as they are compared: case, odd spaces, low lines and a star make no difference.

    >>> plain(" Credit_limit * "), plain("Market  Trader")
    ('credit limit', 'market trader')
    """
    return " ".join(str(words).replace("_", " ").replace("*", " ").split()).casefold()


def choices_of(field: forms.ChoiceField) -> Iterator[tuple[str, str]]:
    """Every (value, words) of a list, those under headings too."""
    for value, words in field.choices:
        if isinstance(words, (list, tuple)):
            yield from ((str(each), str(told)) for each, told in words)
        else:
            yield str(value), str(words)


def is_list(field: forms.Field) -> bool:
    """Whether only words of a list may stand there."""
    return isinstance(field, (forms.ChoiceField, forms.BooleanField))


def list_words(field: forms.Field) -> list[str]:
    """The words of a list as the screens say them."""
    if isinstance(field, forms.BooleanField):
        return [_("yes"), _("no")]
    if not isinstance(field, forms.ChoiceField):
        return []
    return [words for value, words in choices_of(field) if value]


def allowed(field: forms.Field) -> str:
    """What may stand in a cell, in a few words."""
    words = list_words(field)
    if words:
        return _("one of: %s") % _listed(words)
    if isinstance(field, PercentField):
        return _("per cent, such as 8 % or 8.25 %") + _bounds(field)
    if isinstance(field, MoneyBox):
        return _("an amount such as 12.50") + _bounds(field)
    if isinstance(field, LengthField):
        return _("a length such as %s") % {"cm": "45 cm"}.get(field.unit, "12 mm")
    if isinstance(field, MassField):
        return _("a weight such as 2.5 kg or 480 g")
    if isinstance(field, CountField):
        return _("a whole number, or such as 1 gross")
    if isinstance(field, forms.IntegerField):
        return _("a whole number") + _bounds(field)
    if isinstance(field, forms.DecimalField):
        return _("a number such as 2.5") + _bounds(field)
    if isinstance(field, forms.DateField):
        return _("a day such as 2026-12-04")
    if isinstance(field, forms.TimeField):
        return _("a time such as 08:30")
    most = getattr(field, "max_length", None)
    return _("up to %d letters") % most if most else _("any words")


def _bounds(field: Any) -> str:
    least, most = getattr(field, "min_value", None), getattr(field, "max_value", None)
    told = [_("from %s") % least] if least is not None else []
    # The database's own bound says nothing to a person.
    told += [_("to %s") % most] if most is not None and most < 10**6 else []
    return ", " + " ".join(told) if told else ""


def _understood(field: forms.ChoiceField) -> dict[str, str]:
    """Values of a list by all words for them."""
    found: dict[str, str] = {}
    for value, words in choices_of(field):
        found.setdefault(plain(words), value)
    if not isinstance(field, forms.ModelChoiceField):
        for value, _words in choices_of(field):
            found.setdefault(plain(value), value)
    return found


def typed(field: forms.Field, text: str, *, decimal_comma: bool = False) -> str | bool:
    """What the browser would send for a cell; raises ValidationError with what is allowed."""
    if isinstance(field, forms.BooleanField):
        return _yes_or_no(text)
    if isinstance(field, forms.ModelChoiceField):
        return _named(field, text)
    if isinstance(field, forms.ChoiceField):
        known = _understood(field)
        if plain(text) not in known:
            raise _unknown(text, list_words(field))
        return known[plain(text)]
    if isinstance(field, forms.DateField):
        return _day(text)
    if isinstance(field, (*QUANTITIES, forms.DecimalField, forms.IntegerField)):
        return _number(field, text, decimal_comma)
    if isinstance(field.widget, forms.Textarea):
        return text
    return " ".join(text.split())


def _yes_or_no(text: str) -> bool:
    told = plain(text)
    if told in {plain(_("yes")), "yes", "y", "x", "1", "true"}:
        return True
    if told in {plain(_("no")), "no", "n", "0", "false"}:
        return False
    raise ValidationError(_("Write yes or no, not “%s”.") % text)


def _named(field: forms.ModelChoiceField, text: str) -> str:
    """The key of what is called so; only one thing may be."""
    rows = field.queryset
    names = [f.name for f in rows.model._meta.get_fields() if f.name in {"name", "code"}]
    found: list[Any] = []
    # The exact name is found by its index, and of two that differ by their capitals it is meant.
    for lookup in (f"{name}{how}" for how in ("", "__iexact") for name in names):
        found = found or list(rows.filter(**{lookup: text})[:2])
    if len(found) == 1:
        return str(found[0].pk)
    what = rows.model._meta
    if found:
        raise ValidationError(
            _("%(count)d %(what)s are called “%(name)s”. Give them names of their own first.")
            % {
                "count": rows.filter(name__iexact=text).count(),
                "what": what.verbose_name_plural,
                "name": text,
            }
        )
    raise ValidationError(
        _("There is no %(what)s called “%(name)s”, in the book or in the sheets before this one.")
        % {"what": what.verbose_name, "name": text}
    )


def _unknown(text: str, words: Iterable[str]) -> ValidationError:
    return ValidationError(
        _("“%(text)s” is not on the list; write one of: %(known)s.")
        % {"text": text, "known": _listed(list(words))}
    )


def _listed(words: list[str]) -> str:
    """Words side by side; where one of them has a comma of its own, with another sign between."""
    between = "; " if any("," in word for word in words) else ", "
    return between.join([*words[:MOST_WORDS], *(["…"] if len(words) > MOST_WORDS else [])])


def _day(text: str) -> str:
    """Only years first are read: 04/12 is two days to two people."""
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError as error:
        raise ValidationError(
            _("“%s” is no day that can be read in one way; write one such as 2026-12-04.") % text
        ) from error


def _number(field: forms.Field, text: str, decimal_comma: bool) -> str:
    """A number that can be read in one way only; a bare share under per cent is asked about."""
    if decimal_comma and (found := POINT_AND_THREE.search(text)):
        whole = found.group().replace(".", "")
        raise ValidationError(
            _("“%(text)s” can be read two ways, as %(one)s or %(other)s; write one of them so.")
            % {"text": text, "one": whole, "other": found.group().replace(".", ",").rstrip("0")}
        )
    if isinstance(field, QUANTITIES):
        return text
    figures = "".join(text.replace("%", "").split())
    try:
        read_number(figures.removeprefix("-"))
    except UnitError as error:
        if re.fullmatch(r"-?[\d.,]+", figures):
            raise ValidationError(error.said(_)) from error
    if "," in figures and "." not in figures:
        figures = figures.replace(",", ".")
    if isinstance(field, PercentField) and "%" not in text:
        _ask_about_a_share(figures)
    return figures


def _ask_about_a_share(figures: str) -> None:
    try:
        number = Decimal(figures)
    except InvalidOperation:
        return
    if number.is_finite() and 0 < abs(number) < 1:
        raise ValidationError(
            _("“%(text)s” can be meant two ways; write %(one)s %% or %(other)s %%.")
            % {"text": figures, "one": f"{(number * 100).normalize():f}", "other": figures}
        )


Names = dict[type, dict[Any, str]]


@typed_with(".")
def written(box: forms.BoundField, names: Names) -> Any:
    """The value of a box as its cell shows it: words, a number, or a day.

    names  what things are called, by model and key; filled as they are asked for (1 query a model)
    """
    value, field = box.value(), box.field
    if isinstance(field, forms.BooleanField):
        return _("yes") if value else _("no")
    if value is None or value == "":
        return ""
    if isinstance(field, forms.ModelChoiceField):
        model = field.queryset.model
        if model not in names:
            names[model] = {str(each.pk): str(each) for each in model._default_manager.all()}
        return names[model].get(str(value), "")
    if isinstance(field, forms.ChoiceField):
        return dict(choices_of(field)).get(str(value), "")
    if isinstance(value, (date, datetime)):
        return value
    if isinstance(value, time):
        return f"{value:%H:%M}"
    if isinstance(field, PercentField):
        return f"{value} %"
    if isinstance(field, (forms.DecimalField, forms.IntegerField)):
        return Decimal(str(value))
    return str(value)


@typed_with(".")
def sent(box: forms.BoundField) -> str | None:
    """What the browser would send of a box that nobody touched; None for an empty tick."""
    value = box.value()
    if isinstance(box.field, forms.BooleanField):
        return "on" if value else None
    if value is None:
        return ""
    if isinstance(value, (date, time)):
        return value.isoformat()
    return str(value)
