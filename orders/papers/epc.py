"""The payment code on an invoice: a QR that a bank's app reads as a transfer in euro.

Source: European Payments Council, EPC069-12 v2.1: lines joined by LF, UTF-8, at most 331 bytes,
error level M, version 13 or lower.
"""

import io
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from stdnum import iban as iban_numbers
from stdnum import iso11649
from stdnum.exceptions import ValidationError

MOST_BYTES = 331
MOST_AMOUNT = Decimal("999999999.99")


class CodeError(ValueError):
    """The payment cannot be written as a code; the text is a whole sentence."""


def transfer_payload(
    *, name: str, iban: str, amount: Decimal, bic: str = "", text: str = "", reference: str = ""
) -> str:
    """The lines of the code; a structured reference (ISO 11649) or plain text, never both.

    >>> lines = transfer_payload(name="Bead Workshop", iban="BE72 0000 0000 1616",
    ...     amount=Decimal("410.89"), reference="RF18539007547034")
    >>> lines.replace(chr(10), "|")
    'BCD|002|1|SCT||Bead Workshop|BE72000000001616|EUR410.89||RF18539007547034'
    """
    compact = checked_iban(iban)
    if not Decimal("0.01") <= amount <= MOST_AMOUNT or amount != round(amount, 2):
        raise CodeError("A payment code holds an amount from 0.01 to 999999999.99 euro.")
    if reference and text:
        raise CodeError("A payment code holds a reference or plain words, not both.")
    lines = [
        "BCD",
        "002",
        "1",
        "SCT",
        bic.replace(" ", ""),
        _one_line(name, 70),
        compact,
        f"EUR{amount:.2f}",
        "",
        checked_reference(reference) if reference else "",
        _one_line(text, 140),
    ]
    payload = "\n".join(lines).rstrip("\n")
    if len(payload.encode()) > MOST_BYTES:
        raise CodeError("The payment code would hold more than 331 bytes; shorten the name.")
    return payload


def checked_iban(iban: str) -> str:
    """An IBAN without spaces; raises CodeError when its check digits are wrong.

    >>> checked_iban("gb82 WEST 1234 5698 7654 32")
    'GB82WEST12345698765432'

    Source: ISO 13616, mod 97-10 of ISO 7064; checked by the python-stdnum library.
    """
    try:
        # Countries check their own part differently; the check digits hold for all.
        return str(iban_numbers.validate(iban, check_country=False))
    except ValidationError as error:
        raise CodeError(
            f"“{iban}” is no IBAN: its check digits do not fit. Copy it again from the bank."
        ) from error


def checked_reference(reference: str) -> str:
    """A structured reference without spaces; raises CodeError when its check digits are wrong.

    >>> checked_reference("rf18 5390 0754 7034")
    'RF18539007547034'

    Source: ISO 11649, mod 97-10 of ISO 7064; checked by the python-stdnum library.
    """
    try:
        return str(iso11649.validate(reference))
    except ValidationError as error:
        raise CodeError(
            f"“{reference}” is no reference of ISO 11649: its check digits do not fit. "
            "Copy it again, or write plain words instead."
        ) from error


def qr_svg(payload: str) -> str:
    """A QR code at error level M as SVG that scales."""
    import segno

    code = segno.make(payload, error="m", micro=False, boost_error=False, version=None)
    out = io.BytesIO()
    code.save(
        out,
        kind="svg",
        xmldecl=False,
        svgns=True,
        border=2,
        dark="#23211c",
        light=None,
        omitsize=True,
        svgclass="code",
        lineclass=None,
    )
    return out.getvalue().decode()


def payment_code_svg(content: Mapping[str, Any]) -> str:
    """The code of an invoice in euro whose workshop has an IBAN; "" where there is none."""
    seller = content["seller"]
    due = Decimal(content.get("sums", {}).get("due", "0"))
    if content["kind"] != "invoice" or content["currency"] != "EUR" or not seller["iban"]:
        return ""
    if due <= 0:
        return ""
    try:
        payload = transfer_payload(
            name=seller["name"],
            iban=seller["iban"],
            bic=seller["bic"],
            amount=due,
            text=content["number"],
        )
    except CodeError:
        return ""
    return qr_svg(payload)


def _one_line(text: str, most: int) -> str:
    return " ".join(text.split())[:most]
