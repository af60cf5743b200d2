"""The words people use for units, and what each is exactly; Pint knows the rest.

Pint is loaded at the first unit asked about, once, and shared by every thread.
"""

import re
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from threading import Lock
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pint import UnitRegistry

Measure = tuple[Fraction, Fraction, str]  # one of it in base units, its zero there, its kind

# Counting words of the trade. Neuwirth, Beads from Gablonz (citing Tayenthal 1900 and Winter
# 1900): a mass is 1200 beads, 100 dozen. Dozen, gross, great gross: definition.
COUNTING_WORDS = {
    "pair": 2,
    "dozen": 12,
    "gross": 144,
    "great_gross": 1728,
    "mass_of_beads": 1200,
}

# What hands and keyboards write, in small letters; everything else is left to Pint.
_ALIASES = {
    **dict.fromkeys(("mm", "millimetre", "millimetres", "millimeter", "millimeters"), "mm"),
    **dict.fromkeys(("cm", "centimetre", "centimetres", "centimeter", "centimeters"), "cm"),
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), "m"),
    **dict.fromkeys(("in", "in.", "inch", "inches", '"', "”", "″", "′′", "''", "’’"), "inch"),
    **dict.fromkeys(("ft", "ft.", "foot", "feet", "'", "’", "′"), "foot"),
    **dict.fromkeys(("yd", "yd.", "yard", "yards"), "yard"),
    **dict.fromkeys(("mg", "milligram", "milligrams", "milligramme", "milligrammes"), "mg"),
    **dict.fromkeys(("g", "g.", "gr.", "gm", "gram", "grams", "gramme", "grammes"), "g"),
    **dict.fromkeys(("kg", "kg.", "kgs", "kilo", "kilos", "kilogram", "kilograms"), "kg"),
    **dict.fromkeys(("kilogramme", "kilogrammes"), "kg"),
    **dict.fromkeys(("t", "tonne", "tonnes"), "tonne"),
    **dict.fromkeys(("lb", "lb.", "lbs", "lbs.", "pound", "pounds"), "pound"),
    **dict.fromkeys(("oz", "oz.", "ounce", "ounces"), "ounce"),
    **dict.fromkeys(("ozt", "troy oz", "troy ounce", "troy ounces"), "troy_ounce"),
    **dict.fromkeys(("l", "l.", "lt", "ltr", "litre", "litres", "liter", "liters"), "litre"),
    **dict.fromkeys(("ml", "millilitre", "millilitres", "milliliter"), "millilitre"),
    **dict.fromkeys(("s", "sec", "secs", "second", "seconds"), "second"),
    **dict.fromkeys(("min", "min.", "mins", "minute", "minutes"), "minute"),
    **dict.fromkeys(("h", "h.", "hr", "hrs", "hour", "hours"), "hour"),
    **dict.fromkeys(("d", "day", "days"), "day"),
    **dict.fromkeys(("week", "weeks"), "week"),
    **dict.fromkeys(("°c", "c", "° c", "deg c", "degc", "celsius", "°", "degrees"), "degC"),
    **dict.fromkeys(("°f", "f", "° f", "deg f", "degf", "fahrenheit"), "degF"),
    **dict.fromkeys(("k", "kelvin"), "kelvin"),
    **dict.fromkeys(("pc", "pcs", "pcs.", "piece", "pieces", "bead", "beads", "each"), "count"),
    **dict.fromkeys(("pair", "pairs"), "pair"),
    **dict.fromkeys(("doz", "doz.", "dz", "dozen", "dozens"), "dozen"),
    **dict.fromkeys(("gross", "gro", "gro."), "gross"),
    **dict.fromkeys(("great gross", "ggr"), "great_gross"),
    **dict.fromkeys(("mass", "masses"), "mass_of_beads"),
    **dict.fromkeys(("kwh", "kw h", "kilowatt hour", "kilowatt hours"), "kWh"),
    **dict.fromkeys(("mj",), "MJ"),
}
# The same in French, Portuguese, Spanish and German; no word means two things in two of them. A
# pound and an ounce are left out: “livre”, “libra” and “Pfund” are half a kilogram to many.
_OF_FURTHER_LANGUAGES = {
    "mm": "millimètre millimètres milímetro milímetros Millimeter",
    "cm": "centimètre centimètres centímetro centímetros Zentimeter",
    "m": "mètre mètres metro metros",
    "inch": "pouce pouces polegada polegadas pulgada pulgadas Zoll",
    "foot": "pied pieds pé pés pie pies Fuß",
    "g": "grama gramas gramo gramos Gramm",
    "kg": "quilo quilos quilograma quilogramas kilogramo kilogramos Kilogramm",
    "litre": "litro litros",
    "minute": "minuto minutos Minuten",
    "hour": "heure heures hora horas Stunde Stunden Std.",
    "day": "jour jours dia dias día días Tag Tage",
    "week": "semaine semaines semana semanas Woche Wochen",
    "count": "pièce pièces perle perles peça peças conta contas pieza piezas cuenta cuentas "
    "Stück Stk. Perlen",
    "pair": "paire paires par pares Paar Paare",
    "dozen": "douzaine douzaines dúzia dúzias duzia duzias docena docenas Dutzend Dtzd.",
    "gross": "grosse grosses grosa grosas gruesa gruesas Gros",
}
_ALIASES |= {
    word.casefold(): unit for unit, words in _OF_FURTHER_LANGUAGES.items() for word in words.split()
}
NO_ONE_SIZE = frozenset(("gal", "gallon", "gallons", "hank", "hanks", "bunch", "bunches"))
NO_ONE_SIZE |= {"string", "strings", "strand", "strands"}

# One degree in kelvin, and where the scale's zero lies in kelvin: by definition of the scales.
_SCALES = {
    "degC": (Fraction(1), Fraction("273.15")),
    "degF": (Fraction(5, 9), Fraction("459.67") * 5 / 9),
    "kelvin": (Fraction(1), Fraction(0)),
}

_LOCK = Lock()


def unit_registry() -> "UnitRegistry[Any]":
    """The one Pint registry, with exact decimals and the trade's counting words.

    Made at the first call (about a third of a second) and shared by every thread.

    >>> str(unit_registry()("1 gross").to("count").magnitude)
    '144'
    """
    with _LOCK:
        return _registry()


@lru_cache(maxsize=1)
def _registry() -> "UnitRegistry[Any]":
    from pint import UnitRegistry

    registry: UnitRegistry[Any] = UnitRegistry(non_int_type=Decimal, cache_folder=None)
    for word, pieces in COUNTING_WORDS.items():
        registry.define(f"{word} = {pieces} * count")
    return registry


@lru_cache(maxsize=512)
def measure_of(name: str) -> Measure | None:
    """What one of a unit is in base units (m, kg, s, K, pieces); None for a unit not known.

    name  as typed ("Kg", "in.", "great gross") or as Pint knows it

    Returns (how much one is, where its zero lies, its kind such as "[length]"), exact. Scales
    with a zero of their own other than °C and °F, logarithms, ratios and angles are not known.

    >>> measure_of("inches")
    (Fraction(127, 5000), Fraction(0, 1), '[length]')
    >>> measure_of("decibel") is None
    True

    Source: Pint's own definitions, themselves from the SI brochure and the 1959 agreement.
    """
    name = re.sub(r"( of)? beads?$", "", name) if name[-1:] in "ds" else name
    name = _ALIASES.get(name.casefold(), name)
    if name in _SCALES:
        return (*_SCALES[name], "[temperature]")
    if not re.fullmatch(r"[A-Za-zµμ]([A-Za-z_ ]{0,30}[A-Za-z])?", name):
        return None
    return _ask_pint(name.replace(" ", "_"))


def _ask_pint(name: str) -> Measure | None:
    from pint.errors import PintError

    registry = unit_registry()
    try:
        unit = registry.Unit(name)
        one = registry.Quantity(Decimal(1), unit).to_base_units().magnitude
        two = registry.Quantity(Decimal(2), unit).to_base_units().magnitude
    except (PintError, ValueError, TypeError, ArithmeticError):
        return None
    kind = str(unit.dimensionality)
    counted = name == "count" or name in COUNTING_WORDS
    if two != 2 * one or (kind == "dimensionless" and not counted):
        return None  # a scale with its own zero, a logarithm, a bare ratio or an angle
    return Fraction(one), Fraction(0), kind
