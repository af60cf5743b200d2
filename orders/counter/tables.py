"""Tables of orders, customers, designs' findings and prices."""

from functools import cached_property

import django_tables2 as tables
from django.template.loader import render_to_string
from django.utils.html import format_html
from django.utils.safestring import mark_safe
from django.utils.translation import gettext_lazy as _

from orders.making.queries.orders import OrderDrawings, progress_of, progress_words
from orders.models import Customer, Order, Sale
from orders.money.queries.to_pay import ToPay, still_to_pay
from workshop import formats
from workshop.columns import DayColumn, DueColumn
from workshop.drawing import strand_svg
from workshop.sprites import sprite_of

NUMBER = {"td": {"class": "num"}, "th": {"class": "num"}}
HEAD = {"td": {"class": "row-head"}}
WIDE = {"td": {"class": "row-wide"}}


class OrderTable(tables.Table):
    number = tables.Column(
        verbose_name=_("order"),
        linkify=("orders:order_detail", {"number": tables.A("number")}),
        attrs=HEAD,
    )
    customer = tables.Column(verbose_name=_("for"), order_by=("customer__sorts_as",))
    wants = tables.Column(
        verbose_name=_("wants"),
        accessor="pk",
        orderable=False,
        attrs=WIDE,
        exclude_from_export=True,
    )
    stage = tables.Column(verbose_name=_("how far"), attrs=WIDE)
    due_on = DueColumn(accessor="due_on", verbose_name=_("due"))
    total = tables.Column(verbose_name=_("price"), attrs=NUMBER)
    left = tables.Column(
        verbose_name=_("still to pay"), accessor="pk", orderable=False, attrs=NUMBER
    )

    class Meta:
        model = Order
        fields = ("number", "customer", "wants", "stage", "taken_on", "due_on", "total", "left")
        attrs = {"class": "stacking"}
        default = ""

    def before_render(self, request) -> None:
        if not request.user.sees_money:
            self.columns.hide("total")
            self.columns.hide("left")

    @cached_property
    def asked_for(self) -> dict[int, ToPay]:
        """What each order that is shown, or given out, asks for (6 queries)."""
        rows = self.paginated_rows if hasattr(self, "page") else self.rows
        return still_to_pay([row.record for row in rows])

    @property
    def drawings(self) -> OrderDrawings:
        if not hasattr(self, "_drawings"):
            rows = [row.record for row in self.paginated_rows]
            self._drawings = OrderDrawings(rows)
        return self._drawings

    def render_wants(self, record) -> str:
        lines = list(record.lines.all())
        if not lines:
            return ""
        drawn, sprite = self.drawings.of(record), sprite_of(self.request)
        svg = (
            sprite.strand(drawn, width=170)
            if sprite
            else strand_svg(drawn, width=170, prefix=f"o{record.pk}")
        )
        words = ", ".join(f"{line.strands} × {line.design.name}" for line in lines[:2])
        if len(lines) > 2:
            words += f" +{len(lines) - 2}"
        return format_html(
            '<span class="strand">{}</span><span class="soft small">{}</span>',
            mark_safe(svg),
            words,
        )

    def render_stage(self, record) -> str:
        return render_to_string(
            "parts/_progress_strand.html",
            {
                "stages": progress_of(record),
                "words": progress_words(record),
                "request": self.request,
            },
        )

    def value_stage(self, record) -> str:
        return progress_words(record)

    def render_due_on(self, record, value):
        day = formats.date_short(value)
        if (
            record.is_open
            and progress_of(record)[-1][1] != "done"
            and any(state == "late" for _label, state in progress_of(record))
        ):
            return format_html('<span class="late">{}</span>', day)
        return day

    def value_due_on(self, value):
        return value

    def render_total(self, value) -> str:
        return formats.money(value)

    def value_total(self, value):
        return value

    def render_left(self, record) -> str:
        left = self.asked_for[record.pk].left
        return formats.money(left) if left else ""

    def value_left(self, record):
        return self.asked_for[record.pk].left


class SaleTable(tables.Table):
    number = tables.Column(
        verbose_name=_("sale"),
        accessor="order__number",
        linkify=("orders:sale", {"number": tables.A("order__number")}),
        attrs=HEAD,
    )
    on = tables.Column(verbose_name=_("day"), accessor="order__collected_on")
    what = tables.Column(verbose_name=_("what"), accessor="pk", orderable=False, attrs=WIDE)
    customer = tables.Column(verbose_name=_("to"), accessor="order__customer")
    how = tables.Column(
        verbose_name=_("paid"), accessor="payment__get_method_display", order_by="payment__method"
    )
    total = tables.Column(verbose_name=_("sum"), accessor="invoice__total", attrs=NUMBER)

    class Meta:
        model = Sale
        fields = ("number", "on", "what", "customer", "how", "total")
        attrs = {"class": "stacking"}
        default = ""

    def render_what(self, record) -> str:
        return ", ".join(f"{line.strands} × {line.design}" for line in record.order.lines.all())

    def render_total(self, record, value) -> str:
        told = formats.money(value)
        return f"{told} · {_('came back')}" if record.returns.all() else told

    def value_total(self, value):
        return value


class CustomerTable(tables.Table):
    name = tables.Column(
        linkify=("orders:customer_detail", {"pk": tables.A("pk")}), attrs=HEAD, order_by="sorts_as"
    )
    owes = tables.Column(verbose_name=_("owes"), attrs=NUMBER)
    last_on = DayColumn(verbose_name=_("last order"))

    class Meta:
        model = Customer
        fields = ("name", "group", "phone", "owes", "last_on")
        attrs = {"class": "stacking"}
        default = ""

    def render_owes(self, value) -> str:
        return formats.money(value) if value else ""

    def value_owes(self, value):
        return value
