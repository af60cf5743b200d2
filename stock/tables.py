"""Tables of the stock room."""

import django_tables2 as tables
from django.utils.html import format_html
from django.utils.safestring import mark_safe
from django.utils.translation import gettext_lazy as _

from stock.models import (
    BeadBatch,
    BeadMinutes,
    Collector,
    CollectorPrice,
    GlassColour,
    PatternFactor,
    Posting,
    Preparation,
    Sack,
    StockLocation,
)
from workshop import drawing, formats
from workshop.columns import DayColumn
from workshop.doors import if_open

STACKING = {"class": "stacking"}
HEAD = {"td": {"class": "row-head"}}
WIDE = {"td": {"class": "row-wide"}}
BARE = {"td": {"class": "row-bare"}}
BARE_NUMBER = {"td": {"class": "num row-bare"}, "th": {"class": "num"}}
NUMBER = {"td": {"class": "num"}, "th": {"class": "num"}}


def colour_words(colour) -> str:
    """A drop of the colour beside its name; “mixed” where there is none."""
    if colour is None:
        return str(_("mixed"))
    drop = drawing.swatch_svg(colour.swatch)
    return format_html('<span class="swatch">{}</span> {}', mark_safe(drop), colour.name)


class MoneyColumn(tables.Column):
    def render(self, value) -> str:
        return formats.money(value)

    def value(self, value):
        return value


class FactorTable(tables.Table):
    skill = tables.Column(attrs=HEAD, linkify=("stock:factor_change", {"pk": tables.A("pk")}))
    factor = tables.Column(attrs=NUMBER)

    class Meta:
        model = PatternFactor
        attrs = STACKING
        fields = ("skill", "pattern", "factor")

    def render_factor(self, value) -> str:
        return formats.decimal(value, most=4)


class BeadMinutesTable(tables.Table):
    bead = tables.Column(attrs=HEAD, linkify=("stock:bead_minutes_change", {"pk": tables.A("pk")}))
    minutes = tables.Column(attrs=NUMBER)
    piece = MoneyColumn(verbose_name=_("by the piece"), attrs=NUMBER)

    class Meta:
        model = BeadMinutes
        attrs = STACKING
        fields = ("bead", "skill", "minutes", "piece")

    def render_minutes(self, value) -> str:
        return formats.decimal(value, most=4)


class SackTable(tables.Table):
    number = tables.Column(
        verbose_name=_("Sack"), attrs=HEAD, linkify=("stock:sack", {"pk": tables.A("pk")})
    )
    received_on = DayColumn(verbose_name=_("Day"), attrs=BARE)
    collector = tables.Column(verbose_name=_("Collector"), attrs=BARE)
    colour = tables.Column(verbose_name=_("Colour"), empty_values=(), attrs=BARE)
    origin = tables.Column(verbose_name=_("What it is"), attrs=BARE)
    net_g = tables.Column(verbose_name=_("Glass"), attrs=BARE_NUMBER, order_by="gross_g")
    amount = MoneyColumn(verbose_name=_("To pay"), attrs=NUMBER)
    paid_on = tables.Column(verbose_name=_("Paid"), empty_values=())

    class Meta:
        model = Sack
        attrs = STACKING
        fields = (
            "number",
            "received_on",
            "collector",
            "colour",
            "origin",
            "net_g",
            "amount",
            "paid_on",
        )

    def render_colour(self, record):
        words = colour_words(record.colour)
        return format_html("{} · {}", words, record.mark) if record.mark else words

    def value_colour(self, record):
        return str(record.colour or _("mixed"))

    def render_net_g(self, value) -> str:
        return formats.mass(value)

    def value_net_g(self, value):
        return value

    def render_paid_on(self, value, record):
        if record.is_owed:
            return format_html('<span class="tag warm">{}</span>', _("owed"))
        return formats.date_short(value) if value else "–"

    def value_paid_on(self, value):
        return value or ""

    def render_origin(self, value, record):
        if record.held_apart:
            return format_html('{} <span class="tag bad">{}</span>', value, _("held apart"))
        return value


class CollectorTable(tables.Table):
    name = tables.Column(
        order_by="sorts_as",
        verbose_name=_("Name"),
        attrs=HEAD,
        linkify=("stock:collector", {"pk": tables.A("pk")}),
    )
    phone = tables.Column(verbose_name=_("Telephone"), attrs=BARE)
    brought = tables.Column(verbose_name=_("Sacks"), attrs=NUMBER)
    last_on = DayColumn(verbose_name=_("Last"))
    owed = MoneyColumn(verbose_name=_("Owed"), attrs=NUMBER)

    class Meta:
        model = Collector
        attrs = STACKING
        fields = ("name", "phone", "brought", "last_on", "owed")


class CollectorPriceTable(tables.Table):
    colour = tables.Column(
        verbose_name=_("Colour"),
        attrs=HEAD,
        linkify=if_open("stock:collector_price_change"),
    )
    collector = tables.Column(verbose_name=_("For"), empty_values=())
    price_per_kg = MoneyColumn(verbose_name=_("Per kg"), attrs=NUMBER)
    valid_from = DayColumn(verbose_name=_("From"))

    class Meta:
        model = CollectorPrice
        attrs = STACKING
        fields = ("colour", "collector", "price_per_kg", "valid_from")

    def render_collector(self, value):
        return value or _("everyone")

    def value_collector(self, value):
        return str(value or "")


class ColourTable(tables.Table):
    name = tables.Column(
        order_by="sorts_as",
        verbose_name=_("Colour"),
        attrs=HEAD,
        linkify=if_open("stock:colour_change"),
    )
    price_per_kg = MoneyColumn(verbose_name=_("Raw, per kg"), attrs=NUMBER)
    washing_yield = tables.Column(verbose_name=_("Washed"), attrs=NUMBER)
    powder_yield = tables.Column(verbose_name=_("Powder"), attrs=NUMBER)
    chunk_yield = tables.Column(verbose_name=_("Chunks"), attrs=NUMBER)
    reorder_g = tables.Column(verbose_name=_("Collect below"), attrs=NUMBER)

    class Meta:
        model = GlassColour
        attrs = STACKING
        fields = (
            "name",
            "price_per_kg",
            "washing_yield",
            "powder_yield",
            "chunk_yield",
            "reorder_g",
        )

    def render_name(self, value, record):
        return colour_words(record)

    def value_name(self, value):
        return value

    def render_washing_yield(self, value) -> str:
        return formats.percent(value)

    def render_powder_yield(self, value) -> str:
        return formats.percent(value)

    def render_chunk_yield(self, value) -> str:
        return formats.percent(value)

    def render_reorder_g(self, value) -> str:
        return formats.mass(value) if value else "–"


class PreparationTable(tables.Table):
    number = tables.Column(
        verbose_name=_("Preparation"),
        attrs=HEAD,
        linkify=("stock:preparation", {"pk": tables.A("pk")}),
    )
    done_on = DayColumn(verbose_name=_("Day"), attrs=BARE)
    form = tables.Column(verbose_name=_("Into"), attrs=BARE)
    went_in = tables.Column(verbose_name=_("In"), attrs=NUMBER)
    came_out = tables.Column(verbose_name=_("Out"), attrs=NUMBER)
    left = tables.Column(verbose_name=_("Left"), attrs=NUMBER, empty_values=(), orderable=False)
    hand = tables.Column(verbose_name=_("By"), attrs=BARE)
    minutes = tables.Column(verbose_name=_("Minutes"), attrs=NUMBER)

    class Meta:
        model = Preparation
        attrs = STACKING
        fields = ("number", "done_on", "form", "went_in", "came_out", "left", "hand", "minutes")

    def render_went_in(self, value) -> str:
        return formats.mass(value / 1000)

    def render_came_out(self, value) -> str:
        return formats.mass(value / 1000)

    def render_left(self, record) -> str:
        return formats.percent(record.came_out / record.went_in) if record.went_in else "–"

    def value_left(self, record):
        return round(record.came_out / record.went_in, 4) if record.went_in else ""


class BatchTable(tables.Table):
    number = tables.Column(
        verbose_name=_("Batch"), attrs=HEAD, linkify=("stock:batch", {"pk": tables.A("pk")})
    )
    bead = tables.Column(verbose_name=_("Bead"), attrs=BARE)
    made_on = DayColumn(verbose_name=_("Made"), attrs=BARE)
    started = tables.Column(verbose_name=_("Started"), attrs=NUMBER)
    good = tables.Column(verbose_name=_("Good"), attrs=NUMBER)
    rejected = tables.Column(verbose_name=_("Rejects"), attrs=NUMBER)
    left = tables.Column(verbose_name=_("On the shelf"), attrs=NUMBER)
    under_way = tables.Column(verbose_name=_("Under way"), attrs=NUMBER)

    class Meta:
        model = BeadBatch
        attrs = STACKING
        fields = (
            "number",
            "bead",
            "made_on",
            "started",
            "good",
            "rejected",
            "left",
            "under_way",
        )


class PostingTable(tables.Table):
    id = tables.Column(
        verbose_name=_("Posting"), attrs=HEAD, linkify=("stock:posting", {"pk": tables.A("pk")})
    )
    on = DayColumn(verbose_name=_("Day"), attrs=BARE)
    kind = tables.Column(verbose_name=_("What"), attrs=BARE)
    why = tables.Column(verbose_name=_("Why"), attrs=WIDE)
    person = tables.Column(verbose_name=_("Who"), attrs=BARE)
    belongs_ref = tables.Column(verbose_name=_("Belongs to"), empty_values=(), orderable=False)

    class Meta:
        model = Posting
        attrs = STACKING
        fields = ("id", "on", "kind", "why", "person", "belongs_ref")

    def render_belongs_ref(self, record) -> str:
        return f"{record.belongs_kind} {record.belongs_ref}".strip()


class PlaceTable(tables.Table):
    name = tables.Column(
        verbose_name=_("Place"),
        attrs=HEAD,
        linkify=lambda record, table: (
            None if record.code else if_open("stock:place_change")(record, table)
        ),
    )
    kind = tables.Column(verbose_name=_("Kind"))

    class Meta:
        model = StockLocation
        attrs = STACKING
        fields = ("name", "kind")
