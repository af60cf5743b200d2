"""Filters of the money room's lists."""

import django_filters as filters
from django.db.models import F
from django.utils.translation import gettext_lazy as _

from orders.models import Document, Payment
from orders.money.forms.money import DayInput
from workshop.search import holding


class PaperFilter(filters.FilterSet):
    """By kind, days, what is open, and words."""

    q = filters.CharFilter(label=_("Number or customer"), method="named")
    kind = filters.ChoiceFilter(label=_("Paper"), choices=Document.KINDS, empty_label=_("all"))
    since = filters.DateFilter(
        label=_("From"), field_name="issued_on", lookup_expr="gte", widget=DayInput
    )
    until = filters.DateFilter(
        label=_("To"), field_name="issued_on", lookup_expr="lte", widget=DayInput
    )
    open = filters.BooleanFilter(label=_("Only unpaid"), method="unpaid", widget=None)

    class Meta:
        model = Document
        fields: list[str] = []

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        from django import forms

        self.form.fields["open"].widget = forms.CheckboxInput()

    def named(self, queryset, _name, value):
        return queryset.called(value)

    def unpaid(self, queryset, _name, value):
        if not value:
            return queryset
        return queryset.filter(kind__in=Document.OWING, settled__lt=F("total"))


class PaymentFilter(filters.FilterSet):
    """By way, days and words."""

    q = filters.CharFilter(label=_("Reference or customer"), method="named")
    method = filters.ChoiceFilter(
        label=_("How"), choices=Payment.Method.choices, empty_label=_("all")
    )
    since = filters.DateFilter(label=_("From"), field_name="on", lookup_expr="gte", widget=DayInput)
    until = filters.DateFilter(label=_("To"), field_name="on", lookup_expr="lte", widget=DayInput)

    class Meta:
        model = Payment
        fields: list[str] = []

    def named(self, queryset, _name, value):
        return holding(queryset, value, whose="customer")
