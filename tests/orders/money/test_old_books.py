"""Books from before payments on account: every sum stays, every paper stays as it was issued."""

from datetime import date
from decimal import Decimal as D

import pytest
from django.db import IntegrityError, connection, transaction
from django.db.migrations.executor import MigrationExecutor

from orders.models import Document, Order, Payment
from orders.money.queries.accounts import balance_of
from orders.money.queries.to_pay import to_pay
from orders.money.services.papers import issue_invoice
from orders.papers.pages import page
from workshop.models import Business

BEFORE = [
    ("workshop", "0012_moulds_serve_several_shapes"),
    ("orders", "0013_stall_days"),
]
DAY = date(2026, 3, 2)


def migrate(targets) -> MigrationExecutor:
    executor = MigrationExecutor(connection)
    executor.migrate(targets)
    return executor


def old_book(apps, *, with_tax: bool) -> None:
    """A registered business, an order of 3 × 8.00, 5.00 down, and an old invoice of 10.00."""
    apps.get_model("workshop", "Business").objects.create(
        pk=1, tax_registered=True, tax_number="PT501964843", prices_include_tax=with_tax
    )
    apps.get_model("workshop", "TaxRate").objects.create(
        name="VAT", rate=23, standard=True, category="S", valid_from=date(2020, 1, 1)
    )
    customer = apps.get_model("orders", "Customer").objects.create(name="Marisa", group="walk-in")
    design = apps.get_model("orders", "StrandDesign").objects.create(
        name="Harbour", code="harbour", finished_mm=180
    )
    order = apps.get_model("orders", "Order").objects.create(
        number=7, customer=customer, state="confirmed", taken_on=DAY, total=24
    )
    apps.get_model("orders", "OrderLine").objects.create(
        order=order, design=design, strands=3, price=8
    )
    apps.get_model("orders", "DesignPrice").objects.create(design=design, price=8, valid_from=DAY)
    apps.get_model("orders", "Payment").objects.create(
        customer=customer, order=order, on=DAY, amount=5, unused=5
    )
    content = {
        "version": 1, "kind": "invoice", "number": "INV-2025-0001", "issued_on": "2026-03-02",
        "currency": "EUR", "prices_include_tax": with_tax,
        "seller": {"name": "Old", "address": "", "registered": True, "tax_number": "PT1",
                   "company_number": "", "iban": "", "bic": "", "country": "PT"},
        "buyer": {"name": "Marisa", "address": "", "country": "", "tax_number": ""},
        "lines": [{"design": design.pk, "words": "Harbour", "detail": "", "quantity": 1,
                   "price": "10", "net": "8.13", "category": "S", "rate": "23"}],
        "charges": [], "prepaid": [],
        "taxes": [{"category": "S", "rate": "23", "name": "VAT", "reason": "", "base": "8.13",
                   "tax": "1.87"}],
        "sums": {"lines": "8.13", "net": "8.13", "tax": "1.87", "gross": "10", "rounding": "0",
                 "total": "10", "prepaid": "0", "due": "10", "allowances": "0", "charges": "0"},
    }  # fmt: skip
    apps.get_model("orders", "Document").objects.create(
        kind="invoice", year=2025, sequence=1, number="INV-2025-0001", issued_on=DAY,
        customer=customer, due_on=DAY, currency="EUR", net=D("8.13"), tax=D("1.87"), total=10,
        content=content,
    )  # fmt: skip


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(("with_tax", "asked"), [(True, "19.00"), (False, "24.52")])
def test_an_old_book_keeps_its_sums_and_its_papers(with_tax, asked):
    """3 × 8.00 with VAT, or 24.00 + 23 % = 29.52, less 5.00 that came in before."""
    now = MigrationExecutor(connection).loader.graph.leaf_nodes()
    executor = migrate(BEFORE)
    try:
        old_book(executor.loader.project_state(BEFORE).apps, with_tax=with_tax)
    finally:
        migrate(now)
    business, order = Business.current(), Order.objects.get()
    assert business.tells_with_tax("walk-in") is business.tells_with_tax("trader") is with_tax
    assert to_pay(order).left == D(asked)
    assert Payment.objects.get().unused == 5, "money of before has no paper with VAT"
    assert balance_of(order.customer).balance == 5

    old = Document.objects.get()
    assert (old.total, old.on_account) == (10, False)
    assert "€8.13" in page(old.content), "it prints its amounts as it did"
    for change in ({"total": 11}, {"content": {}}, {"on_account": True}):
        with pytest.raises(IntegrityError), transaction.atomic():
            Document.objects.filter(pk=old.pk).update(**change)

    final = issue_invoice(order, person=None)
    assert final.open_amount == D(asked)
    assert final.content["sums"]["prepaid"] == "5"  # BT-113: paid before, without a paper
