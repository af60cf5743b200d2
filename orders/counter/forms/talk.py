"""What is asked and offered in talk: how many, for how much, how much off."""

from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from orders.counter.forms.counter import MOST_STRANDS
from workshop.form_fields import CountField, MoneyBox, PercentField


class TalkForm(forms.Form):
    """All three are laid on the whole order; each line shows what it means for itself."""

    prefix = "talk"

    strands = CountField(
        required=False,
        smallest=1,
        largest=MOST_STRANDS,
        label=gettext_lazy("what if it were so many"),
        help_text=gettext_lazy("Of each line."),
    )
    total = MoneyBox(
        required=False,
        min_value=Decimal(0),
        max_digits=11,
        label=gettext_lazy("for so much in all"),
    )
    off = PercentField(required=False, label=gettext_lazy("or so much off, %"))

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if self.errors:
            return said
        if said["total"] is not None and said["off"] is not None:
            self.add_error("off", _("Write a sum or a discount, not both."))
        elif not any(said[name] is not None for name in ("strands", "total", "off")):
            self.add_error("strands", _("Write how many, a sum, or a discount."))
        return said
