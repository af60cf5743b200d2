"""The payment code and the account number it holds.

Sources: EPC069-12 v2.1 (lines, 331 bytes, level M, version 13 at most); ISO 13616 and ISO 7064 mod
97-10 with their published examples.
"""

import re
from decimal import Decimal

import pytest

from orders.papers.epc import (
    CodeError,
    checked_iban,
    checked_reference,
    payment_code_svg,
    qr_svg,
    transfer_payload,
)

SAMPLE = "BCD|002|1|SCT||Bead Workshop|BE72000000001616|EUR410.89||RF18539007547034"


def test_the_sample_payload_is_73_bytes_and_a_qr_of_version_5_m():
    import segno

    payload = transfer_payload(
        name="Bead Workshop",
        iban="BE72000000001616",
        amount=Decimal("410.89"),
        reference="RF18539007547034",
    )
    assert payload == SAMPLE.replace("|", "\n")
    assert len(payload.encode()) == 73
    assert segno.make(payload, error="m", boost_error=False).designator == "5-M"


@pytest.mark.parametrize(
    "iban",
    ["GB82WEST12345698765432", "DE89370400440532013000", "FR1420041010050500013M02606"],
)
def test_published_account_numbers_have_right_check_digits(iban):
    assert checked_iban(iban) == iban
    digits = "".join(str(int(sign, 36)) for sign in iban[4:] + iban[:4])
    assert int(digits) % 97 == 1


def test_a_slip_of_the_finger_in_an_account_number_is_noticed():
    with pytest.raises(CodeError, match="check digits do not fit"):
        checked_iban("GB82WEST12345698765423")


@pytest.mark.parametrize("amount", ["0", "-1", "1000000000", "1.005"])
def test_an_amount_the_code_cannot_hold_is_refused(amount):
    with pytest.raises(CodeError, match=r"0\.01 to 999999999\.99"):
        transfer_payload(name="A", iban="BE72000000001616", amount=Decimal(amount))


def test_a_name_with_a_line_end_cannot_add_lines_of_its_own():
    payload = transfer_payload(
        name="Bead\nWorkshop", iban="BE72000000001616", amount=Decimal(1), text="INV\n9"
    )
    assert payload.split("\n")[5] == "Bead Workshop"
    assert payload.split("\n")[10] == "INV 9"


def invoice_content(**given):
    seller = {"name": "Bead Workshop", "iban": "BE72000000001616", "bic": ""}
    content = {"kind": "invoice", "currency": "EUR", "number": "INV-1", "sums": {"due": "10"}}
    return content | {"seller": seller} | given


def test_only_an_invoice_in_euro_with_something_to_pay_carries_a_code():
    assert payment_code_svg(invoice_content()).startswith("<svg")
    assert payment_code_svg(invoice_content(currency="GBP")) == ""
    assert payment_code_svg(invoice_content(kind="credit")) == ""
    assert payment_code_svg(invoice_content(sums={"due": "0"})) == ""
    seller = {"name": "A", "iban": "", "bic": ""}
    assert payment_code_svg(invoice_content(seller=seller)) == ""


def dark_modules(svg: str) -> set[tuple[int, int]]:
    """The dark squares that a drawing shows, read back from its path."""
    x, y, dark = 0.0, 0.0, set()
    path = re.search(r' d="([^"]+)"', svg)[1]
    for act, first, second in re.findall(r"([Mmh])(-?[\d.]+)(?:[ ,](-?[\d.]+))?", path):
        if act == "h":
            dark |= {(int(x) + step, int(y)) for step in range(int(first))}
            x += float(first)
        elif act == "M":
            x, y = float(first), float(second)
        else:
            x, y = x + float(first), y + float(second)
    return dark


def test_what_is_drawn_is_the_code_of_the_payload():
    import segno

    payload = SAMPLE.replace("|", "\n")
    code = segno.make(payload, error="m", boost_error=False, micro=False)
    assert (code.error, code.version) == ("M", 5)
    rows = enumerate(code.matrix)
    expected = {(c + 2, r + 2) for r, row in rows for c, module in enumerate(row) if module}
    assert dark_modules(qr_svg(payload)) == expected
    assert dark_modules(qr_svg(payload + " ")) != expected


@pytest.mark.parametrize(
    "reference", ["RF18539007547034", "RF18 5390 0754 7034", "RF185390075470Y"]
)
def test_published_references_have_right_check_digits(reference):
    # ISO 11649: the sample of EPC069-12, and the examples that python-stdnum prints.
    assert checked_reference(reference) == reference.replace(" ", "")


@pytest.mark.parametrize("reference", ["RF19539007547034", "RF18539007547043", "INV-2026-0001"])
def test_a_reference_whose_check_digits_do_not_fit_makes_no_code(reference):
    with pytest.raises(CodeError, match="check digits do not fit"):
        transfer_payload(
            name="Bead Workshop",
            iban="BE72000000001616",
            amount=Decimal("410.89"),
            reference=reference,
        )
