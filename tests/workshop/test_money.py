"""Money: decimals by ISO 4217, half-up, coins, and splits that lose nothing."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workshop.money import (
    MINOR_DIGITS,
    MoneyError,
    minor_digits,
    round_half_up,
    round_to_coin,
    round_up,
    round_up_to_step,
    smallest_unit,
    split_by_largest_remainder,
    usual_coin,
)

D = Decimal

# Source: ISO 4217 list in the package iso4217 1.16.20260101.
ISO_4217 = {
    2: "EUR GBP USD GHS NGN KES TZS ZAR INR CHF MGA",
    0: "XAF JPY UGX VND CLP XOF KRW RWF ISK",
    3: "BHD LYD TND IQD JOD KWD OMR",
    4: "CLF UYW",
}


@pytest.mark.parametrize(
    ("currency", "digits"),
    [(code, digits) for digits, codes in ISO_4217.items() for code in codes.split()],
)
def test_decimals_are_those_of_iso_4217(currency, digits):
    assert minor_digits(currency) == digits
    assert smallest_unit(currency) == D(1).scaleb(-digits)


def test_decimals_are_not_taken_from_a_display_library():
    """CLDR shows MGA, RSD, LAK and IQD without decimals; ISO 4217 gives them some."""
    babel = pytest.importorskip("babel.numbers")
    for currency in ("MGA", "RSD", "LAK"):
        assert babel.get_currency_precision(currency) == 0
        assert minor_digits(currency) == 2
    assert babel.get_currency_precision("IQD") == 0
    assert minor_digits("IQD") == 3


def test_every_currency_in_use_today_is_known():
    """Against the countries' currencies in CLDR (Babel 2.18)."""
    babel = pytest.importorskip("babel.numbers")
    core = pytest.importorskip("babel.core")
    territories = core.get_global("territory_currencies")
    in_use = {
        code
        for territory in territories
        for code in babel.get_territory_currencies(territory, tender=True)
    }
    # The Bulgarian lev and Antillean guilder were withdrawn in 2026 and 2025; CLDR also lists
    # currencies of islands that ISO 4217 does not.
    assert in_use - set(MINOR_DIGITS) <= {"BGN", "ANG", "CUC", "SLL", "ZWL", "HRK", "VEF", "MRO"}


@pytest.mark.parametrize(
    ("currency", "coin"),
    [
        # Source: CLDR currency fractions in Babel 2.18.0: cash digits, cash rounding increment
        *(("CHF", "0.05"), ("CAD", "0.05"), ("SEK", "1"), ("NOK", "1"), ("HUF", "1")),
        *(("CZK", "1"), ("TZS", "1"), ("DKK", "0.50"), ("EUR", "0.01"), ("JPY", "1")),
    ],
)
def test_the_usual_smallest_coin(currency, coin):
    assert usual_coin(currency) == D(coin)
    core = pytest.importorskip("babel.core")
    fractions = core.get_global("currency_fractions")
    _digits, _rounding, cash_digits, increment = fractions.get(currency, fractions["DEFAULT"])
    assert D(coin) == D(increment or 1).scaleb(-cash_digits)


def test_amounts_are_rounded_before_they_are_shown():
    """Babel rounds half-even by itself: 0.125 shows as 0.12 (measured, Babel 2.18.0)."""
    babel = pytest.importorskip("babel.numbers")
    assert babel.format_currency(D("0.125"), "EUR", locale="en_GB") == "€0.12"
    rounded = round_half_up(D("0.125"), "EUR")
    assert babel.format_currency(rounded, "EUR", locale="en_GB") == "€0.13"


@pytest.mark.parametrize("currency", ["", "eur", "XXXX", "EURO", "ZZZ"])
def test_a_currency_that_is_none_is_refused(currency):
    with pytest.raises(MoneyError, match="is not a currency of ISO 4217"):
        minor_digits(currency)


@pytest.mark.parametrize(
    ("amount", "currency", "rounded"),
    [
        # Source: EN 16931 sample CII_business_example_01: 365.125 stands as 365.13
        ("365.125", "NOK", "365.13"),
        # half-even, which Babel 2.18 shows, would give 0.12 and 2.34
        ("0.125", "EUR", "0.13"),
        ("2.345", "EUR", "2.35"),
        ("-0.125", "EUR", "-0.13"),
        ("0.5", "JPY", "1"),
        ("1.0005", "TND", "1.001"),
        ("0.1249999999999999999999999999", "EUR", "0.12"),
    ],
)
def test_ties_go_away_from_zero(amount, currency, rounded):
    assert round_half_up(D(amount), currency) == D(rounded)


@pytest.mark.parametrize(
    ("total", "coin", "paid"),
    [
        # Source: Swedish rounding as published (Australian 5 c, Swedish receipt), nearest multiple
        ("20.43", "0.05", "20.45"),
        ("65.40", "0.50", "65.50"),
        # computed; the tie rule is a choice (common practice, no source)
        ("1.17", "0.05", "1.15"),
        ("10.50", "1", "11"),
        ("-10.50", "1", "-11"),
    ],
)
def test_cash_is_rounded_to_the_smallest_coin(total, coin, paid):
    assert round_to_coin(D(total), D(coin)) == D(paid)


def test_a_hundred_in_three():
    # Source: computed by largest remainder; the parts add up
    assert split_by_largest_remainder(D("100.00"), [1, 1, 1], "EUR") == [
        D("33.34"),
        D("33.33"),
        D("33.33"),
    ]


amounts = st.integers(-(10**9), 10**9).map(lambda n: D(n) / 100)
weights = st.lists(st.integers(0, 1000), min_size=1, max_size=12).filter(any)


@given(amounts, weights)
def test_a_split_adds_up_and_each_part_is_within_one_cent_of_its_share(amount, weights):
    parts = split_by_largest_remainder(amount, weights, "EUR")
    assert sum(parts) == amount
    for part, weight in zip(parts, weights, strict=True):
        assert abs(part - amount * weight / sum(weights)) < D("0.01")
        assert weight or part == 0


@pytest.mark.parametrize("weights", [[], [0, 0], [1, -1], [D("NaN")]])
def test_a_split_without_weights_is_refused(weights):
    with pytest.raises(MoneyError):
        split_by_largest_remainder(D("1.00"), weights, "EUR")


def test_half_a_cent_cannot_be_split():
    with pytest.raises(MoneyError, match="round it before splitting"):
        split_by_largest_remainder(D("1.005"), [1], "EUR")


@given(st.decimals(0, 10**6, places=6), st.sampled_from(["0.05", "0.10", "0.25", "0.50", "1", "5"]))
def test_a_saleable_price_is_the_least_step_not_below(amount, step):
    price = round_up_to_step(amount, D(step))
    assert price % D(step) == 0
    assert amount <= price < amount + D(step)


@given(st.decimals(0, 10**6, places=6), st.sampled_from(["EUR", "JPY", "TND"]))
def test_the_lowest_price_is_never_below_cost(amount, currency):
    price = round_up(amount, currency)
    assert amount <= price < amount + smallest_unit(currency)


@pytest.mark.parametrize("amount", ["NaN", "Infinity", "-Infinity", "1e31"])
def test_what_is_no_amount_is_refused(amount):
    for work in (
        lambda: round_half_up(D(amount), "EUR"),
        lambda: round_up(D(amount), "EUR"),
        lambda: round_to_coin(D(amount), D("0.05")),
        lambda: round_up_to_step(D(amount), D("0.05")),
        lambda: split_by_largest_remainder(D(amount), [1], "EUR"),
    ):
        with pytest.raises(MoneyError):
            work()


@pytest.mark.parametrize("step", ["0", "-1", "NaN"])
def test_a_step_or_coin_of_nothing_is_refused(step):
    with pytest.raises(MoneyError, match="above 0"):
        round_up_to_step(D(1), D(step))
    with pytest.raises(MoneyError, match="above 0"):
        round_to_coin(D(1), D(step))
