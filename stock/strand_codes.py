"""The code on the tag of one strand: its stringing, its place there, two check digits."""

import re

TAGS_AT_ONCE = 96  # printed in one go: twelve sheets of eight
_CODE = re.compile(r"(\d{1,12})\s*[-. ]\s*(\d{1,4})\s*[-. ]\s*(\d{2})")


def strand_code(posting: int, place: int) -> str:
    """The code of the `place`-th strand of a stringing, the first being 1.

    >>> strand_code(1042, 3)
    '1042-3-85'
    """
    return f"{posting}-{place}-{check_digits(_digits(posting, place)):02d}"


def read_code(text: str) -> tuple[int, int] | None:
    """Stringing and place of a code as it was typed; None where it is none, or mistyped.

    >>> read_code(" 1042 3 85 "), read_code("1042-8-85")
    ((1042, 3), None)
    """
    found = _CODE.fullmatch(text.strip())
    if found is None:
        return None
    posting, place, check = map(int, found.groups())
    if not place or check != check_digits(_digits(posting, place)):
        return None
    return posting, place


def _digits(posting: int, place: int) -> str:
    return f"{posting}{place:04d}"


def check_digits(digits: str) -> int:
    """Two check digits that notice a wrong digit and two that changed places.

    Source: ISO/IEC 7064, MOD 97-10, as the check digits of an IBAN (ISO 13616).
    """
    return 98 - int(digits + "00") % 97
