"""The filter rows above the stock room's lists."""

import django_filters as filters
from django import forms
from django.db.models import Exists, OuterRef
from django.utils.translation import gettext_lazy as _

from stock.models import (
    Bead,
    BeadBatch,
    Charge,
    ChargeName,
    Collector,
    GlassColour,
    Posting,
    PostingKind,
    Preparation,
    Sack,
)
from workshop.forms import DayInput
from workshop.models import BeadKind, Person
from workshop.search import holding


def since(field: str) -> filters.DateFilter:
    return filters.DateFilter(field, lookup_expr="gte", label=_("From"), widget=DayInput())


def until(field: str) -> filters.DateFilter:
    return filters.DateFilter(field, lookup_expr="lte", label=_("To"), widget=DayInput())


class SackFilter(filters.FilterSet):
    collector = filters.ModelChoiceFilter(queryset=Collector.objects.all(), label=_("Collector"))
    colour = filters.ModelChoiceFilter(queryset=GlassColour.objects.all(), label=_("Colour"))
    origin = filters.ChoiceFilter(choices=Sack.Origin.choices, label=_("What it is"))
    money = filters.ChoiceFilter(
        choices=[("owed", _("owed")), ("paid", _("paid"))], method="by_money", label=_("Money")
    )
    start = since("received_on")
    end = until("received_on")

    class Meta:
        model = Sack
        fields: list[str] = []

    def by_money(self, queryset, name, value):
        if value == "owed":
            return queryset.filter(paid_on__isnull=True, amount__gt=0)
        return queryset.filter(paid_on__isnull=False)


class CollectorFilter(filters.FilterSet):
    name = filters.CharFilter(method="named", label=_("Name"))

    class Meta:
        model = Collector
        fields: list[str] = []

    def named(self, queryset, name, value):
        return holding(queryset, value)


class PreparationFilter(filters.FilterSet):
    form = filters.ChoiceFilter(
        choices=[("powder", _("powder")), ("chunks", _("chunks"))], label=_("Into")
    )
    hand = filters.ModelChoiceFilter(queryset=Person.objects.all(), label=_("By"))
    start = since("done_on")
    end = until("done_on")

    class Meta:
        model = Preparation
        fields: list[str] = []


class BatchFilter(filters.FilterSet):
    bead = filters.ModelChoiceFilter(queryset=Bead.objects.all(), label=_("Bead"))
    kind = filters.ChoiceFilter("bead__kind", choices=BeadKind.choices, label=_("Kind"))
    start = since("made_on")
    end = until("made_on")
    waiting = filters.BooleanFilter(
        method="by_waiting", label=_("Still under way"), widget=forms.CheckboxInput
    )

    class Meta:
        model = BeadBatch
        fields: list[str] = []

    def by_waiting(self, queryset, name, value):
        return queryset.filter(under_way__gt=0) if value else queryset


class PostingFilter(filters.FilterSet):
    kind = filters.ChoiceFilter(choices=PostingKind.choices, label=_("What"))
    person = filters.ModelChoiceFilter(queryset=Person.objects.all(), label=_("Who"))
    start = since("on")
    end = until("on")
    ref = filters.CharFilter("belongs_ref", label=_("Number"))
    charge = filters.ChoiceFilter(
        choices=ChargeName.choices, method="by_charge", label=_("With a charge for")
    )

    def by_charge(self, queryset, name, value):
        return queryset.filter(Exists(Charge.objects.filter(posting=OuterRef("pk"), name=value)))

    class Meta:
        model = Posting
        fields: list[str] = []
