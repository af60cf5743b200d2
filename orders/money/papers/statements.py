"""Statements of account, printed from the book as it stands."""

from collections.abc import Sequence
from types import SimpleNamespace

from django.template.loader import render_to_string
from django.utils.translation import gettext as _

from orders.money.queries.snapshot import buyer_of
from orders.money.queries.statements import Statement
from orders.papers.live import base_context
from orders.papers.pages import address_lines
from workshop.models import Business


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
