"""The workshop as it is written on papers."""

from typing import Any

from django.utils.translation import get_language

from workshop.models import Business


def party_of(business: Business) -> dict[str, Any]:
    """Who issues a paper, frozen as it is today; without registration no tax number is told."""
    registered = business.tax_registered
    return {
        "name": business.name,
        "address": business.address,
        "email": business.email,
        "phone": business.phone,
        "country": business.country,
        "registered": registered,
        "tax_number": business.tax_number if registered else "",
        "tax_name": business.tax_name,
        "company_number": business.company_number,
        "iban": business.iban,
        "bic": business.bic,
        "invented": business.invented,
    }


def head_of(business: Business) -> dict[str, Any]:
    """How any paper is written today, frozen: money, language, sheet, units and issuer."""
    return {
        "currency": business.currency,
        "language": get_language() or "en",
        "country": business.country,
        "paper_size": business.paper_size,
        "units": [business.length_unit, business.mass_unit],
        "seller": party_of(business),
    }
