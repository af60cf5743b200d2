"""Quantities as people write them, read exactly into the workshop's fixed units.

`parse_length_mm("16 in")`, `parse_mass_g("1,5 kg")`, `parse_minutes("1 h 30 min")`,
`parse_temperature_c("1200 °F")`, `parse_count("2 gross")`. Exact decimals throughout; nothing is
rounded but a quotient without end. Pint is loaded at the first unit it is asked about.
"""

import re
from decimal import Decimal
from fractions import Fraction

from workshop.physics.number_text import (
    LONGEST_TEXT,
    NUMBER,
    UnitError,
    as_decimal,
    read_number,
    tidy,
)
from workshop.physics.sentences import gettext_noop
from workshop.physics.unit_words import NO_ONE_SIZE, Measure, measure_of, unit_registry

__all__ = [
    "UnitError",
    "convert",
    "parse_count",
    "parse_length_mm",
    "parse_litres",
    "parse_mass_g",
    "parse_mass_or_litres_g",
    "parse_minutes",
    "parse_temperature_c",
    "unit_registry",
]

_KINDS = {
    "[length]": gettext_noop("a length"),
    "[mass]": gettext_noop("a mass"),
    "[length] ** 3": gettext_noop("a volume"),
    "[time]": gettext_noop("a time"),
    "[temperature]": gettext_noop("a temperature"),
    "dimensionless": gettext_noop("a number of pieces"),
}
_SUCH_AS = {
    "[length]": gettext_noop("40 cm or 16 in"),
    "[mass]": gettext_noop("2.5 kg or 3 lb"),
    "[length] ** 3": gettext_noop("5 l or 500 ml"),
    "[time]": gettext_noop("90 min or 1 h 30 min"),
    "[temperature]": gettext_noop("650 °C or 1200 °F"),
    "dimensionless": gettext_noop("200 or 2 gross"),
}
_OTHER_KIND = gettext_noop("another kind of quantity")
_NUMBER_WITH_UNIT = gettext_noop("a number with its unit")

EMPTY = gettext_noop("Nothing is written here yet. Write %(needed)s, such as %(example)s.")
TOO_LONG = gettext_noop(
    "“%(text)s” is longer than a quantity can be. Write %(needed)s, such as %(example)s."
)
UNREADABLE = gettext_noop("“%(text)s” cannot be read as %(needed)s. Write it such as %(example)s.")
UNKNOWN_UNIT = gettext_noop(
    "The unit “%(unit)s” in “%(text)s” is not known here. Write %(needed)s, such as %(example)s."
)
OTHER_KIND = gettext_noop(
    "“%(text)s” is %(found)s, and %(needed)s is needed here. Write it such as %(example)s."
)
SIZE_VARIES = gettext_noop(
    "“%(unit)s” has no one size here. Write the number alone, such as %(example)s."
)
UNIT_MISSING = gettext_noop(
    "“%(text)s” has a figure without its unit at the end. Write it such as %(example)s."
)
NEGATIVE = gettext_noop(
    "“%(text)s” is less than nothing, and %(needed)s is needed here. Write it such as %(example)s."
)
OUTSIDE = gettext_noop(
    "“%(text)s” lies outside what a bead workshop could mean. Check the unit, or write"
    " %(needed)s such as %(example)s."
)
LITRE_UNKNOWN = gettext_noop(
    "“%(text)s” is a volume, and nobody has written what a litre of it weighs. Write its weight,"
    " or first what a litre weighs."
)
NOT_WHOLE = gettext_noop(
    "“%(text)s” is %(found)s pieces, and pieces are counted whole. Write %(example)s."
)

# A number and then, perhaps, its unit: whatever stands before the next number.
_ITEM = re.compile(rf"({NUMBER}) ?([^\d.,+ -][^\d]*)?")
_MOST = {
    "mm": Decimal(10_000_000),  # 10 km of cord
    "g": Decimal(1_000_000_000),  # 1000 tonnes
    "litre": Decimal(1_000_000),  # 1000 cubic metres
    "minute": Decimal(5_256_000),  # ten years
    "degC": Decimal(2_000),
    "count": Decimal(1_000_000_000),
}
_DIMENSION = {
    "mm": "[length]",
    "g": "[mass]",
    "litre": "[length] ** 3",
    "minute": "[time]",
    "degC": "[temperature]",
    "count": "dimensionless",
}


def parse_length_mm(
    text: str | int | Decimal,
    default_unit: str = "mm",
    *,
    decimal_mark: str | None = None,
    allow_negative: bool = False,
) -> Decimal:
    """A length as written, in millimetres.

    text            "40cm", "16 in", '16"', "5 ft 3 in", "16 1/2 in", "2,5 cm"; up to 60 characters
    default_unit    what a bare number means; "" the unit the answer is in
    decimal_mark    the writer's own, "." or ","; the other one before three digits is refused
    allow_negative  False refuses what lies below 0

    Returns an exact Decimal, up to 10 km. Raises UnitError, a whole sentence, if the text cannot
    be read, is no length, or lies outside.

    >>> parse_length_mm("16 in"), parse_length_mm("40cm"), parse_length_mm("8", default_unit="cm")
    (Decimal('406.4'), Decimal('400'), Decimal('80'))

    Source: inch 25.4 mm exactly (international yard and pound, 1959), through Pint.
    """
    return as_decimal(_read(text, "mm", default_unit, decimal_mark, allow_negative))


def parse_mass_g(
    text: str | int | Decimal,
    default_unit: str = "g",
    *,
    decimal_mark: str | None = None,
    allow_negative: bool = False,
) -> Decimal:
    """A mass as written, in grams.

    text  "2.5 kg", "1,5 kg", "3 lb", "2 lb 4 oz"; the rest as `parse_length_mm`

    Returns an exact Decimal, up to 1000 tonnes. Raises UnitError as `parse_length_mm`.

    >>> parse_mass_g("1,5 kg"), parse_mass_g("3 lb")
    (Decimal('1500'), Decimal('1360.77711'))

    Source: pound 0.45359237 kg exactly (international yard and pound, 1959), through Pint.
    """
    return as_decimal(_read(text, "g", default_unit, decimal_mark, allow_negative))


def parse_litres(
    text: str | int | Decimal, default_unit: str = "litre", *, decimal_mark: str | None = None
) -> Decimal:
    """A volume as written, in litres.

    text  "5 l", "500 ml", "20 cl"; the rest as `parse_length_mm`. A gallon has no one size.

    Returns an exact Decimal, up to a thousand cubic metres. Raises UnitError as `parse_length_mm`.

    >>> parse_litres("5 l"), parse_litres("500 ml")
    (Decimal('5'), Decimal('0.5'))

    Source: litre, 1 dm³ (SI brochure, 9th edition, table 8), through Pint.
    """
    return as_decimal(_read(text, "litre", default_unit, decimal_mark, allow_negative=False))


def parse_mass_or_litres_g(
    text: str | int | Decimal,
    default_unit: str = "g",
    *,
    decimal_mark: str | None = None,
    kg_per_litre: Decimal | None = None,
) -> Decimal:
    """The mass of a liquid, in grams, written as its mass or in litres.

    kg_per_litre  what a litre of it weighs, where somebody knows

    Raises UnitError as `parse_length_mm`, and where a volume is written of what nobody weighed.

    >>> parse_mass_or_litres_g("5 l", kg_per_litre=Decimal("1.2")), parse_mass_or_litres_g("2 kg")
    (Decimal('6000.0'), Decimal('2000'))
    """
    try:
        return parse_mass_g(text, default_unit, decimal_mark=decimal_mark)
    except UnitError:
        try:
            litres = parse_litres(text, "g", decimal_mark=decimal_mark)
        except UnitError:
            litres = None
        if litres is None:
            raise
        if kg_per_litre is None:
            raise UnitError(LITRE_UNKNOWN, text=_shown(text)) from None
        return litres * kg_per_litre * 1000


def parse_minutes(
    text: str | int | Decimal,
    default_unit: str = "min",
    *,
    decimal_mark: str | None = None,
    allow_negative: bool = False,
) -> Decimal:
    """A duration as written, in minutes.

    text  "90", "1 h 30 min", "1h30", "1:30" (hours and minutes), "45 s"; the rest as
          `parse_length_mm`

    Returns an exact Decimal, up to ten years. Raises UnitError as `parse_length_mm`.

    >>> parse_minutes("1 h 30 min"), parse_minutes("1:05"), parse_minutes("1.5", default_unit="h")
    (Decimal('90'), Decimal('65'), Decimal('90'))

    Source: definition of hour, minute and second.
    """
    if isinstance(text, str):
        clock = re.fullmatch(r"\s*(\d{1,4}):([0-5]\d)\s*", text[: LONGEST_TEXT + 1], re.ASCII)
        if clock:
            return Decimal(int(clock[1]) * 60 + int(clock[2]))
    return as_decimal(_read(text, "minute", default_unit, decimal_mark, allow_negative))


def parse_temperature_c(
    text: str | int | Decimal,
    default_unit: str = "degC",
    *,
    decimal_mark: str | None = None,
    allow_negative: bool = False,
) -> Decimal:
    """A temperature as written, in degrees Celsius.

    text  "650", "650 °C", "1200 F", "923 K"; the rest as `parse_length_mm`

    Returns a Decimal up to 2000 °C, exact from °C and K, to 28 figures from °F. Raises UnitError
    as `parse_length_mm`, and below absolute zero even if negatives are allowed.

    >>> parse_temperature_c("650 °C"), parse_temperature_c("1202 F")
    (Decimal('650'), Decimal('650'))

    Source: definition of the Celsius and Fahrenheit scales (0 °C = 273.15 K, 32 °F).
    """
    return as_decimal(_read(text, "degC", default_unit, decimal_mark, allow_negative))


def parse_count(
    text: str | int | Decimal,
    default_unit: str = "count",
    *,
    decimal_mark: str | None = None,
    allow_negative: bool = False,
) -> int:
    """A number of pieces as written.

    text  "200", "1,200", "2 gross", "1 gross 6", "1.5 dozen", "1 mass" (1200 beads); the rest as
          `parse_length_mm`

    Returns an int up to a thousand million. Raises UnitError as `parse_length_mm`, and if the
    pieces do not come out whole.

    >>> parse_count("2 gross"), parse_count("1 gross 6"), parse_count("1 mass")
    (288, 150, 1200)

    Source: definitions; the mass of beads from Neuwirth, Beads from Gablonz.
    """
    value = _read(text, "count", default_unit, decimal_mark, allow_negative)
    if value.denominator != 1:
        nearby = max(1, round(value))
        raise UnitError(NOT_WHOLE, text=_shown(text), found=as_decimal(value), example=nearby)
    return int(value)


def convert(value: Decimal | int | float | str, from_unit: str, to_unit: str) -> Decimal:
    """The same quantity in another unit, for showing it.

    value     a finite number; a float is taken as it prints
    from_unit, to_unit  "mm", "in", "g", "lb", "min", "h", "degC", "degF", "gross", ... of one kind

    Returns a Decimal: exact where it ends, else to 28 figures (25.4 mm is 1 in, not 0.9999...).
    Raises UnitError if the number is no number or the units are unknown or of two kinds.

    >>> convert(Decimal("25.4"), "mm", "in"), convert(1, "lb", "g"), convert(212, "degF", "degC")
    (Decimal('1'), Decimal('453.59237'), Decimal('100'))

    Source: as the `parse_` functions.
    """
    words = {
        "text": f"{_shown(value)} {from_unit}",
        "needed": _NUMBER_WITH_UNIT,
        "example": "40 cm",
    }
    number = _decimal_of(value, words)
    scale, zero, kind = _unit_of(from_unit, words)
    new_scale, new_zero, new_kind = _unit_of(to_unit, words)
    if kind != new_kind:
        found, needed = (_KINDS.get(of, _OTHER_KIND) for of in (kind, new_kind))
        words |= {"needed": needed, "example": _SUCH_AS.get(new_kind, f"1 {to_unit}")}
        raise UnitError(OTHER_KIND, found=found, **words)
    return as_decimal((Fraction(number) * scale + zero - new_zero) / new_scale)


def _read(
    given: object, unit: str, default: str, mark: str | None, allow_negative: bool
) -> Fraction:
    kind = _DIMENSION[unit]
    words = {"text": _shown(given), "needed": _KINDS[kind], "example": _SUCH_AS[kind]}
    items = _items(given, unit, default or unit, mark, words)
    scale, zero, _ = _unit_of(unit, words)
    value = -zero / scale
    for number, name in items:
        own_scale, own_zero, own_kind = _unit_of(name, words)
        if own_kind != kind:
            raise UnitError(OTHER_KIND, found=_KINDS.get(own_kind, _OTHER_KIND), **words)
        value += (number * own_scale + own_zero) / scale
    if value < 0 and not allow_negative:
        raise UnitError(NEGATIVE, **words)
    if abs(value) > _MOST[unit] or (unit == "degC" and value < Fraction("-273.15")):
        raise UnitError(OUTSIDE, **words)
    return value


def _items(
    given: object, unit: str, default: str, mark: str | None, words: dict[str, str]
) -> list[tuple[Fraction, str]]:
    """What was given as numbers with the names of their units."""
    if not isinstance(given, str):
        return [(Fraction(_decimal_of(given, words)), default)]
    if len(given) > LONGEST_TEXT:
        raise UnitError(TOO_LONG, **words)
    text = tidy(given)
    if not text:
        raise UnitError(EMPTY, **words)
    sign = -1 if text[0] == "-" else 1
    pairs = _pairs(text.lstrip("+-").lstrip(), words)
    if len(pairs) > 1 and unit == "degC":
        raise UnitError(UNREADABLE, **words)
    last_bare = {"count": "count", "minute": "minute"}.get(unit)
    items = []
    for place, (figures, name) in enumerate(pairs):
        if not name and len(pairs) > 1:
            if last_bare is None or place < len(pairs) - 1:
                raise UnitError(UNIT_MISSING, **words)
            name = last_bare
        if unit == "minute" and name.lower() == "m":
            name = "min"  # beside hours, as in "1h 30m"
        number = read_number(figures, decimal_mark=mark, whole=unit == "count")
        items.append((sign * number, name or default))
    return items


def _pairs(text: str, words: dict[str, str]) -> list[tuple[str, str]]:
    pairs, place = [], 0
    while place < len(text):
        match = _ITEM.match(text, place)
        if not match:
            raise UnitError(UNREADABLE, **words)
        pairs.append((match[1], (match[2] or "").strip(" ,;")))
        place = match.end()
        place += len(text) - place - len(text[place:].lstrip(" "))
    return pairs


def _unit_of(name: str, words: dict[str, str]) -> Measure:
    """What one of the unit is in base units, where its zero lies, and its kind."""
    if name.lower() in NO_ONE_SIZE:
        raise UnitError(SIZE_VARIES, unit=name, **words)
    known = measure_of(name)
    if known is None:
        raise UnitError(UNKNOWN_UNIT, unit=name, **words)
    return known


def _decimal_of(value: object, words: dict[str, str]) -> Decimal:
    if isinstance(value, bool) or not isinstance(value, (int, float, Decimal, str)):
        raise UnitError(UNREADABLE if value is not None else EMPTY, **words)
    try:
        number = Decimal(str(value)[:LONGEST_TEXT] if not isinstance(value, int) else value)
    except ArithmeticError:
        raise UnitError(UNREADABLE, **words) from None
    if not number.is_finite():
        raise UnitError(UNREADABLE, **words)
    if number and not -30 < number.adjusted() < 30:
        raise UnitError(OUTSIDE, **words)
    return number


def _shown(given: object) -> str:
    """What was typed, short enough to repeat in a sentence."""
    if isinstance(given, int) and abs(given) >= 10**30:
        return "10…"  # writing it all out would take longer than reading it
    text = " ".join((given if isinstance(given, str) else str(given)).split())
    return text if len(text) <= 40 else text[:39] + "…"
