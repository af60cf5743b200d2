"""Numbers, money and dates as people read them: by the active language and the own currency.

Rounding is half-up and happens here once, for showing; Babel only writes the digits out. (Left
to itself it rounds half-even, and its currency digits are CLDR's, which differ from ISO 4217.)
Inside units in, words out: grams, millimetres, minutes, shares of one.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import date, datetime, time
from decimal import ROUND_HALF_UP, Decimal
from functools import lru_cache
from typing import Any

from babel import Locale, UnknownLocaleError, dates, numbers
from django.utils import timezone
from django.utils.translation import get_language, gettext, ngettext, pgettext

from workshop.money import MINOR_DIGITS, minor_digits, round_half_up

NBSP = "\u00a0"
GRAMS_IN_POUND = Decimal("453.59237")  # exact since 1959 (international avoirdupois pound)
MM_IN_INCH = Decimal("25.4")  # exact since 1959 (international inch)

Number = Decimal | int | float


@dataclass(frozen=True)
class Habits:
    """How this workshop writes: its money, its country's way, its units on screens."""

    currency: str = "EUR"
    country: str = ""
    length_unit: str = "cm"
    mass_unit: str = "kg"

    @classmethod
    def of(cls, business: Any) -> "Habits":
        return cls(business.currency, business.country, business.length_unit, business.mass_unit)


_habits: ContextVar[Habits | None] = ContextVar("habits", default=None)


@contextmanager
def written_as(business: Any) -> Iterator[None]:
    """Within it, numbers are written this business's way; a request runs inside one."""
    token = _habits.set(Habits.of(business))
    try:
        yield
    finally:
        _habits.reset(token)


def habits() -> Habits:
    """The habits in force; outside a request, those of the one business row."""
    if (found := _habits.get()) is not None:
        return found
    from workshop.models import Business  # the apps may not be loaded when this module is

    return Habits.of(Business.current())


# Without a country: English with the day before the month, as most of the trade writes it, and
# Portuguese as our words are written, not as the CLDR means it (Brazil's).
PLAIN = {"en": "en_GB", "pt": "pt_PT"}


@lru_cache(maxsize=64)
def _locale_for(language: str, country: str) -> Locale:
    base = language.replace("-", "_")
    plain = _parsed(PLAIN.get(base, base)) or _parsed(base.split("_")[0])
    usual = plain or Locale.parse("en_GB")
    local = _parsed(f"{base}_{country.upper()}") if country and "_" not in base else None
    # Boxes to type in follow the language alone, so a country's way is taken only where it has
    # the same decimal mark; a page with both 6.50 and 6,50 on it would be read wrongly.
    if local and numbers.get_decimal_symbol(local) == numbers.get_decimal_symbol(usual):
        return local
    return usual


def _parsed(name: str) -> Locale | None:
    try:
        return Locale.parse(name)
    except (UnknownLocaleError, ValueError):
        return None


def locale() -> Locale:
    """The active language, in the country's own way of writing where one is known."""
    return _locale_for(get_language() or "en", habits().country)


_mark: ContextVar[str] = ContextVar("decimal mark", default="")


@contextmanager
def typed_with(mark: str) -> Iterator[None]:
    """Within it, boxes are filled and read with this decimal mark, whatever the language."""
    token = _mark.set(mark)
    try:
        yield
    finally:
        _mark.reset(token)


def decimal_mark() -> str:
    """What stands before decimals in a box: "." or ",", by the language of whoever types."""
    return _mark.get() or numbers.get_decimal_symbol(locale())


def in_a_box(number: Decimal, least: int = 0) -> str:
    """A number as it is typed: all its decimals, `least` at least, and no marks between thousands.

    >>> with typed_with(","):
    ...     in_a_box(Decimal("1234.50"), 2), in_a_box(Decimal("0.500"))
    ('1234,50', '0,5')
    """
    digits = max(least, -_exponent(number.normalize()))
    return f"{number:.{digits}f}".replace(".", decimal_mark())


def _exact(value: Number | str) -> Decimal:
    return value if isinstance(value, Decimal) else Decimal(str(value))


def _half_up(value: Number | str, digits: int) -> Decimal:
    return _exact(value).quantize(Decimal(1).scaleb(-digits), rounding=ROUND_HALF_UP)


def decimal(value: Number | str, least: int = 0, most: int | None = None) -> str:
    """A number with `least` to `most` decimals, rounded half-up."""
    most = least if most is None else most
    rounded = _half_up(value, most)
    shown = max(least, -_exponent(rounded.normalize())) if most > least else least
    return _written(rounded + 0, shown, locale())


# A page writes the same few numbers, days and hours over and over, and Babel takes its time.
@lru_cache(maxsize=4096)
def _written(value: Decimal, digits: int, where: Locale) -> str:
    pattern = "#,##0" + ("." + "0" * digits if digits else "")
    return numbers.format_decimal(value, format=pattern, locale=where)


@lru_cache(maxsize=1024)
def _written_day(day: date, pattern: str, where: Locale) -> str:
    # Sentences bring the full stop that German "Dez." and French "déc." would give a second time.
    return dates.format_date(day, pattern, locale=where).rstrip(".")


@lru_cache(maxsize=1440)
def _written_time(hour: int, minute: int, where: Locale) -> str:
    return dates.format_time(time(hour, minute), "short", locale=where)


def _exponent(value: Decimal) -> int:
    exponent = value.as_tuple().exponent
    return exponent if isinstance(exponent, int) else 0


@lru_cache(maxsize=128)
def _money_pattern(where: Locale, digits: int) -> numbers.NumberPattern:
    pattern = numbers.parse_pattern(where.currency_formats["standard"].pattern)
    pattern.frac_prec = (digits, digits)
    return pattern


def money(amount: Number | str | None, currency: str | None = None) -> str:
    """An amount in its currency with exactly ISO 4217's decimals; "" for None."""
    if amount is None:
        return ""
    code = currency or habits().currency
    where = locale()
    rounded = round_half_up(_exact(amount), code)
    pattern = _money_pattern(where, minor_digits(code))
    return pattern.apply(rounded + 0, where, currency=code, currency_digits=False)


def price_each(amount: Number, currency: str | None = None) -> str:
    """A price each with all its decimals: it may be finer than the smallest coin."""
    code = currency or habits().currency
    exact, digits = _exact(amount), minor_digits(code)
    if round_half_up(exact, code) == exact:
        return money(exact, code)
    pattern = _money_pattern(locale(), max(digits, -_exponent(_half_up(exact, 6).normalize())))
    return pattern.apply(_half_up(exact, 6), locale(), currency=code, currency_digits=False)


def count(value: Number) -> str:
    """Pieces: a whole number, grouped."""
    return decimal(value, 0)


def kg(grams: Number, digits: int = 3) -> str:
    """Grams as kilograms, three decimals."""
    return f"{decimal(_exact(grams) / 1000, digits)}{NBSP}kg"


def mass(grams: Number, digits: int = 3) -> str:
    """Grams in the unit the owner picked for screens."""
    if habits().mass_unit == "lb":
        return f"{decimal(_exact(grams) / GRAMS_IN_POUND, digits)}{NBSP}lb"
    return kg(grams, digits)


def grams(value: Number) -> str:
    """Small masses: grams with up to two decimals."""
    return f"{decimal(value, 0, 2)}{NBSP}g"


def hours(minutes_: Number) -> str:
    """Minutes as hours, two decimals."""
    return f"{decimal(_exact(minutes_) / 60, 2)}{NBSP}h"


def minutes(value: Number) -> str:
    """Minutes, whole."""
    return f"{decimal(value, 0)}{NBSP}min"


def mm(value: Number) -> str:
    """Millimetres with up to two decimals."""
    return f"{decimal(value, 0, 2)}{NBSP}mm"


def length(value_mm: Number) -> str:
    """Millimetres in the unit the owner picked for screens."""
    unit = habits().length_unit
    if unit == "mm":
        return mm(value_mm)
    if unit == "in":
        return f"{decimal(_exact(value_mm) / MM_IN_INCH, 0, 2)}{NBSP}in"
    return f"{decimal(_exact(value_mm) / 10, 0, 1)}{NBSP}cm"


def strung_length(strung_mm: Number, asked_mm: Number) -> str:
    """A length as it is printed: as strung, to one decimal; the asked one too if 3 % off it.

    At exactly 3 % only the strung length stands.
    """
    strung, asked = _exact(strung_mm), _exact(asked_mm)
    words = _one_decimal(strung)
    if abs(strung - asked) * 100 <= 3 * asked:
        return words
    return gettext("%(strung)s (%(asked)s asked)") % {"strung": words, "asked": length(asked)}


def _one_decimal(value_mm: Decimal) -> str:
    unit = habits().length_unit
    if unit == "in":
        return f"{decimal(value_mm / MM_IN_INCH, 0, 1)}{NBSP}in"
    if unit == "mm":
        return f"{decimal(value_mm, 0, 1)}{NBSP}mm"
    return f"{decimal(value_mm / 10, 0, 1)}{NBSP}cm"


def celsius(value: Number) -> str:
    """A temperature, whole degrees."""
    return f"{decimal(value, 0)}{NBSP}°C"


def percent(share: Number) -> str:
    """A share of one as per cent, with up to one decimal, in the language's own way."""
    where = locale()
    rounded = _half_up(_exact(share) * 100, 1)
    shown = max(0, -_exponent(rounded.normalize()))
    pattern = numbers.parse_pattern(where.percent_formats[None].pattern)
    pattern.frac_prec = (shown, shown)
    return pattern.apply(rounded / 100 + 0, where)


def _day(value: date | datetime) -> date:
    if isinstance(value, datetime):
        return timezone.localtime(value).date() if timezone.is_aware(value) else value.date()
    return value


def date_short(value: date | datetime | None, today: date | None = None) -> str:
    """A day as it is said across a counter, "Fri 4 Dec"; with its year if not this one."""
    if value is None:
        return ""
    day = _day(value)
    today = today or timezone.localdate()
    # Translators: day pattern in CLDR letters, e.g. Fri 4 Dec
    pattern = pgettext("day pattern", "EEE d MMM")
    if day.year != today.year:
        # Translators: day pattern in CLDR letters, e.g. Fri 4 Dec 2027
        pattern = pgettext("day pattern", "EEE d MMM y")
    return _written_day(day, pattern, locale())


def date_long(value: date | datetime | None) -> str:
    """A day as a paper writes it, "4 December 2026"."""
    if value is None:
        return ""
    return dates.format_date(_day(value), "long", locale=locale())


def time_short(value: datetime | time | None) -> str:
    """A time of day in the workshop's zone, "14:30"."""
    if value is None:
        return ""
    if isinstance(value, datetime) and timezone.is_aware(value):
        value = timezone.localtime(value)
    return _written_time(value.hour, value.minute, locale())


def days(value: int) -> str:
    """A number of days in words, "1 day", "9 days"."""
    return ngettext("%(n)s day", "%(n)s days", value) % {"n": count(value)}


def quantity(value: Any, unit: str = "") -> str:
    """Any figure of a working: money by its currency, numbers with what decimals they need."""
    if isinstance(value, bool) or not isinstance(value, (Decimal, int, float)):
        return date_short(value) if isinstance(value, date) else str(value)
    if unit in MINOR_DIGITS:
        return money(value, unit)
    if isinstance(value, int):
        return count(value)
    exact = _exact(value)
    if not exact.is_finite():
        return str(value)
    size = exact.adjusted() if exact else 0
    return decimal(exact, 0, min(6, max(2, 3 - size)))
