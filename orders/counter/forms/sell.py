"""What is typed when strands are sold from the shelf, and when they come back."""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from orders.counter.forms.counter import MOST_STRANDS
from orders.models import Customer, OrderLine, Payment, StrandDesign, WantedLine
from orders.money.forms.money import RefundForm
from orders.money.services.goods_back import CameBack
from orders.money.services.payments import PaymentDetails
from workshop.form_fields import CountField, MoneyBox, WeighedCountField


class SellForm(forms.Form):
    """For each design that lies ready `n_<id>` (how many) and `p_<id>` (its price, if another)."""

    customer = forms.ModelChoiceField(
        Customer.objects.filter(in_use=True),
        widget=forms.HiddenInput,
        required=False,
        label=gettext_lazy("customer"),
        error_messages={
            "invalid_choice": gettext_lazy("That customer is not on the list any more."),
        },
    )
    drawer = forms.CharField(
        required=False,
        max_length=40,
        label=gettext_lazy("drawer"),
        help_text=gettext_lazy("If there is more than one."),
    )
    network = forms.CharField(
        required=False, max_length=40, label=gettext_lazy("network of mobile money")
    )
    payer_number = forms.CharField(
        required=False,
        max_length=30,
        label=gettext_lazy("payer’s number"),
        widget=forms.TextInput(attrs={"inputmode": "tel", "autocomplete": "off"}),
    )
    reference = forms.CharField(
        required=False,
        max_length=60,
        label=gettext_lazy("reference"),
        help_text=gettext_lazy("Of the transfer, card slip or mobile payment."),
    )
    owner_word = forms.CharField(
        required=False,
        max_length=200,
        label=gettext_lazy("Why sell below the lowest price all the same"),
        help_text=gettext_lazy("Your word and the reason; both are kept with the sale."),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    def __init__(
        self,
        data: Any,
        designs: Iterable[StrandDesign],
        *,
        each_g: Mapping[int, Decimal] | None = None,
        **kwargs: Any,
    ) -> None:
        """each_g: what one loose bead weighs, by design; its number may be told by weight."""
        super().__init__(data, **kwargs)
        self.designs = list(designs)
        for design in self.designs:
            count = WeighedCountField(
                each_g=(each_g or {}).get(design.pk),
                label=_("%(design)s: how many") % {"design": design.name},
                required=False,
                largest=MOST_STRANDS,
            )
            count.widget.attrs.update(
                {"data-number": "", "inputmode": "numeric", "placeholder": "0"}
            )
            self.fields[f"n_{design.pk}"] = count
            price = MoneyBox(
                label=_("%(design)s: another price each") % {"design": design.name},
                required=False,
                min_value=Decimal(0),
                max_digits=9,
            )
            price.widget.attrs.update({"data-number": "", "placeholder": _("other price")})
            self.fields[f"p_{design.pk}"] = price

    def wanted(self) -> list[WantedLine]:
        """What is to be sold, as far as it can be read."""
        return [
            WantedLine(design.pk, count, self.cleaned_data.get(f"p_{design.pk}"))
            for design in self.designs
            if (count := self.cleaned_data.get(f"n_{design.pk}"))
        ]

    def way(self, method: str) -> PaymentDetails:
        said = self.cleaned_data
        return PaymentDetails(
            method, said["drawer"], said["network"], said["payer_number"], said["reference"]
        )


class SaleBackForm(RefundForm):
    """For each line of a sale `good_<id>` and `broken_<id>`; why, and how the money goes back."""

    reason = forms.CharField(
        label=gettext_lazy("Why"),
        max_length=200,
        help_text=gettext_lazy("Stands on the credit note."),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    field_order = None

    def __init__(self, *args: Any, lines: Iterable[OrderLine], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        del self.fields["amount"]
        self.lines = list(lines)
        for line in self.lines:
            left = line.strands - line.came_back
            for name, words in (
                ("good", _("%(design)s: back on the shelf")),
                ("broken", _("%(design)s: broken, to the rejects")),
            ):
                self.fields[f"{name}_{line.pk}"] = CountField(
                    label=words % {"design": line.design.name},
                    required=False,
                    largest=left,
                    initial=left if name == "good" else None,
                )

    def rows(self) -> list[dict[str, Any]]:
        """The boxes of each line, side by side."""
        return [
            {
                "line": line,
                "left": line.strands - line.came_back,
                "good": self[f"good_{line.pk}"],
                "broken": self[f"broken_{line.pk}"],
            }
            for line in self.lines
        ]

    def came_back(self) -> list[CameBack]:
        said = self.cleaned_data
        return [
            CameBack(line.pk, said[f"good_{line.pk}"] or 0, said[f"broken_{line.pk}"] or 0)
            for line in self.lines
        ]


METHODS = dict(Payment.WAYS)
