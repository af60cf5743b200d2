"""What was typed or pasted, before anything else reads it: its signs and its whole numbers."""

import re
from typing import Any

# Control characters but tab and line ends, lone surrogates, and the noncharacters: what XML 1.0
# (2.2, Char) and the Unicode Standard (23.7) keep out of text, so that no paper can carry it.
_PLANES = "".join(chr((plane << 16) + last) for plane in range(17) for last in (0xFFFE, 0xFFFF))
_UNFIT = re.compile(
    f"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x84\x86-\x9f\ud800-\udfff\ufdd0-\ufdef{_PLANES}]"
)
# Keys and counts of the database; a page of any of them comes long before.
LARGEST_WHOLE = 2**31 - 1


def plain_text(text: str) -> str:
    """The text without the signs that cannot be seen and that no paper can carry.

    >>> plain_text("Marisa\\x00 Orlo\\x1b\\ufffe, 12 °C\\n")
    'Marisa Orlo, 12 °C\\n'
    """
    return _UNFIT.sub("", text)


def whole_number(text: Any, most: int = LARGEST_WHOLE) -> int | None:
    """The whole number that a text of plain digits is; None for any other text, or too large.

    >>> whole_number("214"), whole_number("²"), whole_number("9" * 5000), whole_number(None)
    (214, None, None, None)
    """
    said = str(text or "")
    if not (said.isascii() and said.isdecimal() and len(said) <= len(str(most))):
        return None
    number = int(said)
    return number if number <= most else None
