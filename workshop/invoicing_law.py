"""Countries that ask for certified or registered invoicing, so that a workshop there is told.

From memory, not a complete list and no legal advice: laws differ and change, and an adviser or the
tax office says what holds. This program is certified nowhere and does not pretend to it.
"""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

CERTIFIED = gettext_lazy("invoices made by a program that the tax office has certified")
REPORTED = gettext_lazy("invoices sent through, or registered with, the tax office")
TILL = gettext_lazy("sales at the counter recorded by an approved till")

# ISO 3166 codes. From memory, as of 2026.
ASKED = {
    "PT": CERTIFIED,
    "FR": CERTIFIED,
    "ES": CERTIFIED,
    "IT": REPORTED,
    "PL": REPORTED,
    "RO": REPORTED,
    "HU": REPORTED,
    "GR": REPORTED,
    "HR": REPORTED,
    "RS": REPORTED,
    "SI": REPORTED,
    "CI": REPORTED,
    "BJ": REPORTED,
    "BF": REPORTED,
    "NE": REPORTED,
    "CM": REPORTED,
    "KE": REPORTED,
    "RW": REPORTED,
    "TZ": REPORTED,
    "UG": REPORTED,
    "GH": REPORTED,
    "NG": REPORTED,
    "ZM": REPORTED,
    "BR": REPORTED,
    "MX": REPORTED,
    "DE": TILL,
    "AT": TILL,
    "BE": TILL,
    "SE": TILL,
    "NO": TILL,
}


def caution(country: str) -> str:
    """What a workshop of a country is told where it issues papers; "" where nothing is known."""
    asked = ASKED.get(country.upper())
    if asked is None:
        return ""
    return _(
        "This country asks for %(asked)s, as far as this program knows. It is not certified or "
        "connected: ask your adviser or the tax office whether papers issued here may be used."
    ) % {"asked": asked}
