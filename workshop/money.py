"""Amounts of money: how many decimals a currency has, rounding, splitting, coins.

Nothing here shows an amount; the locale does that. Rounding is half-up, half away from
zero, once, where an amount is stated.
"""

from collections.abc import Sequence
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_UP, Context, Decimal

ZERO = Decimal(0)

# Wide enough that no amount a workshop meets is rounded before we say so.
_EXACT = Context(prec=60, rounding=ROUND_HALF_UP)

# ISO 4217 (List One, 2026-01-01): minor unit of every currency that does not have two decimals.
_WITHOUT_TWO = {
    0: "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX UYI VND VUV XAF XOF XPF",
    3: "BHD IQD JOD KWD LYD OMR TND",
    4: "CLF UYW",
}
_WITH_TWO = """
    AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BMD BND BOB BOV BRL BSD BTN BWP BYN BZD CAD
    CDF CHE CHF CHW CNY COP COU CRC CUP CVE CZK DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS
    GIP GMD GTQ GYD HKD HNL HTG HUF IDR ILS INR IRR JMD KES KGS KHR KPW KYD KZT LAK LBP LKR LRD
    LSL MAD MDL MGA MKD MMK MNT MOP MRU MUR MVR MWK MXN MXV MYR MZN NAD NGN NIO NOK NPR NZD PAB
    PEN PGK PHP PKR PLN QAR RON RSD RUB SAR SBD SCR SDG SEK SGD SHP SLE SOS SRD SSP STN SVC SYP
    SZL THB TJS TMT TOP TRY TTD TWD TZS UAH USD USN UYU UZS VED VES WST XAD XCD XCG YER ZAR ZMW
    ZWG
"""
MINOR_DIGITS: dict[str, int] = {
    code: digits for digits, codes in _WITHOUT_TWO.items() for code in codes.split()
} | dict.fromkeys(_WITH_TWO.split(), 2)


# Smallest coin in use where it is not the minor unit. Source: cash digits and cash rounding of
# the CLDR currency data (Babel 2.18); the owner may set another.
_USUAL_COIN = {
    "CAD": "0.05",
    "CHF": "0.05",
    "DKK": "0.50",
} | dict.fromkeys(("CZK", "HUF", "NOK", "SEK", "TZS"), "1")


class MoneyError(ValueError):
    """An amount or currency that cannot be reckoned with; the text is a whole sentence."""


def minor_digits(currency: str) -> int:
    """Decimals of a currency by ISO 4217, which display libraries do not always follow.

    Raises MoneyError for a code that ISO 4217 does not list.

    >>> minor_digits("EUR"), minor_digits("JPY"), minor_digits("TND")
    (2, 0, 3)

    Source: ISO 4217.
    """
    try:
        return MINOR_DIGITS[currency]
    except KeyError:
        raise MoneyError(
            f"“{currency}” is not a currency of ISO 4217. Write its three letters, such as EUR."
        ) from None


def smallest_unit(currency: str) -> Decimal:
    """One minor unit of a currency.

    >>> smallest_unit("EUR"), smallest_unit("XOF")
    (Decimal('0.01'), Decimal('1'))
    """
    return Decimal(1).scaleb(-minor_digits(currency))


def usual_coin(currency: str) -> Decimal:
    """The smallest coin people usually pay with, a first guess for the owner to correct.

    >>> usual_coin("CHF"), usual_coin("EUR"), usual_coin("SEK")
    (Decimal('0.05'), Decimal('0.01'), Decimal('1'))

    Source: cash rounding in the CLDR currency data.
    """
    least = smallest_unit(currency)
    return Decimal(_USUAL_COIN[currency]) if currency in _USUAL_COIN else least


def _unit(currency_or_digits: str | int) -> Decimal:
    if isinstance(currency_or_digits, str):
        return smallest_unit(currency_or_digits)
    return Decimal(1).scaleb(-currency_or_digits)


def _checked(amount: Decimal) -> Decimal:
    if not amount.is_finite():
        raise MoneyError("An amount of money must be a number.")
    if abs(amount) >= Decimal("1e30"):
        raise MoneyError("That amount of money is too large to reckon with.")
    return amount


def round_half_up(amount: Decimal, currency: str | int) -> Decimal:
    """The amount at its currency's decimals (or that many), ties away from zero.

    >>> round_half_up(Decimal("365.125"), "EUR"), round_half_up(Decimal("-0.5"), 0)
    (Decimal('365.13'), Decimal('-1'))

    Source: EN 16931 example CII_business_example_01, where 365.125 is stated as 365.13.
    """
    return _checked(amount).quantize(_unit(currency), ROUND_HALF_UP, _EXACT)


def round_up(amount: Decimal, currency: str | int) -> Decimal:
    """The least amount at the currency's decimals that is not below the one given.

    >>> round_up(Decimal("4.1201"), "EUR")
    Decimal('4.13')
    """
    return _checked(amount).quantize(_unit(currency), ROUND_CEILING, _EXACT)


def round_up_to_step(amount: Decimal, step: Decimal) -> Decimal:
    """The least multiple of a step that is not below the amount: a price easily paid.

    Raises MoneyError unless the step is above 0.

    >>> round_up_to_step(Decimal("4.12"), Decimal("0.50"))
    Decimal('4.50')
    """
    if not step.is_finite() or step <= 0:
        raise MoneyError("The step that prices are rounded to must be above 0.")
    steps = _EXACT.divide(_checked(amount), step).to_integral_value(ROUND_CEILING, _EXACT)
    return _EXACT.multiply(steps, step)


def round_to_coin(total: Decimal, coin: Decimal) -> Decimal:
    """The total of a cash payment at the nearest smallest coin, ties away from zero.

    Only what is handed over is rounded, never lines or tax.
    Raises MoneyError unless the coin is above 0.

    >>> round_to_coin(Decimal("20.43"), Decimal("0.05"))
    Decimal('20.45')

    Source: Swedish rounding, as published for Australia and Sweden; the tie rule is a choice.
    """
    if not coin.is_finite() or coin <= 0:
        raise MoneyError("The smallest coin must be above 0.")
    coins = _EXACT.divide(_checked(total), coin).to_integral_value(ROUND_HALF_UP, _EXACT)
    return _EXACT.multiply(coins, coin)


def split_by_largest_remainder(
    amount: Decimal, weights: Sequence[Decimal | int], currency: str | int
) -> list[Decimal]:
    """Split an amount by weights into parts of whole minor units that add up to it exactly.

    The units left over go to the parts that were cut most; among equals, to the earlier one.
    Raises MoneyError when the amount has more decimals than its currency, there are no weights, one
    is below 0 or all are 0.

    >>> split_by_largest_remainder(Decimal("100.00"), [1, 1, 1], "EUR")
    [Decimal('33.34'), Decimal('33.33'), Decimal('33.33')]

    Source: Hamilton's method of largest remainders.
    """
    unit = _unit(currency)
    if _checked(amount) != amount.quantize(unit, ROUND_HALF_UP, _EXACT):
        raise MoneyError(
            f"{amount} has more decimals than its currency; round it before splitting."
        )
    shares = [Decimal(weight) for weight in weights]
    if not all(share.is_finite() for share in shares) or any(share < 0 for share in shares):
        raise MoneyError("No part of a split can weigh less than 0.")
    whole = sum(shares, Decimal(0))
    if whole <= 0:
        raise MoneyError("An amount can only be split when some part weighs more than 0.")
    sign = -1 if amount < 0 else 1
    units = _EXACT.divide(abs(amount), unit)
    exact = [_EXACT.divide(_EXACT.multiply(units, share), whole) for share in shares]
    parts = [share.to_integral_value(ROUND_FLOOR, _EXACT) for share in exact]
    left = int(units - sum(parts))
    most_cut = sorted(range(len(parts)), key=lambda place: (parts[place] - exact[place], place))
    for place in most_cut[:left]:
        parts[place] += 1
    return [_EXACT.multiply(sign * part, unit) for part in parts]


# --- tax ----------------------------------------------------------------------------------------


def with_tax(net: Decimal, rate: Decimal, currency: str | int) -> Decimal:
    """A price with its tax; rate in per cent.

    >>> with_tax(Decimal("18.00"), Decimal(23), "EUR")
    Decimal('22.14')
    """
    return round_half_up(net * (100 + rate) / 100, currency)


def without_tax(gross: Decimal, rate: Decimal, currency: str | int) -> Decimal:
    """A price without the tax that it contains; rate in per cent.

    >>> without_tax(Decimal("22.14"), Decimal(23), "EUR")
    Decimal('18.00')
    """
    return round_half_up(gross * 100 / (100 + rate), currency)
