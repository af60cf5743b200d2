"""Form boxes that understand what a workshop writes: “16 in”, “2.5 kg”, “8 %”, “1 gross”."""

import re
from decimal import ROUND_HALF_UP, Decimal
from functools import partial
from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from workshop.form_bounds import within_reach
from workshop.formats import decimal_mark, in_a_box
from workshop.physics import units
from workshop.physics.number_text import LONGEST_TEXT, TWO_READINGS, as_decimal, read_number
from workshop.physics.units import UnitError

LONGEST_MIN = 2880  # two days, of one piece of work or one load


class _QuantityField(forms.CharField):
    """A box that is read by one of the unit parsers; what was typed is kept on error.

    if_empty  what nothing typed stands for
    """

    parser = staticmethod(units.parse_length_mm)

    def __init__(
        self,
        *,
        unit: str,
        smallest: Any = None,
        largest: Any = None,
        if_empty: Any = None,
        **kwargs: Any,
    ) -> None:
        self.unit, self.smallest, self.largest = unit, smallest, largest
        self.if_empty = if_empty
        kwargs.setdefault("max_length", 40)
        super().__init__(**kwargs)
        self.widget.attrs.setdefault("inputmode", "decimal")
        self.widget.attrs.setdefault("autocomplete", "off")

    def clean(self, value):
        text = super().clean(value)
        if text in self.empty_values:
            return self.if_empty
        try:
            number = self.parser(text, default_unit=self.unit, decimal_mark=decimal_mark())
        except UnitError as error:
            raise ValidationError(error.said(gettext)) from error
        within_reach(int(number))
        if self.smallest is not None and number < self.smallest:
            raise ValidationError(
                _("%(text)s is too little; write at least %(least)s.")
                % {"text": text, "least": self._bound(self.smallest)}
            )
        if self.largest is not None and number > self.largest:
            raise ValidationError(
                _("%(text)s is too much; write at most %(most)s.")
                % {"text": text, "most": self._bound(self.largest)}
            )
        return self.as_stored(number)

    def _bound(self, number: Any) -> str:
        return f"{in_a_box(Decimal(str(number)))} {self.base_unit}".strip()

    base_unit = ""

    def as_stored(self, number: Decimal) -> Any:
        return number

    def prepare_value(self, value):
        if isinstance(value, (Decimal, int, float)):
            return f"{in_a_box(Decimal(str(value)))} {self.base_unit}".strip()
        return value


class LengthField(_QuantityField):
    """Gives millimetres, Decimal."""

    parser = staticmethod(units.parse_length_mm)
    base_unit = "mm"

    def __init__(self, *, unit: str = "mm", **kwargs: Any) -> None:
        super().__init__(unit=unit, **kwargs)

    def as_stored(self, number: Decimal) -> Decimal:
        return number.quantize(Decimal("0.001"))


class MassField(_QuantityField):
    """Gives whole grams."""

    parser = staticmethod(units.parse_mass_g)
    base_unit = "g"

    def __init__(self, *, unit: str = "kg", **kwargs: Any) -> None:
        super().__init__(unit=unit, **kwargs)

    def as_stored(self, number: Decimal) -> int:
        return int(number.to_integral_value())

    def as_liquid(self, kg_per_litre: Decimal | None) -> "MassField":
        """The same box, which reads litres too where it is known what one weighs."""
        self.parser = partial(  # type: ignore[assignment]
            units.parse_mass_or_litres_g, kg_per_litre=kg_per_litre
        )
        return self

    def prepare_value(self, value):
        if isinstance(value, int):
            return f"{in_a_box(Decimal(value) / 1000)} kg"
        return value


class CountField(_QuantityField):
    """Gives whole pieces; “1 gross” is 144."""

    parser = staticmethod(units.parse_count)
    base_unit = ""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(unit="count", **kwargs)
        # Words such as “1 gross” are written at a keyboard; a phone counts with its number pad.
        self.widget.attrs["inputmode"] = "numeric"

    def as_stored(self, number: Decimal) -> int:
        return int(number)


class WeighedCountField(CountField):
    """Gives whole pieces, also of a weight: “500 g” is as many as weigh that, to the nearest one.

    each_g  what one piece weighs; without it only a number is understood
    """

    def __init__(self, *, each_g: Decimal | None = None, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.each_g = each_g

    def clean(self, value):
        try:
            return super().clean(value)
        except ValidationError:
            if not self.each_g:
                raise
            try:
                grams = units.parse_mass_g(
                    str(value), default_unit="count", decimal_mark=decimal_mark()
                )
            except UnitError:
                grams = None
            if grams is None:
                raise
            pieces = int((grams / self.each_g).to_integral_value(ROUND_HALF_UP))
            return super().clean(str(pieces))


def _finite(field: forms.DecimalField, number: Decimal | None) -> Decimal | None:
    """“sNaN” is a Decimal too, and cannot even be compared with what was there before."""
    if number is not None and not number.is_finite():
        raise ValidationError(field.error_messages["invalid"], code="invalid")
    return number


FIGURES = re.compile(r"[-−]?[\d.,\s]*\d[\d.,]*")


def plain_figure(text: str) -> str:
    """A typed number as Python writes it; what is no number stays as it was typed.

    Refuses “1,234” where the own mark is a point, and “1.234” where it is a comma: to one reader it
    is a thousand times what it is to another.
    """
    text = text.strip()
    if not FIGURES.fullmatch(text) or len(text) > LONGEST_TEXT:
        return text
    try:
        number = as_decimal(read_number(text.lstrip("-−"), decimal_mark=decimal_mark()))
    except UnitError as error:
        if error.template == TWO_READINGS:
            raise ValidationError(error.said(gettext)) from error
        return text
    return f"{-number if text[0] in '-−' else number:f}"


class NumberBox(forms.DecimalField):
    """A number as a person of the page's language writes it."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})

    def to_python(self, value):
        return _finite(self, super().to_python(_read(value)))

    def prepare_value(self, value):
        return in_a_box(value) if isinstance(value, Decimal) and value.is_finite() else value


def _read(value: Any) -> Any:
    return plain_figure(value) if isinstance(value, str) else value


class PercentField(NumberBox):
    """Shown and typed in per cent, kept as a share: 8.25 is 0.0825."""

    default_error_messages: ClassVar[dict[str, Any]] = {
        "invalid": _("Write a percentage in figures, such as 8 or 8.25.")
    }

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("min_value", Decimal(0))
        kwargs.setdefault("max_value", Decimal(100))
        kwargs.setdefault("decimal_places", 3)
        kwargs.setdefault("max_digits", 6)
        super().__init__(**kwargs)
        self.widget.attrs["class"] = "per-cent"

    def to_python(self, value):
        return super().to_python(value.replace("%", "") if isinstance(value, str) else value)

    def clean(self, value):
        number = super().clean(value)
        return None if number is None else number / 100

    def prepare_value(self, value):
        if isinstance(value, (Decimal, float)):
            return in_a_box(Decimal(str(value)) * 100)
        return value

    def has_changed(self, initial, data):
        return super().has_changed(self.prepare_value(initial), data)


class MoneyBox(NumberBox):
    """An amount of money."""

    default_error_messages: ClassVar[dict[str, Any]] = {
        "invalid": _("Write an amount of money in figures, such as 12.50.")
    }

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("max_digits", 12)
        kwargs.setdefault("decimal_places", 4)
        super().__init__(**kwargs)
        self.widget.attrs["class"] = "money"

    def prepare_value(self, value):
        return in_a_box(value, 2) if isinstance(value, Decimal) else value


class FewAsked:
    """A form that asks little: the boxes named in `USUAL` stand folded, filled with what is usual.

    Where something that is there already is changed, or one of them is wrong, they stand open.
    Boxes under a heading of their own (`FOLDED`) stand folded until one of them is filled or wrong.
    """

    USUAL: tuple[str, ...] = ()
    FOLDED: tuple[tuple[Any, tuple[str, ...]], ...] = ()

    def asked_boxes(self) -> list[forms.BoundField]:
        folded = {*self.USUAL, *(name for _heading, names in self.FOLDED for name in names)}
        return [box for box in self.visible_fields() if box.name not in folded]  # type: ignore[attr-defined]

    @property
    def folded_groups(self) -> list[tuple[Any, list[forms.BoundField], bool]]:
        """Heading, boxes, and whether they stand open."""
        form: Any = self
        return [
            (
                heading,
                [form[name] for name in names],
                any(name in form.errors or self._is_filled(name) for name in names),
            )
            for heading, names in self.FOLDED
        ]

    def _is_filled(self, name: str) -> bool:
        form: Any = self
        value, usual = form[name].value(), form.fields[name].initial
        return value not in (None, "", False) and str(value) != str(usual)

    def usual_boxes(self) -> list[forms.BoundField]:
        return [box for box in self.visible_fields() if box.name in self.USUAL]  # type: ignore[attr-defined]

    @property
    def usual_open(self) -> bool:
        form: Any = self
        adding = getattr(getattr(form, "instance", None), "_state", None)
        return bool(adding and not adding.adding) or any(name in form.errors for name in self.USUAL)


def whole_field(least: int, most: int, sentences: dict[str, Any], **kwargs: Any):
    """A box for a whole number between two others, with our own sentences."""
    field = forms.IntegerField(
        min_value=least, max_value=most, error_messages=sentences, **kwargs
    )  # fmt: skip
    field.widget = forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"})
    return field


def minutes_field(**kwargs: Any) -> forms.IntegerField:
    words = {
        "invalid": _("Write whole minutes, such as 30."),
        "required": _("Write whole minutes, such as 30."),
        "min_value": _("Minutes cannot be below 0; write whole minutes, such as 30."),
        "max_value": _("That is more than two days; write at most 2880 minutes."),
    }
    return whole_field(0, LONGEST_MIN, words, **kwargs)
