"""Statements of account, printed from the book as it stands."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from types import SimpleNamespace

from django.db.models import QuerySet
from django.template.loader import render_to_string
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from orders.models import Customer
from orders.money.queries.snapshot import buyer_of
from orders.money.queries.statements import Statement, statements
from orders.papers.live import base_context
from orders.papers.long_run import Kind, in_pieces
from orders.papers.pages import address_lines
from workshop.letterhead import language_of, written_to
from workshop.models import Business


def statement_html(account: Statement, business: Business) -> str:
    """One statement of account."""
    return statements_html([account], business)


@written_to(lambda accounts, business: accounts[0].customer if len(accounts) == 1 else None)
def statements_html(accounts: Sequence[Statement], business: Business) -> str:
    """Statements one after the other, each on a page of its own."""
    shown = [
        SimpleNamespace(
            account=account,
            buyer=buyer_of(account.customer),
            buyer_lines=address_lines(buyer_of(account.customer)),
            language=language_of(business, account.customer),
        )
        for account in accounts
    ]
    context = base_context(business, _("Statement of account"), accounts=shown)
    return render_to_string("print/statements.html", context)


AT_ONCE = 20  # statements in one piece


def owing() -> QuerySet[Customer]:
    """Everybody who owes, by name; what they owe is kept beside them."""
    return Customer.objects.filter(owes__gt=0).order_by("sorts_as", "pk")


def _read(said: Mapping[str, str]) -> dict[str, str]:
    days = {name: str(said.get(name, "")) for name in ("first_day", "last_day")}
    for day in days.values():
        date.fromisoformat(day)
    return days


def _count(_asked: dict[str, str]) -> int:
    return -(-owing().count() // AT_ONCE)


def _pages(asked: dict[str, str]) -> Iterator[str]:
    first_day, last_day = (date.fromisoformat(asked[name]) for name in ("first_day", "last_day"))
    business = Business.current()
    for keys in in_pieces(list(owing().values_list("pk", flat=True)), AT_ONCE):
        customers = list(Customer.objects.filter(pk__in=keys).order_by("sorts_as", "pk"))
        yield statements_html(statements(customers, first_day, last_day), business)


STATEMENTS = Kind(gettext_lazy("Statements of account"), _read, _count, _pages)
