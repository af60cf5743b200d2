"""Tables of the money room."""

import django_tables2 as tables
from django.utils.translation import gettext_lazy as _

from orders.models import Document, Payment
from workshop import formats
from workshop.columns import DayColumn, DueColumn
from workshop.tables import HEAD, NUMBER, STACKING


class PaperTable(tables.Table):
    """Issued papers; what is open stands only on those that ask for money."""

    number = tables.Column(attrs=HEAD, linkify=("orders:paper", {"pk": tables.A("pk")}))
    issued_on = DayColumn(verbose_name=_("issued"))
    due_on = DueColumn(accessor="due_on", verbose_name=_("due"), default="")
    total = tables.Column(attrs=NUMBER)
    open = tables.Column(
        verbose_name=_("open"), accessor="open_amount", attrs=NUMBER, orderable=False
    )

    class Meta:
        model = Document
        attrs = STACKING
        fields = ("number", "kind", "customer", "issued_on", "due_on", "total", "open")

    def render_total(self, value, record) -> str:
        return formats.money(value, record.currency)

    def render_open(self, value, record) -> str:
        owing = record.kind in Document.OWING and value
        return formats.money(value, record.currency) if owing else ""

    def value_total(self, value):
        return value

    def value_open(self, value):
        return value


class PaymentTable(tables.Table):
    """Money in and back."""

    reference = tables.Column(default="")
    on = DayColumn(attrs=HEAD, linkify=("orders:payment", {"pk": tables.A("pk")}))
    amount = tables.Column(attrs=NUMBER)
    unused = tables.Column(verbose_name=_("not yet used"), attrs=NUMBER)

    class Meta:
        model = Payment
        attrs = STACKING
        fields = ("on", "customer", "method", "reference", "amount", "unused")

    def render_amount(self, value) -> str:
        return formats.money(value)

    def render_unused(self, value) -> str:
        return formats.money(value) if value else ""

    def value_amount(self, value):
        return value

    def value_unused(self, value):
        return value
