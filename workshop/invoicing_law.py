"""Countries that ask for certified or registered invoicing, so that a workshop there is told.

Not a complete list and no legal advice: laws differ and change, and an adviser or the tax office
says what holds. This program is certified nowhere and does not pretend to it.
"""

from dataclasses import dataclass
from decimal import Decimal

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

CERTIFIED = gettext_lazy("invoices made by a program that the tax office has certified")
REPORTED = gettext_lazy("invoices sent through, or registered with, the tax office")
STRUCTURED = gettext_lazy("electronic invoices between businesses, over a network of their own")
TILL = gettext_lazy("sales at the counter recorded by an approved till")


@dataclass(frozen=True)
class Asked:
    """What a country asks for, and by which law; without one it is from memory, as of 2026."""

    what: str | Promise
    law: str = ""


# ISO 3166 codes. The laws named were read in public summaries in 2026; the rest is from memory.
ASKED = {
    "PT": Asked(CERTIFIED, "Código do IRC, art. 123; Portaria 363/2010"),
    "IT": Asked(REPORTED, "Sistema di Interscambio, 2019"),
    "PL": Asked(REPORTED, "KSeF, 2026"),
    "GR": Asked(REPORTED, "myDATA"),
    "BE": Asked(STRUCTURED, "CTVA, art. 53 §2bis, 2026"),
    "DE": Asked(TILL, "§ 146a AO; KassenSichV"),
    "AT": Asked(TILL, "Registrierkassensicherheitsverordnung, 2017"),
    **dict.fromkeys(("FR", "ES"), Asked(CERTIFIED)),
    **dict.fromkeys(("RO", "HU", "HR", "RS", "SI", "BR", "MX"), Asked(REPORTED)),
    **dict.fromkeys(("CI", "BJ", "BF", "NE", "CM", "GH", "NG"), Asked(REPORTED)),
    **dict.fromkeys(("KE", "RW", "TZ", "UG", "ZM"), Asked(REPORTED)),
    **dict.fromkeys(("SE", "NO"), Asked(TILL)),
}


# Up to these sums, VAT included, an invoice may leave out who buys. Article 220a of Directive
# 2006/112/EC lets every state of the Union that far, 238 lets it go further. What it did, as of
# 2026, is from memory: local rules decide, and the owner may write another sum.
EURO_STATES = "AT BE BG CY DE EE ES FI FR GR HR IE IT LT LU LV MT NL PT SI SK"
SHORT_FORM = dict.fromkeys(EURO_STATES.split(), Decimal(100)) | {
    "AT": Decimal(400),
    "DE": Decimal(250),
    "ES": Decimal(400),
    "FR": Decimal(150),
    "IT": Decimal(400),
}


def short_form_up_to(country: str, currency: str) -> Decimal | None:
    """The sum up to which an invoice without a name is enough; None where none is known.

    >>> short_form_up_to("IE", "EUR"), short_form_up_to("DE", "EUR"), short_form_up_to("KE", "KES")
    (Decimal('100'), Decimal('250'), None)
    """
    if currency != "EUR":
        return None
    return SHORT_FORM.get(country.upper(), Decimal(100))


def caution(country: str) -> str:
    """What a workshop of a country is told where it issues papers; "" where nothing is known."""
    asked = ASKED.get(country.upper())
    if asked is None:
        return ""
    return _(
        "This country asks for %(asked)s, as far as this program knows (%(law)s). It is not "
        "certified or connected: ask your adviser or the tax office whether papers issued here "
        "may be used."
    ) % {"asked": asked.what, "law": asked.law or _("from memory")}
