"""Forms of the book itself: taking back, places, periods."""

import re
from datetime import timedelta
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from stock.count_by_weight import WeighedCount, count_by_weight
from stock.forms.glass import today_or_earlier
from stock.forms.missing import SaysWhatIsMissing
from stock.masses import finished_mg, goes_by_scale
from stock.measures import quantity_box, smallest_of, unit_of
from stock.models import SHELVES, Item, ItemKind, LocationKind, StockLocation
from workshop.form_fields import CountField, MassField
from workshop.formats import decimal_mark
from workshop.forms import DayInput
from workshop.physics.units import UnitError, parse_mass_g


class BackForm(SaysWhatIsMissing, forms.Form):
    """Why a posting is taken back."""

    why = forms.CharField(
        label=_("Why it is taken back"),
        max_length=200,
        error_messages={"required": _("Say why; the book keeps the reason.")},
    )


class CountForm(SaysWhatIsMissing, forms.Form):
    """One shelf counted: a box for each thing that the book says lies there."""

    why = forms.CharField(
        label=_("Why it differs"),
        max_length=200,
        required=False,
        help_text=_("Needed when something differs: broken, dropped, miscounted, given away."),
    )
    on = forms.DateField(label=_("Day"), widget=DayInput(), validators=[today_or_earlier])

    def __init__(self, *args: Any, rows: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.rows = list(rows)
        for row in self.rows:
            self.fields[f"item_{row.item_id}"] = quantity_box(
                unit_of(row.item), label=row.item.name, smallest=0, required=False
            )
            self.fields[f"was_{row.item_id}"] = forms.IntegerField(
                widget=forms.HiddenInput, initial=row.quantity, required=False
            )

    def lines(self):
        return [(row, self[f"item_{row.item_id}"], self[f"was_{row.item_id}"]) for row in self.rows]

    def found(self) -> dict[Item, int]:
        """What was counted, in smallest units; boxes left empty were not counted."""
        return {
            row.item: smallest_of(unit_of(row.item), counted)
            for row in self.rows
            if (counted := self.cleaned_data.get(f"item_{row.item_id}")) is not None
        }

    def expected(self) -> dict[int, int]:
        return {row.item_id: self.cleaned_data.get(f"was_{row.item_id}") or 0 for row in self.rows}

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if not self.errors and not self.found():
            raise ValidationError(_("Write what was counted of at least one thing."))
        return data


class WeighForm(SaysWhatIsMissing, forms.Form):
    """Beads counted by their weight, against a sample or the mass that is known."""

    batch = forms.ModelChoiceField(
        Item.objects.none(), label=_("Batch"), empty_label=_("choose the batch")
    )
    net_g = MassField(label=_("Beads without the tray"), unit="g", smallest=1)
    sample_beads = CountField(label=_("Sample: how many"), smallest=1, required=False)
    sample_g = forms.CharField(
        label=_("Sample: what they weigh"),
        max_length=400,
        required=False,
        help_text=_("Grams: one figure for all of them together, or one for each bead."),
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["batch"].queryset = (
            Item.objects.filter(
                kind=ItemKind.BEADS,
                balances__place__kind=LocationKind.BEAD_SHELF,
                balances__quantity__gt=0,
            )
            .select_related("batch__bead")
            .distinct()
            .order_by("name")
        )

    @property
    def some_batch(self) -> bool:
        """Whether there is anything to weigh."""
        return self.fields["batch"].queryset.exists()

    def clean_sample_g(self) -> list[Decimal]:
        parts = re.split(r"[;\s]+", self.cleaned_data["sample_g"].strip())
        try:
            return [parse_mass_g(part, "g", decimal_mark=decimal_mark()) for part in parts if part]
        except UnitError as error:
            raise ValidationError(error.said(gettext)) from error

    def count(self) -> WeighedCount:
        """The count; raises CountError with a sentence where it cannot be made."""
        data, bead = self.cleaned_data, self.cleaned_data["batch"].batch.bead
        each = [float(g) * 1000 for g in data["sample_g"]]
        alone = len(each) > 1
        return count_by_weight(
            data["net_g"] * 1000,
            sample_mg=each if alone else (),
            sample_beads=0 if alone else data.get("sample_beads") or 0,
            sample_total_mg=sum(each) if not alone else 0,
            known_mg=float(finished_mg(bead)),
            known_beads=bead.weighed_count if goes_by_scale(bead) else 0,
        )


class ApartForm(SaysWhatIsMissing, forms.Form):
    """Strands cut open."""

    strands = CountField(label=_("Strands taken apart"), smallest=1)
    broken = CountField(label=_("Beads broken on the way"), smallest=0, required=False)


class PlaceForm(SaysWhatIsMissing, forms.ModelForm):
    """A shelf, a tray or a corner of the yard."""

    # Beads on the bench and in the kiln stand at a step, and the steps have their own spots.
    kind = forms.ChoiceField(
        label=_("kind"),
        choices=[(kind.value, kind.label) for kind in LocationKind if kind in SHELVES],
    )

    class Meta:
        model = StockLocation
        fields = ["kind", "name"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.is_used:
            kind = self.fields["kind"]
            kind.choices = LocationKind.choices
            kind.disabled = True
            kind.help_text = _(
                "Something lay here before, so it stays what it is; add another place instead."
            )


def usual_period() -> dict[str, Any]:
    """The last three months."""
    today = timezone.localdate()
    return {"start": today - timedelta(days=90), "end": today}


class PeriodForm(SaysWhatIsMissing, forms.Form):
    """From one day to another, both included."""

    start = forms.DateField(label=_("From"), widget=DayInput(), required=False)
    end = forms.DateField(label=_("To"), widget=DayInput(), required=False)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        data["end"] = data.get("end") or timezone.localdate()
        data["start"] = data.get("start") or data["end"] - timedelta(days=90)
        if data["start"] > data["end"]:
            raise ValidationError(
                _("The first day lies after the last one; swap them, or leave one empty.")
            )
        return data
