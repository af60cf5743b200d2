"""Issuing papers, all by one door; each act lives in a module of its own."""

from orders.money.services.credit_notes import issue_credit_note
from orders.money.services.invoices import issue_invoice
from orders.money.services.quotes import issue_quote, quote_stands
from orders.money.services.receipts import issue_receipt, issue_refund_slip

__all__ = [
    "issue_credit_note",
    "issue_invoice",
    "issue_quote",
    "issue_receipt",
    "issue_refund_slip",
    "quote_stands",
]
