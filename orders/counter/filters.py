"""What lists can be narrowed by."""

import django_filters as filters
from django import forms
from django.utils.translation import gettext_lazy as _

from orders.models import (
    Customer,
    CustomerGroup,
    Order,
    Payment,
    Sale,
    StrandDesign,
)
from workshop.search import holding
from workshop.typed import whole_number


class OrderFilter(filters.FilterSet):
    find = filters.CharFilter(
        label=_("number or customer"),
        method="by_words",
        widget=forms.TextInput(attrs={"type": "search", "autocomplete": "off"}),
    )
    # Chosen above the list, beside how many there are of each.
    state = filters.ChoiceFilter(choices=Order.State.choices, widget=forms.HiddenInput())
    design = filters.ModelChoiceFilter(
        label=_("design"),
        field_name="lines__design",
        queryset=StrandDesign.objects.listed(),
        empty_label=_("every design"),
        distinct=True,
    )

    class Meta:
        model = Order
        fields = ["find", "state", "design"]

    def by_words(self, orders, name, words):
        if (number := whole_number(words.strip())) is not None:
            return orders.filter(number=number)
        return holding(orders, words, whose="customer")


class SaleFilter(filters.FilterSet):
    on = filters.DateFilter(
        label=_("day"),
        field_name="order__collected_on",
        widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}),
    )
    how = filters.ChoiceFilter(
        label=_("paid"),
        field_name="payment__method",
        choices=Payment.WAYS,
        empty_label=_("every way"),
    )

    class Meta:
        model = Sale
        fields = ["on", "how"]


class CustomerFilter(filters.FilterSet):
    find = filters.CharFilter(
        label=_("name or telephone"),
        method="by_words",
        widget=forms.TextInput(attrs={"type": "search", "autocomplete": "off"}),
    )
    group = filters.ChoiceFilter(
        label=_("who"), choices=CustomerGroup.choices, empty_label=_("everybody")
    )

    class Meta:
        model = Customer
        fields = ["find", "group"]

    def by_words(self, customers, name, words):
        return holding(customers, words)
