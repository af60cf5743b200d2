"""Papers printed from the book as it stands and not kept: statements, slips, lists, tags."""

from collections.abc import Sequence
from types import SimpleNamespace
from typing import Any

from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.translation import get_language
from django.utils.translation import gettext as _

from orders.papers.pages import address_lines
from orders.papers.snapshot import buyer_of
from orders.queries.statements import Statement
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
        "business_prices_include": business.prices_include_tax,
        "paper": {"words": business.paper_words, "kind": "", "number": ""},
        **more,
    }


def statement_html(account: Statement, business: Business) -> str:
    """One statement of account."""
    return statements_html([account], business)


def statements_html(accounts: Sequence[Statement], business: Business) -> str:
    """Statements one after the other, each on a page of its own."""
    shown = [
        SimpleNamespace(
            account=account,
            buyer=buyer_of(account.customer),
            buyer_lines=address_lines(buyer_of(account.customer)),
        )
        for account in accounts
    ]
    context = base_context(business, _("Statement of account"), accounts=shown)
    return render_to_string("print/statements.html", context)
