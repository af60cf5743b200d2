"""Papers printed from the book as it stands and not kept: statements, slips, lists, tags."""

from typing import Any

from django.utils import timezone
from django.utils.translation import get_language

from orders.papers.pages import address_lines
from workshop.letterhead import party_of
from workshop.models import Business


def base_context(business: Business, title: str, **more: Any) -> dict[str, Any]:
    """What every such paper is given."""
    seller = party_of(business)
    return {
        "title": title,
        "language": get_language() or "en",
        "size": business.paper_size,
        "currency": business.currency,
        "seller": seller,
        "seller_lines": address_lines(seller),
        "issued_on": timezone.localdate(),
        "taxed": business.tax_registered,
        "paper": {"words": business.paper_words, "kind": "", "number": ""},
        **more,
    }
