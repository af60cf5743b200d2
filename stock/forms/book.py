"""Forms of the book itself: taking back, places, periods."""

from datetime import timedelta
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from stock.models import INSIDE, Place, PlaceKind
from workshop.forms import DayInput


class BackForm(forms.Form):
    """Why a posting is taken back."""

    why = forms.CharField(
        label=_("Why it is taken back"),
        max_length=200,
        error_messages={"required": _("Say why; the book keeps the reason.")},
    )


class PlaceForm(forms.ModelForm):
    """A shelf, a tray or a corner of the yard."""

    kind = forms.ChoiceField(
        label=_("kind"), choices=[(kind.value, kind.label) for kind in PlaceKind if kind in INSIDE]
    )

    class Meta:
        model = Place
        fields = ["kind", "name"]


class PeriodForm(forms.Form):
    """From one day to another, both included."""

    start = forms.DateField(label=_("From"), widget=DayInput(), required=False)
    end = forms.DateField(label=_("To"), widget=DayInput(), required=False)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        today = timezone.localdate()
        data["end"] = data.get("end") or today
        data["start"] = data.get("start") or data["end"] - timedelta(days=90)
        if data["start"] > data["end"]:
            raise ValidationError(
                _("The first day lies after the last one; swap them, or leave one empty.")
            )
        return data
