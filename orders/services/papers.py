"""Issuing papers, all by one door; each act lives in a module of its own."""

from orders.services.credit_notes import issue_credit_note
from orders.services.invoices import issue_invoice
from orders.services.quotes import issue_quote, quote_stands
from orders.services.receipts import issue_receipt, issue_refund_slip

__all__ = [
    "issue_credit_note",
    "issue_invoice",
    "issue_quote",
    "issue_receipt",
    "issue_refund_slip",
    "quote_stands",
]
