"""Tables of the workshop's own facts."""

import django_tables2 as tables
from django.urls import reverse
from django.utils.html import format_html
from django.utils.translation import gettext, pgettext_lazy
from django.utils.translation import gettext_lazy as _

from workshop import formats
from workshop.columns import DayColumn
from workshop.doors import if_open
from workshop.log_words import changes, subject
from workshop.models import (
    AuditEntry,
    ClosedDay,
    Kiln,
    LabourRate,
    Mould,
    Person,
    Programme,
    StandingCost,
    TaxRate,
    WorkingHours,
)

STACKING = {"class": "stacking"}
HEAD = {"td": {"class": "row-head"}}
NUMBER = {"td": {"class": "num"}, "th": {"class": "num"}}


class KilnTable(tables.Table):
    name = tables.Column(attrs=HEAD, linkify=if_open("workshop:kiln_change"))
    places = tables.Column(attrs=NUMBER)
    range = tables.Column(verbose_name=_("temperatures"), accessor="lowest_c", attrs=NUMBER)
    way = tables.Column(verbose_name=pgettext_lazy("way of working", "works"))
    preheat_min = tables.Column(verbose_name=_("preheat or warm-up"), attrs=NUMBER)
    cooling_min = tables.Column(verbose_name=_("cooling or change"), attrs=NUMBER)

    class Meta:
        model = Kiln
        attrs = STACKING
        fields = ("name", "places", "range", "way", "preheat_min", "cooling_min", "fuel", "in_use")

    def render_range(self, record) -> str:
        return f"{record.lowest_c}–{record.highest_c} °C"

    def render_way(self, record) -> str:
        return _("kept hot") if record.is_kept_hot else _("closed")

    def render_preheat_min(self, record) -> str:
        return formats.minutes(record.warm_up_min if record.is_kept_hot else record.preheat_min)

    def render_cooling_min(self, record) -> str:
        return formats.minutes(record.change_min if record.is_kept_hot else record.cooling_min)


class ProgrammeTable(tables.Table):
    name = tables.Column(attrs=HEAD, linkify=if_open("workshop:programme_change"))
    hold_c = tables.Column(verbose_name=_("held at"), attrs=NUMBER)
    hold_min = tables.Column(verbose_name=pgettext_lazy("minutes", "for"), attrs=NUMBER)
    window = tables.Column(verbose_name=_("may share"), accessor="from_c", attrs=NUMBER)
    ask = tables.Column(
        verbose_name=_("advice"), accessor="pk", orderable=False, exclude_from_export=True
    )

    class Meta:
        model = Programme
        attrs = STACKING
        fields = ("name", "kind", "hold_c", "hold_min", "window", "in_use", "ask")

    def render_ask(self, record):
        url = reverse("orders:firing_advice", query={"programme": record.pk})
        return format_html('<a href="{}">{}</a>', url, _("Will it fuse?"))

    def render_hold_c(self, value) -> str:
        return f"{value} °C"

    def render_hold_min(self, value) -> str:
        return formats.minutes(value)

    def render_window(self, record) -> str:
        return f"{record.from_c}–{record.to_c} °C, {record.from_min}–{record.to_min} min"


class MouldTable(tables.Table):
    name = tables.Column(attrs=HEAD, linkify=if_open("workshop:mould_change"))
    bead_across_mm = tables.Column(verbose_name=_("bead across"), attrs=NUMBER)
    cavities = tables.Column(attrs=NUMBER)
    owned = tables.Column(verbose_name=_("owned"), attrs=NUMBER)
    places = tables.Column(verbose_name=_("places"), attrs=NUMBER)
    clay_g = tables.Column(verbose_name=_("clay"), attrs=NUMBER)
    gone = tables.Column(
        verbose_name=_("act"), empty_values=(), orderable=False, linkify=if_open("stock:mould")
    )

    class Meta:
        model = Mould
        attrs = STACKING
        fields = ("name", "shape", "bead_across_mm", "cavities", "owned", "places", "clay_g")

    def render_gone(self) -> str:
        return gettext("One has gone")

    def render_shape(self, value) -> str:
        return value.replace("_", " ")

    def render_bead_across_mm(self, value) -> str:
        return formats.mm(value)

    def render_clay_g(self, value) -> str:
        return formats.mass(value)


class HoursTable(tables.Table):
    weekday = tables.Column(attrs=HEAD, linkify=("workshop:hours_change", {"pk": tables.A("pk")}))

    class Meta:
        model = WorkingHours
        attrs = STACKING
        fields = ("weekday", "opens", "closes")

    def render_opens(self, value) -> str:
        return f"{value:%H:%M}"

    def render_closes(self, value) -> str:
        return f"{value:%H:%M}"


class ClosedDayTable(tables.Table):
    day = DayColumn(attrs=HEAD, linkify=("workshop:closed_day_change", {"pk": tables.A("pk")}))

    class Meta:
        model = ClosedDay
        attrs = STACKING
        fields = ("day", "why")


class LabourRateTable(tables.Table):
    step = tables.Column(
        accessor="step_id",
        attrs=HEAD,
        linkify=("workshop:rate_change", {"pk": tables.A("pk")}),
    )
    minutes_each = tables.Column(attrs=NUMBER)
    setup_min = tables.Column(verbose_name=_("set-up"), attrs=NUMBER)
    hourly = tables.Column(verbose_name=_("by the hour"), attrs=NUMBER)
    piece = tables.Column(verbose_name=_("by the piece"), attrs=NUMBER)

    class Meta:
        model = LabourRate
        attrs = STACKING
        fields = (
            "step",
            "skill",
            "basis",
            "kind",
            "form",
            "minutes_each",
            "setup_min",
            "hourly",
            "piece",
            "valid_from",
        )

    def render_minutes_each(self, value) -> str:
        return formats.decimal(value, most=4)

    def render_setup_min(self, value) -> str:
        return formats.decimal(value, most=2)

    def render_hourly(self, value) -> str:
        return formats.money(value)

    def render_piece(self, value) -> str:
        return formats.money(value)


class StandingCostTable(tables.Table):
    valid_from = tables.Column(
        attrs=HEAD, linkify=("workshop:standing_cost_change", {"pk": tables.A("pk")})
    )
    employer_share = tables.Column(attrs=NUMBER)
    workshop_month = tables.Column(attrs=NUMBER)
    office_month = tables.Column(attrs=NUMBER)

    class Meta:
        model = StandingCost
        attrs = STACKING
        fields = ("valid_from", "employer_share", "workshop_month", "usual_minutes", "office_month")

    def render_employer_share(self, value) -> str:
        return formats.percent(value)

    def render_workshop_month(self, value) -> str:
        return formats.money(value)

    def render_office_month(self, value) -> str:
        return formats.money(value)


class TaxRateTable(tables.Table):
    name = tables.Column(attrs=HEAD, linkify=("workshop:tax_rate_change", {"pk": tables.A("pk")}))
    rate = tables.Column(attrs=NUMBER)

    class Meta:
        model = TaxRate
        attrs = STACKING
        fields = ("name", "category", "rate", "valid_from", "standard")


class PersonTable(tables.Table):
    username = tables.Column(
        verbose_name=_("signs in as"),
        attrs=HEAD,
        linkify=("workshop:person_change", {"pk": tables.A("pk")}),
    )

    class Meta:
        model = Person
        attrs = STACKING
        fields = ("username", "full_name", "role", "is_active", "last_login")


class ActTable(tables.Table):
    subject = tables.Column(verbose_name=_("what"), accessor="subject_ref", orderable=False)
    changed = tables.Column(
        verbose_name=_("before → after"), accessor="after", orderable=False, empty_values=()
    )

    class Meta:
        model = AuditEntry
        attrs = STACKING
        fields = ("at", "person", "act", "subject", "changed", "refused")

    def render_subject(self, record) -> str:
        return subject(record.subject_kind, record.subject_ref)

    def render_changed(self, record) -> str:
        return changes(record.subject_kind, record.before, record.after)
