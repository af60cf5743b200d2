"""The form of a price."""

from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from orders.models import DesignPrice
from workshop.form_fields import CountField, MoneyBox


class PriceForm(forms.ModelForm):
    price = MoneyBox(label=gettext_lazy("price each"), min_value=0)
    from_strands = CountField(
        label=gettext_lazy("from how many strands"),
        smallest=1,
        initial=1,
        help_text=gettext_lazy("1 for any number; “1 gross” for 144 and more."),
    )
    valid_from = forms.DateField(
        label=gettext_lazy("from"),
        initial=timezone.localdate,
        widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}),
    )

    class Meta:
        model = DesignPrice
        fields = ["design", "group", "customer", "from_strands", "price", "valid_from"]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if cleaned.get("customer") and cleaned.get("group"):
            self.add_error(
                "group",
                _("A price agreed with one customer needs no group; leave one of the two empty."),
            )
        return cleaned
