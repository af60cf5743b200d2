"""Numbers as people write them: 2.5, 2,5, 1 500, 16 1/2, ½. Exact, and short texts only."""

import re
import unicodedata
from decimal import Decimal
from fractions import Fraction

from workshop.physics.sentences import PhysicsError, gettext_noop

LONGEST_TEXT = 60  # characters; a longer entry is a slip of the paste key
MOST_DIGITS = 40

TWO_READINGS = gettext_noop(
    "“%(text)s” can be read as %(small)s or as %(large)s. Write it as %(large)s if that is meant,"
    " or as %(small)s."
)
BAD_NUMBER = gettext_noop("“%(text)s” cannot be read as a number. Write one, such as 2.5.")
TOO_MANY_DIGITS = gettext_noop(
    "“%(text)s” has more digits than any scale shows. Write at most %(most)s."
)
NOTHING_BELOW = gettext_noop("A fraction needs more than 0 below its line. Write one, such as 1/2.")

# Any digits, with single marks or spaces between them; then perhaps a fraction.
NUMBER = r"(?:\d+(?:[., ]\d+)*(?:[.,](?!\d))?|[.,]\d+)(?: ?/ ?\d+)?"
_VULGAR = {
    "½": " 1/2",
    "¼": " 1/4",
    "¾": " 3/4",
    "⅓": " 1/3",
    "⅔": " 2/3",
    "⅛": " 1/8",
    "⅜": " 3/8",
    "⅝": " 5/8",
    "⅞": " 7/8",
}
_MARKS = str.maketrans({"٫": ".", "٬": ",", "⁄": "/", "−": "-", "º": "°"})


class UnitError(PhysicsError):
    """A quantity that cannot be read, is of another kind, or lies outside any sense.

    >>> str(UnitError("“12 kg” is a mass, and a length is needed here."))
    '“12 kg” is a mass, and a length is needed here.'
    """


def tidy(text: str) -> str:
    """One way of writing out of many: figures of any script, wide letters, ½, odd spaces.

    text  as typed, cut by the caller to a sensible length

    Returns the text with single plain spaces, figures 0 to 9 and plain unit letters.

    >>> tidy("16½\u00a0in"), tidy("２５ ㎏"), tidy("٣٫٥ kg")
    ('16 1/2 in', '25 kg', '3.5 kg')

    Source: Unicode compatibility decomposition (Unicode Standard Annex 15).
    """
    for sign, figures in _VULGAR.items():
        text = text.replace(sign, figures)
    text = unicodedata.normalize("NFKC", text.translate(_MARKS)).translate(_MARKS)
    decimals = (unicodedata.decimal(character, None) for character in text)
    plain = (
        character if figure is None else str(figure)
        for character, figure in zip(text, decimals, strict=True)
    )
    return " ".join("".join(plain).split())


def read_number(text: str, *, decimal_mark: str | None = None, whole: bool = False) -> Fraction:
    """The exact number a text stands for, without sign or exponent.

    text          digits with a comma or a point; spaces between thousands; a fraction after it
    decimal_mark  the writer's own, "." or ","; None for a point
    whole         True for things counted: three digits after a mark are then thousands

    Returns an exact Fraction. Raises UnitError if it cannot be read, has over 40 digits, or has
    two readings a thousand apart: the other mark before three digits, "1,500" where the own is a
    point and "1.500" where it is a comma. A scale writes its decimals so, and a person thousands.

    >>> read_number("2,5"), read_number("16 1/2"), read_number("1,234.5")
    (Fraction(5, 2), Fraction(33, 2), Fraction(2469, 2))
    >>> read_number("1,200", whole=True)
    Fraction(1200, 1)
    >>> read_number("1,500", decimal_mark=","), read_number("1.500")
    (Fraction(3, 2), Fraction(3, 2))

    Source: common practice of decimal comma and decimal point (ISO 80000-1 allows both).
    """
    text = tidy(text[:LONGEST_TEXT])
    if sum(character.isdigit() for character in text) > MOST_DIGITS:
        raise UnitError(TOO_MANY_DIGITS, text=text[:24] + "…", most=MOST_DIGITS)
    if "/" in text:
        return _with_fraction(text)
    digits = _joined(text)
    marks = [character for character in digits if character in ".,"]
    if not marks:
        return Fraction(digits)
    if len(set(marks)) == 2:  # the last mark is the decimal, the other parts the thousands
        return _grouped(digits, thousands=marks[0], decimal=marks[-1], text=text)
    if len(marks) > 1:
        return _grouped(digits, thousands=marks[0], decimal="", text=text)
    return _single_mark(digits, marks[0], decimal_mark, whole, text)


def _single_mark(digits: str, mark: str, habit: str | None, whole: bool, text: str) -> Fraction:
    before, after = digits.split(mark)
    looks_grouped = len(after) == 3 and re.fullmatch(r"[1-9]\d{0,2}", before)
    if looks_grouped and whole:
        return Fraction(before + after)
    own = habit or "."
    if not looks_grouped or mark == own:
        return Fraction(f"{before or 0}.{after or 0}")
    small = f"{before}{own}{after.rstrip('0')}".rstrip(own)
    raise UnitError(TWO_READINGS, text=text, small=small, large=before + after)


def _grouped(digits: str, *, thousands: str, decimal: str, text: str) -> Fraction:
    whole, _, part = digits.rpartition(decimal) if decimal else (digits, "", "")
    groups = whole.split(thousands)
    well_formed = all(len(group) == 3 for group in groups[1:]) and 1 <= len(groups[0]) <= 3
    if not well_formed or thousands in part or (decimal and decimal in whole):
        raise UnitError(BAD_NUMBER, text=text)
    return Fraction(f"{''.join(groups)}.{part or 0}")


def _joined(text: str) -> str:
    pieces = text.split(" ")
    grouped = all(re.match(r"\d{3}(?!\d)", piece) for piece in pieces[1:])
    first_is_whole = len(pieces) == 1 or re.fullmatch(r"\d{1,3}", pieces[0])
    joined = "".join(pieces)
    if not grouped or not first_is_whole or not re.fullmatch(r"[\d.,]*\d[\d.,]*", joined):
        raise UnitError(BAD_NUMBER, text=text)
    return joined


def _with_fraction(text: str) -> Fraction:
    found = re.fullmatch(r"(?:(\d+) )?(\d+) ?/ ?(\d+)", text)
    if not found:
        raise UnitError(BAD_NUMBER, text=text)
    whole, above, below = found.groups()
    if int(below) == 0:
        raise UnitError(NOTHING_BELOW)
    return int(whole or 0) + Fraction(int(above), int(below))


def as_decimal(value: Fraction) -> Decimal:
    """The Decimal of an exact fraction: exact where it ends, else to 28 figures.

    >>> as_decimal(Fraction(254, 10)), as_decimal(Fraction(1, 3))
    (Decimal('25.4'), Decimal('0.3333333333333333333333333333'))
    """
    quotient = Decimal(value.numerator) / Decimal(value.denominator)
    if quotient == quotient.to_integral_value() and quotient.adjusted() < 27:
        return quotient.quantize(Decimal(1))
    return quotient.normalize()
