"""Tables of the designs' findings and prices."""

import django_tables2 as tables
from django.utils.translation import gettext_lazy as _

from orders.models import DesignPrice, Finding, QuantityBreak
from workshop import formats
from workshop.columns import DayColumn
from workshop.doors import if_open

NUMBER = {"td": {"class": "num"}, "th": {"class": "num"}}
HEAD = {"td": {"class": "row-head"}}
WIDE = {"td": {"class": "row-wide"}}


class FindingTable(tables.Table):
    name = tables.Column(linkify=if_open("orders:design_finding_change"), attrs=HEAD)
    length_mm = tables.Column(verbose_name=_("on the cord"), attrs=NUMBER)
    across_mm = tables.Column(verbose_name=_("across"), attrs=NUMBER)
    price = tables.Column(attrs=NUMBER)

    class Meta:
        model = Finding
        fields = ("name", "kind", "length_mm", "across_mm", "price")
        attrs = {"class": "stacking"}
        default = ""

    def render_length_mm(self, value) -> str:
        return formats.mm(value) if value else ""

    def render_across_mm(self, value) -> str:
        return formats.mm(value) if value else ""

    def render_price(self, value, record) -> str:
        each = formats.money(value)
        return f"{each} / m" if record.kind == Finding.Kind.CORD else each

    def value_price(self, value):
        return value


class PriceTable(tables.Table):
    design = tables.Column(linkify=if_open("orders:design_price_change"), attrs=HEAD)
    who = tables.Column(verbose_name=_("for"), accessor="group", empty_values=())
    from_strands = tables.Column(verbose_name=_("from"), attrs=NUMBER)
    price = tables.Column(attrs=NUMBER)
    valid_from = DayColumn(verbose_name=_("since"))

    class Meta:
        model = DesignPrice
        fields = ("design", "who", "from_strands", "price", "valid_from")
        attrs = {"class": "stacking"}
        default = ""

    def render_who(self, record) -> str:
        if record.customer_id is not None:
            return str(record.customer)
        return str(record.get_group_display() or _("everybody"))

    def render_price(self, value) -> str:
        return formats.money(value)

    def value_price(self, value):
        return value


class BreakTable(tables.Table):
    who = tables.Column(
        verbose_name=_("for"),
        accessor="group",
        empty_values=(),
        linkify=if_open("orders:design_break_change"),
        attrs=HEAD,
    )
    from_strands = tables.Column(verbose_name=_("from"), attrs=NUMBER)
    off = tables.Column(verbose_name=_("off"), attrs=NUMBER)
    valid_from = DayColumn(verbose_name=_("since"))

    class Meta:
        model = QuantityBreak
        fields = ("who", "from_strands", "off", "valid_from")
        attrs = {"class": "stacking"}
        default = ""

    def render_who(self, record) -> str:
        return str(record.get_group_display() if record.group else _("everybody"))

    def render_from_strands(self, value) -> str:
        return formats.count(value)

    def value_from_strands(self, value):
        return value

    def render_off(self, value) -> str:
        return formats.percent(value)

    def value_off(self, value):
        return value
