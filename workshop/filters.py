"""Filters of the workshop's lists."""

import django_filters as filters
from django.utils.translation import gettext_lazy as _

from workshop.log_words import kinds
from workshop.models import AuditEntry, Person


class LogFilter(filters.FilterSet):
    """By person, by act, by what was acted on."""

    person = filters.ModelChoiceFilter(
        label=_("Person"), queryset=Person.objects.order_by("username"), empty_label=_("anybody")
    )
    act = filters.CharFilter(label=_("Act"), method="named")
    subject_kind = filters.ChoiceFilter(
        label=_("Done to"), choices=lambda: list(kinds().items()), empty_label=_("anything")
    )
    subject_ref = filters.CharFilter(label=_("its number"))
    refused = filters.BooleanFilter(label=_("Refused"))

    class Meta:
        model = AuditEntry
        fields: list[str] = []

    def named(self, queryset, _name, value):
        """Acts whose name holds what was typed; there are a hundred or two in all."""
        typed = value.casefold()
        return queryset.filter(act__in=[a for a in queryset.acts() if typed in a.casefold()])
