"""How fast papers are printed and accounts are read.

Papers are compared with WeasyPrint printing the same finished page with nothing of ours around it:
an invoice should take at most 1.5 times that, a run of 500 statements 1.3 times. Ageing over
100,000 invoices should take less than half a second. Take the times with
`pytest --benchmark-enable tests/benchmarks/test_paper_speed.py`.
"""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from orders.models import Customer, Document, DocumentFile
from orders.money.papers.files import paper_pdf
from orders.money.papers.statements import statements_html
from orders.money.queries.accounts import ageing
from orders.money.queries.statements import statements
from orders.money.services.papers import issue_invoice
from orders.papers.pages import page
from orders.papers.press import STYLE, VARIANT, _faces, to_pdf
from tests.orders.money.setting import order_of, registered, trader

pytestmark = pytest.mark.django_db

TODAY = date(2026, 3, 31)


def bare(html: str) -> bytes:
    """WeasyPrint by itself: the same page, the same style, the same kind of PDF."""
    import weasyprint

    style = STYLE.read_text(encoding="utf-8") + _faces()
    return weasyprint.HTML(string=html).write_pdf(
        stylesheets=[weasyprint.CSS(string=style)], pdf_variant=VARIANT
    )


@pytest.fixture
def invoice():
    registered(iban="PT50000201231234567890154")
    paper = issue_invoice(order_of(*[(n + 1, "6.50") for n in range(12)]), person=None)
    to_pdf(page(paper.content))  # warm
    return paper


@pytest.mark.papers
@pytest.mark.benchmark(group="an invoice of 12 lines")
def test_an_invoice_by_weasyprint_alone(benchmark, invoice):
    html = page(invoice.content)
    assert benchmark(bare, html).startswith(b"%PDF")


@pytest.mark.papers
@pytest.mark.benchmark(group="an invoice of 12 lines")
def test_an_invoice_from_its_content_to_bytes(benchmark, invoice):
    assert benchmark(lambda: to_pdf(page(invoice.content))).startswith(b"%PDF")


@pytest.mark.papers
@pytest.mark.benchmark(group="an invoice of 12 lines")
def test_an_invoice_served_again(benchmark, invoice):
    first = paper_pdf(invoice)
    assert benchmark(paper_pdf, invoice) == first
    assert DocumentFile.objects.count() == 1


def _owing(customers: int, papers_each: int) -> None:
    """Invoices by the thousand, written straight into the table."""
    Customer.objects.bulk_create(Customer(name=f"Trader {n:05d}") for n in range(customers))
    people = list(Customer.objects.order_by("pk"))
    content = {"taxes": [], "lines": []}
    rows = [
        Document(
            kind=Document.Kind.INVOICE,
            year=1999,
            sequence=place,
            number=f"B{place:06d}",
            issued_on=TODAY - timedelta(days=14 + place % 200),
            due_on=TODAY - timedelta(days=place % 200),
            customer=people[place % customers],
            currency="EUR",
            net=Decimal(100),
            total=Decimal(100),
            # Three quarters are paid, as in a workshop that asks for its money.
            settled=Decimal(25 if place % 4 == 0 else 100),
            content=content,
        )
        for place in range(1, customers * papers_each + 1)
    ]
    Document.objects.bulk_create(rows, batch_size=2000)


@pytest.mark.papers
@pytest.mark.benchmark(group="500 statements", min_rounds=1, max_time=1, warmup=False)
@pytest.mark.parametrize("how", ["weasyprint alone", "from the book"])
def test_statements_of_500_customers_in_one_run(benchmark, how, request):
    business = registered(iban="PT50000201231234567890154")
    count = 500 if request.config.getoption("benchmark_enable", False) else 5
    _owing(count, 4)
    customers = list(Customer.objects.all())
    first_day = TODAY - timedelta(days=365)

    def html() -> str:
        return statements_html(statements(customers, first_day), business)

    if how == "weasyprint alone":
        finished = html()
        pdf = benchmark.pedantic(bare, args=(finished,), rounds=1)
    else:
        pdf = benchmark.pedantic(lambda: to_pdf(html()), rounds=1)
    assert pdf.startswith(b"%PDF")


@pytest.mark.benchmark(group="ageing over 100,000 invoices")
def test_ageing_over_100_000_invoices(benchmark, request):
    registered()
    big = request.config.getoption("benchmark_enable", False)
    _owing(1000 if big else 20, 100 if big else 5)
    rows = benchmark(ageing, TODAY)
    assert len(rows) == Document.objects.open().values("customer").distinct().count()
    owed = sum((row.owed for row in rows), Decimal(0))
    assert owed == Decimal(75) * Document.objects.open().count()


def test_ageing_asks_as_often_for_many_as_for_few():
    registered()

    def queries() -> int:
        with CaptureQueriesContext(
            connection,
        ) as seen:
            ageing(TODAY)
        return len(seen)

    issue_invoice(order_of((1, "2"), customer=trader()), person=None)
    few = queries()
    _owing(30, 5)
    assert queries() == few == 6, "the owner's own steps of age, and five of debts and people"
