"""Numbers, money and dates are written as the country writes them, rounded half-up, once."""

from datetime import UTC, date, datetime
from decimal import Decimal
from types import SimpleNamespace
from zoneinfo import ZoneInfo

import pytest
from babel.numbers import format_currency
from django.template import engines
from django.utils import timezone, translation

from workshop import formats
from workshop.formats import NBSP

NARROW = "\u202f"


def business(**changes):
    told = {"currency": "EUR", "country": "", "length_unit": "cm", "mass_unit": "kg"}
    return SimpleNamespace(**(told | changes))


@pytest.fixture(autouse=True)
def plain_english():
    with translation.override("en"), formats.written_as(business()):
        yield


@pytest.mark.parametrize(
    ("country", "amount", "currency", "expected"),
    [
        # Babel 2.18.0, format_currency, measured.
        ("", "1234567.5", "EUR", "€1,234,567.50"),
        ("IN", "1234567.5", "GHS", "GHS12,34,567.50"),
        ("", "-1234567.5", "EUR", "-€1,234,567.50"),
    ],
)
def test_money_is_written_as_the_locale_library_writes_it(country, amount, currency, expected):
    with formats.written_as(business(country=country, currency=currency)):
        assert formats.money(Decimal(amount)).replace(NBSP, "") == expected
        whole = format_currency(Decimal(amount), currency, locale=formats.locale())
        assert formats.money(Decimal(amount)) == whole


@pytest.mark.parametrize(
    ("currency", "amount", "expected"),
    [
        # ISO 4217: yen and West African franc have no decimals, Tunisian dinar three.
        ("JPY", "1234.5", "JP¥1,235"),
        ("XOF", "655.957", "FCFA656"),
        ("TND", "1.2345", "TND1.235"),
        # ISO 4217 gives the Iraqi dinar three decimals; locale data give it none.
        ("IQD", "12", "IQD12.000"),
    ],
)
def test_money_has_the_decimals_of_iso_4217(currency, amount, expected):
    assert (
        formats.money(Decimal(amount), currency).replace(NBSP, "").replace(NARROW, "") == expected
    )


def test_half_a_cent_is_rounded_up_though_the_locale_library_would_not():
    # Babel 2.18.0 shows 0.125 as 0.12 (half-even); EN 16931 and common practice say 0.13.
    assert formats.money(Decimal("0.125")) == "€0.13"
    assert formats.money(Decimal("2.345")) == "€2.35"
    assert formats.money(Decimal("-0.004")) == "€0.00"


def test_nothing_is_written_for_no_amount():
    assert formats.money(None) == ""


@pytest.mark.parametrize(
    ("write", "value", "expected"),
    [
        (formats.kg, 288, f"0.288{NBSP}kg"),
        (formats.kg, Decimal("1234567.8"), f"1,234.568{NBSP}kg"),
        (formats.hours, 260, f"4.33{NBSP}h"),
        (formats.minutes, Decimal("24.5"), f"25{NBSP}min"),
        (formats.mm, Decimal("12.50"), f"12.5{NBSP}mm"),
        (formats.mm, 12, f"12{NBSP}mm"),
        (formats.length, 450, f"45{NBSP}cm"),
        (formats.grams, Decimal("1.2309"), f"1.23{NBSP}g"),
        (formats.celsius, 720, f"720{NBSP}°C"),
        (formats.percent, Decimal("0.225"), "22.5%"),
        (formats.percent, Decimal("0.95"), "95%"),
        (formats.percent, Decimal("0.0005"), "0.1%"),
        (formats.count, 1234, "1,234"),
        (formats.decimal, Decimal("0.5"), "1"),
        (formats.decimal, Decimal("-0.4"), "0"),
        (formats.days, 1, "1 day"),
        (formats.days, 9, "9 days"),
    ],
)
def test_quantities(write, value, expected):
    assert write(value) == expected


def test_a_number_with_as_many_decimals_as_asked_for():
    assert formats.decimal(Decimal("3.14159"), 2) == "3.14"
    assert formats.decimal(Decimal("3.1"), 0, 2) == "3.1"


def test_the_owner_picks_the_units_of_the_screens():
    # 1 lb = 453.59237 g and 1 in = 25.4 mm, exact (international yard and pound, 1959).
    with formats.written_as(business(mass_unit="lb", length_unit="in")):
        assert formats.mass(Decimal("453.59237")) == f"1.000{NBSP}lb"
        assert formats.length(Decimal("406.4")) == f"16{NBSP}in"
        assert formats.kg(1000) == f"1.000{NBSP}kg"
    with formats.written_as(business(length_unit="mm")):
        assert formats.length(450) == f"450{NBSP}mm"


def test_a_countrys_way_is_taken_only_where_its_decimal_mark_agrees_with_the_boxes():
    # English as written in Portugal has a decimal comma; boxes on an English page a point.
    with formats.written_as(business(country="PT")):
        assert formats.money(Decimal("6.5")) == "€6.50"
    with formats.written_as(business(country="US")):
        assert formats.date_long(date(2026, 12, 4)) == "December 4, 2026"


def test_a_country_nobody_knows_is_no_accident():
    with formats.written_as(business(country="ZZ")):
        assert formats.count(1000) == "1,000"


def test_another_language_writes_its_own_way():
    with translation.override("de"):
        assert formats.money(Decimal("1234.5")) == f"1.234,50{NBSP}€"
        assert formats.percent(Decimal("0.225")) == f"22,5{NBSP}%"


def test_a_day_is_said_with_its_weekday_and_with_its_year_when_that_is_another():
    today = date(2026, 11, 25)
    # 4 December 2026 is a Friday (perpetual calendar).
    assert formats.date_short(date(2026, 12, 4), today) == "Fri 4 Dec"
    assert formats.date_short(date(2027, 1, 4), today) == "Mon 4 Jan 2027"
    assert formats.date_long(date(2026, 12, 4)) == "4 December 2026"
    assert formats.date_short(None) == formats.date_long(None) == ""


def test_a_day_at_the_end_of_a_sentence_brings_no_second_full_stop():
    # CLDR's short months: German "Dez.", French "déc.".
    for language, said in (("de", "Fr. 4. Dez"), ("fr", "ven. 4 déc")):
        with translation.override(language):
            assert formats.date_short(date(2026, 12, 4), date(2026, 11, 25)) == said


def test_a_moment_is_shown_in_the_workshops_own_zone():
    # Half past eleven at night in London is already tomorrow in Accra's neighbour Lagos (UTC+1).
    late = datetime(2026, 12, 4, 23, 30, tzinfo=UTC)
    with timezone.override(ZoneInfo("Africa/Lagos")):
        assert formats.time_short(late) == "00:30"
        assert formats.date_long(late) == "5 December 2026"
    assert formats.time_short(None) == ""


@pytest.mark.parametrize(
    ("value", "unit", "expected"),
    [
        (Decimal("41.2031"), "EUR", "€41.20"),
        (720, "beads", "720"),
        (Decimal("0.95"), "", "0.95"),
        (Decimal("0.000123456"), "", "0.000123"),
        (Decimal("1234.56789"), "g", "1,234.57"),
        (Decimal("Infinity"), "", "Infinity"),
        ("as it comes", "", "as it comes"),
    ],
)
def test_the_figures_of_a_working(value, unit, expected):
    assert formats.quantity(value, unit) == expected


def render(source: str, **context) -> str:
    return engines["django"].from_string(source).render(context)


def test_templates_write_the_same_without_loading_anything():
    assert render("{{ x|money }} {{ g|kg }} {{ n|count }}", x=Decimal("6.5"), g=288, n=1234) == (
        f"€6.50 0.288{NBSP}kg 1,234"
    )
    assert render("{{ x|money:'GHS' }}", x=Decimal("6.5")).replace(NBSP, "") == "GHS6.50"
    assert render("{{ mg|mg_kg }}", mg=288_000) == f"0.288{NBSP}kg"


def test_templates_write_nothing_for_nothing():
    names = "money count kg mass grams hours minutes mm cord_length celsius percent date_short"
    for name in names.split():
        assert render("{{ x|" + name + " }}", x=None) == ""
        assert render("{{ missing|" + name + " }}") == ""
