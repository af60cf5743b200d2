"""Quantities as people write them: read exactly, or answered with a sentence."""

import subprocess
import sys
import threading
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workshop.physics.number_text import read_number
from workshop.physics.units import (
    UnitError,
    convert,
    parse_count,
    parse_length_mm,
    parse_mass_g,
    parse_minutes,
    parse_temperature_c,
    unit_registry,
)

PARSERS = [parse_length_mm, parse_mass_g, parse_minutes, parse_temperature_c, parse_count]


# Inch 25.4 mm, foot 304.8 mm, yard 914.4 mm: international yard and pound agreement, 1959.
@pytest.mark.parametrize(
    ("text", "expected_mm"),
    [
        ("40cm", "400"),
        ("40 cm", "400"),
        ("16 in", "406.4"),
        ('16"', "406.4"),
        ("16”", "406.4"),
        ("16 in.", "406.4"),
        ("16 inches", "406.4"),
        ("16 1/2 in", "419.1"),
        ("16½ in", "419.1"),
        ('½"', "12.7"),
        ("1/8 in", "3.175"),
        ("5 ft 3 in", "1600.2"),
        ("5'3\"", "1600.2"),
        ("5′3″", "1600.2"),
        ("2 yd", "1828.8"),
        ("1.500 m", "1500"),
        ("2,5 cm", "25"),
        ("2.5 Cm", "25"),
        ("12 MM", "12"),
        ("1 234,5 mm", "1234.5"),
        ("1,234.5 mm", "1234.5"),
        ("1.234,5 mm", "1234.5"),
        ("1,234,567 mm", "1234567"),
        (".5 m", "500"),
        ("+8", "8"),
        ("8", "8"),
        ("0", "0"),
        ("0,250 m", "250"),
        ("٣٫٥ cm", "35"),
        ("２５㎜", "25"),
        ("10\u00a0mm", "10"),
    ],
)
def test_a_length_is_read_as_it_is_meant(text: str, expected_mm: str) -> None:
    assert parse_length_mm(text) == Decimal(expected_mm)


# Pound 453.59237 g and ounce 28.349523125 g (1959); troy ounce 31.1034768 g.
@pytest.mark.parametrize(
    ("text", "expected_g"),
    [
        ("1,5 kg", "1500"),
        ("2.5 kg", "2500"),
        ("2.5kg", "2500"),
        ("2.5 Kg", "2500"),
        ("3 lb", "1360.77711"),
        ("1 lbs", "453.59237"),
        ("2 lb 4 oz", "1020.5828325"),
        ("1 oz", "28.349523125"),
        ("1 troy oz", "31.1034768"),
        ("250 mg", "0.25"),
        ("1 t", "1000000"),
        ("4.205 kg", "4205"),
        ("12.5", "12.5"),
    ],
)
def test_a_mass_is_read_as_it_is_meant(text: str, expected_g: str) -> None:
    assert parse_mass_g(text) == Decimal(expected_g)


@pytest.mark.parametrize(
    ("text", "expected_min"),
    [
        ("90", "90"),
        ("1 h 30 min", "90"),
        ("1h30", "90"),
        ("1h 30m", "90"),
        ("1:30", "90"),
        ("0:05", "5"),
        ("1.5 h", "90"),
        ("1 ½ h", "90"),
        ("45 s", "0.75"),
        ("2 days", "2880"),
        ("1 hour 1 minute", "61"),
    ],
)
def test_a_time_is_read_as_it_is_meant(text: str, expected_min: str) -> None:
    assert parse_minutes(text) == Decimal(expected_min)


@pytest.mark.parametrize(
    ("text", "expected_c"),
    [
        ("650", "650"),
        ("650 °C", "650"),
        ("650º C", "650"),
        ("650 ℃", "650"),
        ("650C", "650"),
        ("650 degrees", "650"),
        ("1202 F", "650"),
        ("1202°F", "650"),
        ("32 °F", "0"),
        ("923.15 K", "650"),
    ],
)
def test_a_temperature_is_read_as_it_is_meant(text: str, expected_c: str) -> None:
    assert parse_temperature_c(text) == Decimal(expected_c)


# Dozen, gross, great gross by definition; a mass of beads is 1200 (Neuwirth, Beads from Gablonz).
@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("200", 200),
        ("1,200", 1200),
        ("1.200", 1200),
        ("1 200", 1200),
        ("1 dozen", 12),
        ("2 gross", 288),
        ("1 gross", 144),
        ("1 Great Gross", 1728),
        ("1 gross 6", 150),
        ("1 gross, 3 dozen", 180),
        ("1.5 gross", 216),
        ("½ dozen", 6),
        ("1 mass", 1200),
        ("3 dozen beads", 36),
        ("2 gross of beads", 288),
        ("7 pcs", 7),
        ("4 pairs", 8),
        # French, Portuguese, Spanish and German, by their dictionaries of the trade.
        ("2 grosses", 288),
        ("1 grosa 6", 150),
        ("2 gruesas", 288),
        ("1 Gros, 3 Dutzend", 180),
        ("1,5 douzaine", 18),
        ("8 dúzias", 96),
        ("3 docenas", 36),
        ("4 Stück", 4),
    ],
)
def test_a_count_is_read_as_it_is_meant(text: str, expected: int) -> None:
    found = parse_count(text)
    assert (found, type(found)) == (expected, int)


@pytest.mark.parametrize(
    ("parse", "text", "sentence"),
    [
        (parse_length_mm, "12 kg", "“12 kg” is a mass, and a length is needed here"),
        (parse_mass_g, "16 in", "“16 in” is a length, and a mass is needed here"),
        (parse_minutes, "650 °C", "is a temperature, and a time is needed here"),
        (parse_temperature_c, "650 m", "is a length, and a temperature is needed here"),
        (parse_count, "3 kg", "is a mass, and a number of pieces is needed here"),
        (parse_length_mm, "3 kW", "is another kind of quantity"),
        (parse_length_mm, "12 foo", "The unit “foo” in “12 foo” is not known here"),
        (parse_length_mm, "3 kg*m", "The unit “kg*m”"),
        (parse_count, "50 percent", "The unit “percent”"),
        (parse_count, "3 hanks", "“hanks” has no one size here"),
        (parse_length_mm, "", "Nothing is written here yet"),
        (parse_length_mm, "   ", "Nothing is written here yet"),
        (parse_length_mm, None, "Nothing is written here yet"),
        (parse_length_mm, "nan", "cannot be read as a length"),
        (parse_length_mm, "inf", "cannot be read as a length"),
        (parse_length_mm, Decimal("NaN"), "cannot be read as a length"),
        (parse_length_mm, float("inf"), "cannot be read as a length"),
        (parse_length_mm, True, "cannot be read as a length"),
        (parse_length_mm, Decimal("1e99999"), "lies outside"),
        pytest.param(parse_length_mm, 10**5000, "lies outside", id="10**5000"),
        (parse_length_mm, "9999999 km", "lies outside"),
        (parse_mass_g, "99999999 t", "lies outside"),
        (parse_temperature_c, "3000 C", "lies outside"),
        (parse_count, "2000000000", "lies outside"),
        (parse_length_mm, "1" * 61, "is longer than a quantity can be"),
        (parse_length_mm, "1" * 50, "has more digits than any scale shows"),
        (parse_length_mm, "-3 mm", "is less than nothing"),
        (parse_mass_g, "−3", "is less than nothing"),
        (parse_temperature_c, "-5 F", "is less than nothing"),
        (parse_length_mm, "5 ft 3", "has a figure without its unit"),
        (parse_length_mm, "2 - 3 cm", "cannot be read as a length"),
        (parse_temperature_c, "600 C 50 C", "cannot be read as a temperature"),
        (parse_length_mm, "12.34.56 mm", "cannot be read as a number"),
        (parse_length_mm, "40 50 cm", "cannot be read as a number"),
        (parse_length_mm, "1/0 in", "more than 0 below its line"),
        (parse_count, "1.5", "pieces are counted whole"),
        (parse_count, "1 dozen 0.5", "pieces are counted whole"),
    ],
)
def test_what_cannot_be_meant_is_answered_with_a_sentence(parse, text, sentence: str) -> None:
    with pytest.raises(UnitError) as refused:
        parse(text)
    assert sentence in str(refused.value)
    assert str(refused.value).endswith(".")
    assert len(str(refused.value)) < 220


def test_a_comma_before_three_figures_is_asked_about_and_not_guessed() -> None:
    with pytest.raises(UnitError, match=r"read as 1\.5 or as 1500"):
        parse_mass_g("1,500 kg")


def test_the_writers_own_mark_is_read_and_the_other_asked_about() -> None:
    assert parse_mass_g("1,500 kg", decimal_mark=",") == 1500
    assert parse_mass_g("1.500 kg", decimal_mark=".") == 1500
    with pytest.raises(UnitError, match=r"read as 1,5 or as 1500"):
        parse_mass_g("1.500 kg", decimal_mark=",")
    with pytest.raises(UnitError, match=r"read as 1\.5 or as 1500"):
        parse_mass_g("1,500 kg", decimal_mark=".")
    assert (
        parse_mass_g("1,5 kg", decimal_mark=".") == parse_mass_g("1.5 kg", decimal_mark=",") == 1500
    )


def test_a_bare_number_means_the_default_unit() -> None:
    assert parse_length_mm("16", default_unit="in") == Decimal("406.4")
    assert parse_mass_g(Decimal("2.5"), default_unit="kg") == 2500
    assert parse_temperature_c("1202", default_unit="degF") == 650
    assert parse_count(3, default_unit="gross") == 432
    assert parse_length_mm("16", "") == 16


def test_a_decimal_is_never_taken_for_thousands() -> None:
    assert parse_length_mm(Decimal("1.500"), decimal_mark=",") == Decimal("1.5")


def test_below_nothing_only_where_it_is_allowed_and_never_below_absolute_zero() -> None:
    assert parse_temperature_c("-40 F", allow_negative=True) == -40
    with pytest.raises(UnitError, match="lies outside"):
        parse_temperature_c("-300", allow_negative=True)


@given(st.text(max_size=80), st.sampled_from(PARSERS), st.sampled_from([None, ".", ","]))
def test_whatever_is_typed_is_read_or_answered(text: str, parse, mark: str | None) -> None:
    try:
        found = parse(text, decimal_mark=mark)
    except UnitError as error:
        assert str(error).endswith(".")
    else:
        assert found >= 0


@given(
    st.text(alphabet="0123456789 .,/'\"-+½ kgmcinftlbozhsx°FC", max_size=60),
    st.sampled_from(PARSERS),
)
def test_near_quantities_too_are_read_or_answered(text: str, parse) -> None:
    try:
        assert parse(text) >= 0
    except UnitError as error:
        assert str(error).endswith(".")


decimals = st.decimals(0, 5000, places=6, allow_nan=False)


@given(decimals, st.sampled_from(["mm", "cm", "m", "in", "ft", "yd"]))
def test_a_length_written_out_is_read_back_exactly(value: Decimal, unit: str) -> None:
    millimetres = {"mm": 1, "cm": 10, "m": 1000, "in": "25.4", "ft": "304.8", "yd": "914.4"}
    expected = Fraction(value) * Fraction(millimetres[unit])
    assert Fraction(parse_length_mm(f"{value:f} {unit}")) == expected
    with_comma = f"{value:f}{unit}".replace(".", ",")
    assert Fraction(parse_length_mm(with_comma, decimal_mark=",")) == expected


@given(decimals, st.sampled_from([("mm", "in"), ("g", "lb"), ("g", "oz"), ("min", "h")]))
def test_there_and_back_is_the_same_quantity(value: Decimal, units: tuple[str, str]) -> None:
    here, there = units
    back = convert(convert(value, here, there), there, here)
    assert abs(back - value) <= Decimal("1e-20")


@given(decimals)
def test_fahrenheit_and_back_is_the_same_temperature(value: Decimal) -> None:
    assert abs(convert(convert(value, "degC", "degF"), "degF", "degC") - value) < Decimal("1e-20")


@given(st.integers(0, 10**6), st.integers(0, 143))
def test_gross_and_singles_add_up(gross: int, singles: int) -> None:
    assert parse_count(f"{gross} gross {singles}") == 144 * gross + singles


@pytest.mark.parametrize(
    ("value", "here", "there", "expected"),
    [
        (Decimal("25.4"), "mm", "in", "1"),
        (1, "lb", "g", "453.59237"),
        (212, "degF", "degC", "100"),
        (-40, "degC", "degF", "-40"),
        (0.1, "kg", "g", "100"),
        ("3.6", "MJ", "kWh", "1"),
        (3, "gross", "dozen", "36"),
        (10**9, "kg", "mg", "1000000000000000"),
    ],
)
def test_a_quantity_is_the_same_in_another_unit(value, here, there, expected: str) -> None:
    assert convert(value, here, there) == Decimal(expected)


@pytest.mark.parametrize(
    ("value", "here", "there"),
    [(1, "m", "kg"), (1, "foo", "m"), (1, "m", "foo"), ("x", "m", "cm"), (float("nan"), "m", "cm")],
)
def test_a_change_of_unit_that_cannot_be_is_answered(value, here: str, there: str) -> None:
    with pytest.raises(UnitError):
        convert(value, here, there)


@given(st.integers(0, 10**15), st.integers(0, 9))
def test_a_number_with_thousands_apart_is_the_same_number(value: int, places: int) -> None:
    part = "7" * places
    for thousands, mark in ((",", "."), (".", ","), (" ", ".")):
        grouped = f"{value:,}".replace(",", thousands)
        text = grouped + (mark + part if part else "")
        if text.count(thousands) == 1 and thousands in ",." and not part:
            continue  # one mark before three figures is asked about
        assert read_number(text, decimal_mark=mark) == Fraction(f"{value}.{part or 0}")


def test_there_is_one_register_of_units_whoever_asks_first() -> None:
    found = []
    threads = [threading.Thread(target=lambda: found.append(unit_registry())) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len({id(registry) for registry in found}) == 1
    assert unit_registry()("1 pound").to("gram").magnitude == Decimal("453.59237")


def test_shapes_and_glass_load_neither_units_nor_science_libraries() -> None:
    rooms = (
        "advice annealing bottles composition density expansion heat practice shapes sintering"
        " surface_tension units viscosity"
    )
    lines = "; ".join(f"import workshop.physics.{room}" for room in rooms.split())
    heavy = "{'pint', 'numpy', 'scipy', 'django', 'trimesh', 'ht', 'chemicals'}"
    code = f"import sys; {lines}; print(sorted({heavy} & set(sys.modules)))"
    shown = subprocess.run(  # the interpreter itself, with our own text
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    assert shown.stdout.strip() == "[]"


def test_a_sentence_can_be_said_in_another_language() -> None:
    german = {"a mass": "eine Masse", "a length": "eine Länge"}
    with pytest.raises(UnitError) as refused:
        parse_length_mm("12 kg")
    said = refused.value.said(lambda text: german.get(text, text))
    assert said.startswith("“12 kg” is eine Masse, and eine Länge is needed here.")
