"""Forms of how long a step takes for a bead or a pattern."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from stock.models import BeadMinutes, PatternFactor
from workshop.form_fields import MoneyBox


class FactorForm(forms.ModelForm):
    class Meta:
        model = PatternFactor
        fields = ["skill", "pattern", "factor"]


class BeadMinutesForm(forms.ModelForm):
    piece = MoneyBox(
        label=_("pay by the piece"),
        required=False,
        min_value=0,
        help_text=_("For this bead. Left empty: the rate’s, by the pattern."),
    )

    class Meta:
        model = BeadMinutes
        fields = ["bead", "skill", "minutes", "piece"]

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if not self.errors and said.get("minutes") is None and said.get("piece") is None:
            raise ValidationError(_("Write minutes, or pay by the piece, or both."))
        return said
