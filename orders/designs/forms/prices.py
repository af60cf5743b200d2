"""The forms of a price and of a quantity break."""

from decimal import Decimal
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from orders.models import DesignPrice, QuantityBreak, StrandDesign, sees_tax
from workshop.form_fields import CountField, MoneyBox, PercentField
from workshop.models import Business


class PriceForm(forms.ModelForm):
    price = MoneyBox(
        label=gettext_lazy("price each"),
        min_value=0,
        help_text=gettext_lazy(
            "As those it is for see prices: with VAT or without. For everybody without VAT."
        ),
    )
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

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        sold_by_list = [StrandDesign.Sort.DESIGN, StrandDesign.Sort.LOOSE]
        designs = StrandDesign.objects.filter(sort__in=sold_by_list)
        self.fields["design"].queryset = designs  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if cleaned.get("customer") and cleaned.get("group"):
            self.add_error(
                "group",
                _("A price agreed with one customer needs no group; leave one of the two empty."),
            )
        return cleaned

    def save(self, commit: bool = True) -> DesignPrice:
        """A price is kept as those it is for are told it; one for everybody without VAT.

        Changing who a price is for leaves the form to what was typed: it is theirs now.
        """
        price, business = self.instance, Business.in_force()
        if {"price", "group", "customer"} & set(self.changed_data):
            price.with_tax = sees_tax(price.customer, business, price.group)
        return super().save(commit)


class BreakForm(forms.ModelForm):
    """So much off from so many strands, for a price list or for everybody."""

    from_strands = CountField(
        label=gettext_lazy("from how many strands"),
        smallest=2,
        largest=1_000_000,
        help_text=gettext_lazy("Of one design in one order, such as 48 or “1 gross”."),
    )
    off = PercentField(
        label=gettext_lazy("off, %"),
        max_value=Decimal("99.9"),
        help_text=gettext_lazy("0 ends a break, or keeps a group out of everybody’s."),
    )
    valid_from = forms.DateField(
        label=gettext_lazy("from"),
        initial=timezone.localdate,
        widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}),
    )

    class Meta:
        model = QuantityBreak
        fields = ["group", "from_strands", "off", "valid_from"]
