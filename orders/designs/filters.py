"""What the lists of prices can be narrowed by."""

import django_filters as filters
from django.utils.translation import gettext_lazy as _

from orders.models import (
    CustomerGroup,
    DesignPrice,
    QuantityBreak,
    StrandDesign,
)


class PriceFilter(filters.FilterSet):
    design = filters.ModelChoiceFilter(
        label=_("design"), queryset=StrandDesign.objects.listed(), empty_label=_("every design")
    )
    group = filters.ChoiceFilter(
        label=_("who"), choices=CustomerGroup.choices, empty_label=_("everybody and each")
    )

    class Meta:
        model = DesignPrice
        fields = ["design", "group"]


class BreakFilter(filters.FilterSet):
    group = filters.ChoiceFilter(
        label=_("who"), choices=CustomerGroup.choices, empty_label=_("everybody and each")
    )

    class Meta:
        model = QuantityBreak
        fields = ["group"]
