"""Paper content into finished HTML: the paper's own language, numbers its country's way."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from types import SimpleNamespace
from typing import Any

from django.template.loader import render_to_string
from django.utils import translation
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _
from django.utils.translation import pgettext

from orders.drawn.titles import titled
from orders.models import Payment
from orders.papers.epc import payment_code_svg
from workshop.formats import decimal, locale, price_each, written_as

PHOTO = '<img class="photo" src="{}" alt="{}">'


def photo_html(address: str | None, title: str) -> SafeString:
    """A photograph that papers show, from the address that holds it; "" where there is none."""
    # Safe when it is nothing too, or the drawing it is set beside would be written out as words.
    return format_html(PHOTO, address, title) if address else SafeString()


TEMPLATES = {
    "quote": "print/quote.html",
    "invoice": "print/invoice.html",
    "credit": "print/credit.html",
    "receipt": "print/receipt.html",
    "refund": "print/receipt.html",
}
ROLL_TEMPLATES = {
    "invoice": "print/invoice_roll.html",
    "receipt": "print/receipt_roll.html",
    "refund": "print/receipt_roll.html",
}


@dataclass(frozen=True)
class Line:
    """A printed line: its picture once per design, its words and amounts.

    amount   as prices are told: with VAT on a paper whose prices include it
    counted  so many at a price each; a payment on account is neither
    """

    words: str
    detail: str
    quantity: int
    price: str
    amount: Decimal
    picture: str
    tax: str
    counted: bool = True


@contextmanager
def as_written(content: Mapping[str, Any]) -> Iterator[None]:
    """Within it, words and numbers are the paper's own, whoever prints it and when."""
    length_unit, mass_unit = content.get("units") or ("cm", "kg")
    habits = SimpleNamespace(
        currency=content["currency"],
        country=content.get("country", ""),
        length_unit=length_unit,
        mass_unit=mass_unit,
    )
    with translation.override(content.get("language") or "en"), written_as(habits):
        yield


def page(content: Mapping[str, Any], *, roll: bool = False) -> str:
    """The HTML of an issued paper, from its frozen content alone."""
    kind = content["kind"]
    template = (ROLL_TEMPLATES if roll else TEMPLATES)[kind]
    with as_written(content):
        return render_to_string(template, {"paper": content, **_words_for(content)})


def slip_page(content: Mapping[str, Any]) -> str:
    """The HTML of a pay slip, from its frozen content alone."""
    with as_written(content):
        context = {
            "paper": {"number": content["number"]},
            "slip": content,
            "title": _("Pay slip"),
            "language": content.get("language") or "en",
            "size": content.get("paper_size", "A4"),
            "currency": content["currency"],
            "seller": content["seller"],
            "seller_lines": address_lines(content["seller"]),
            "issued_on": day(content["issued_on"]),
            "first_day": day(content["first_day"]),
            "last_day": day(content["last_day"]),
            "least": Decimal(content["least"]),
            "top_up": Decimal(content["top_up"]),
            "lines": [
                {
                    **line,
                    "on": day(line["on"]),
                    "rate": price(Decimal(line["rate"]), content["currency"]),
                }
                for line in content["lines"]
            ],
        }
        return render_to_string("print/pay_slip.html", context)


def payout_page(content: Mapping[str, Any]) -> str:
    """The HTML of a collector's slip, from its frozen content alone."""
    currency = content["currency"]
    with as_written(content):
        context = {
            "paper": {"number": content["number"]},
            "slip": content,
            "title": _("Collector’s slip"),
            "language": content["language"],
            "size": content["paper_size"],
            "currency": currency,
            "seller": content["seller"],
            "seller_lines": address_lines(content["seller"]),
            "issued_on": day(content["issued_on"]),
            "paid_on": day(content["paid_on"]),
            "total": Decimal(content["total"]),
            "mass_g": sum(line["net_g"] for line in content["lines"]),
            "lines": [
                {**line, "on": day(line["on"]), "price": price(Decimal(line["price"]), currency)}
                for line in content["lines"]
            ],
        }
        return render_to_string("print/payout_slip.html", context)


def _words_for(content: Mapping[str, Any]) -> dict[str, Any]:
    seller = content["seller"]
    taxed = bool(seller["registered"])
    vat = seller.get("tax_name") or "VAT"
    gross = taxed and told_with_tax(content)
    lines = _lines(content, vat if taxed else "", gross=gross)
    return {
        "title": _title(content),
        "language": content.get("language") or "en",
        "size": content.get("paper_size", "A4"),
        "currency": content["currency"],
        "seller": seller,
        "seller_lines": address_lines(seller),
        "buyer": content["buyer"],
        "buyer_lines": address_lines(content["buyer"]),
        "issued_on": day(content["issued_on"]),
        "due_on": day(content.get("due_on")),
        "supplied_on": day(content.get("supplied_on")),
        "promised_on": day(content.get("promised_on")),
        "received_on": day(content.get("received_on")),
        "on_account": bool(content.get("on_account")),
        "short": bool(content.get("short")),
        "taxed": taxed,
        "gross": gross,
        "mixed_tax": taxed and len({line.tax for line in lines}) > 1,
        "lines": lines,
        "goods": sum((line.amount for line in lines), Decimal(0)),
        "charges": [
            {
                "words": each.get("words") or _charge_word(each["role"]),
                "signed": Decimal(each["amount" if gross else "net"])
                * (-1 if each["role"] == "discount" else 1),
            }
            for each in content.get("charges", ())
        ],
        "taxes": [_tax_words(tax, vat) for tax in content.get("taxes", ())] if taxed else [],
        "sums": {name: Decimal(value) for name, value in content.get("sums", {}).items()},
        "prepaid": [
            {
                **each,
                "on": day(each["on"]),
                "taken_off": -Decimal(each["amount"]),
                "how": method(each["method"]),
            }
            for each in content.get("prepaid", ())
        ],
        "paid_by": method(content["paid_by"]) if content.get("paid_by") else "",
        "payment": _payment(content.get("payment")),
        "settles": [
            {**each, "kind": each.get("kind", ""), "amount": Decimal(each["amount"])}
            for each in content.get("settles", ())
        ],
        "held": Decimal(content.get("held", "0")),
        "balance": Decimal(content.get("balance", "0")),
        "credit": -Decimal(content.get("balance", "0")),
        "deposit": Decimal(content.get("deposit", "0")),
        "code": mark_safe(payment_code_svg(content)),
    }


def told_with_tax(content: Mapping[str, Any]) -> bool:
    """Whether amounts are printed with VAT; papers before version 2 kept them without it only."""
    return bool(content.get("prices_include_tax")) and content.get("version", 1) >= 2


def _title(content: Mapping[str, Any]) -> str:
    if content.get("on_account"):
        return pgettext("paper", "Invoice for a payment on account")
    words = {
        "quote": pgettext("paper", "Quote"),
        "invoice": pgettext("paper", "Invoice"),
        "credit": pgettext("paper", "Credit note"),
        "receipt": pgettext("paper", "Receipt"),
        "refund": pgettext("paper", "Money given back"),
    }
    if content.get("short") and content["seller"]["registered"]:
        return pgettext("paper", "Simplified invoice")
    return words[content["kind"]]


def _lines(content: Mapping[str, Any], vat: str, *, gross: bool) -> list[Line]:
    """The lines of a paper, amounts as they are told."""
    pictures = dict(content.get("drawings", {}))
    lines = []
    for each in content.get("lines", ()):
        # A design listed twice is drawn once.
        picture = pictures.pop(str(each["design"]), "")
        amount = Decimal(each["amount" if gross else "net"])
        lines.append(
            Line(
                each["words"],
                each.get("detail", ""),
                each["quantity"],
                price(Decimal(each["price"]), content["currency"]),
                amount,
                mark_safe(titled(picture, each["words"])),
                rate_words(Decimal(each["rate"]), vat) if vat else "",
                counted=each["design"] is not None,
            )
        )
    return lines


def price(amount: Decimal, currency: str) -> str:
    """A price each, with all its decimals: a price may be finer than the smallest coin."""
    return price_each(amount, currency)


def _tax_words(tax: Mapping[str, Any], vat: str) -> dict[str, Any]:
    return {
        "words": rate_words(Decimal(tax["rate"]), vat),
        "name": tax.get("name", ""),
        "reason": tax.get("reason", ""),
        "base": Decimal(tax["base"]),
        "tax": Decimal(tax["tax"]),
        "rate": Decimal(tax["rate"]),
    }


def rate_words(rate: Decimal, vat: str) -> str:
    """A rate of VAT by the name VAT has here: VAT 23 %."""
    return _("%(vat)s %(rate)s %%") % {"vat": vat, "rate": decimal(rate, 0, 2)}


def _charge_word(role: str) -> str:
    return _("Discount") if role == "discount" else _("Carriage")


def _payment(payment: Mapping[str, Any] | None) -> dict[str, Any] | None:
    if payment is None:
        return None
    amounts = {name: Decimal(payment[name]) for name in ("amount", "rounding", "handed_over")}
    return {
        **payment,
        **amounts,
        "on": day(payment.get("on")),
        "how": method(payment["method"]),
    }


def method(value: str) -> str:
    """How money moved, in words."""
    return str(Payment.Method(value).label)


def address_lines(party: Mapping[str, Any]) -> list[str]:
    """An address line by line, its country in words last."""
    lines = [line.strip() for line in party["address"].splitlines() if line.strip()]
    country = (party.get("country") or "").upper()
    named = locale().territories.get(country, country)
    return lines + ([named] if named and named not in lines else [])


def day(value: str | None) -> date | None:
    """A day from its ISO text."""
    return date.fromisoformat(value) if value else None
