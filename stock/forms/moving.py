"""Forms for putting stock elsewhere and for what was here before the book began."""

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from stock.forms.glass import MIXED, today_or_earlier
from stock.forms.missing import SaysWhatIsMissing
from stock.measures import quantity_box, smallest_of, unit_of
from stock.models import MARK_LENGTH, Balance, Bead, GlassColour, GlassForm, StockLocation
from stock.services.sacks import refuse_mixed_mark
from stock.services.standard_beads import cost_of_bead, cost_of_kilogram
from workshop.form_fields import CountField, MassField, MoneyBox
from workshop.forms import DayInput


class MoveForm(SaysWhatIsMissing, forms.Form):
    """How much goes where."""

    place = forms.ModelChoiceField(StockLocation.objects.none(), label=pgettext_lazy("place", "To"))

    def __init__(self, *args: Any, balance: Balance, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.balance = balance
        self.fields["place"].queryset = StockLocation.objects.filter(
            kind=balance.place.kind
        ).exclude(pk=balance.place_id)
        self.fields["quantity"] = quantity_box(
            unit_of(balance.item), label=_("How much"), smallest=1
        )

    def quantity(self) -> int:
        return smallest_of(unit_of(self.balance.item), self.cleaned_data["quantity"])


class OpeningForm(SaysWhatIsMissing, forms.Form):
    """Glass or beads that lay here before the book began; one of the two at a time."""

    OWNERS = ("worth_each",)

    colour = forms.ChoiceField(label=_("Glass of colour"), required=False)
    form = forms.ChoiceField(label=_("Form"), choices=GlassForm.choices, initial=GlassForm.RAW)
    mass_g = MassField(label=_("How much glass"), smallest=1, required=False)
    mark = forms.CharField(
        label=_("Lot or maker's mark"),
        max_length=MARK_LENGTH,
        required=False,
        help_text=_("If the glass bears one; it keeps it on a heap of its own."),
    )
    bead = forms.ModelChoiceField(
        Bead.objects.filter(in_use=True), label=_("Or beads"), required=False
    )
    pieces = CountField(label=_("How many beads"), smallest=1, required=False)
    worth_each = MoneyBox(
        label=_("Worth of a kilogram, or of one bead"), min_value=Decimal(0), decimal_places=6,
        required=False,
        help_text=_(
            "What it cost to buy or make; strands are priced from it. Left empty: the cost of "
            "making at your own pay, fuel and steps."
        ),
    )  # fmt: skip
    on = forms.DateField(
        label=_("The book begins on"), widget=DayInput(), validators=[today_or_earlier]
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.colours = {str(c.pk): c for c in GlassColour.objects.filter(in_use=True)}
        self.fields["colour"].choices = [
            ("", "–"),
            *((key, colour.name) for key, colour in self.colours.items()),
            (MIXED, _("mixed")),
        ]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        glass, beads = bool(data.get("colour")), bool(data.get("bead"))
        if glass == beads:
            raise ValidationError(_("Choose either a colour of glass or a bead, one at a time."))
        if beads and data.get("mark"):
            self.add_error("mark", _("Only glass bears a mark here; leave it empty for beads."))
        if glass:
            try:
                refuse_mixed_mark(self.chosen_colour(), data.get("mark") or "")
            except ValidationError as refused:
                self.add_error(None, refused)
        if glass and not data.get("mass_g"):
            self.add_error("mass_g", _("Write how much glass there is, e.g. 12.5."))
        if beads and not data.get("pieces"):
            self.add_error("pieces", _("Write how many beads there are."))
        if not self.errors:
            self._find_worth(data)
        return data

    def _find_worth(self, data: dict[str, Any]) -> None:
        """Goods that came into the book for nothing would be sold for almost nothing, unseen."""
        typed, on = data.get("worth_each"), data["on"]
        if data["bead"]:
            data["worth_each"] = typed if typed is not None else cost_of_bead(data["bead"], on)
        elif colour := self.chosen_colour():
            data["worth_each"] = (
                typed if typed is not None else cost_of_kilogram(colour, data["form"], on)
            )
        if data.get("worth_each") is None or (data["bead"] and not data["worth_each"]):
            what = _("one of them") if data["bead"] else _("a kilogram of it")
            self.add_error(
                "worth_each" if "worth_each" in self.fields else None,
                _(
                    "Its cost of making is not known here yet. Write what %(what)s cost, so that "
                    "it is not sold for nothing."
                )
                % {"what": what},
            )

    def chosen_colour(self) -> GlassColour | None:
        return self.colours.get(self.cleaned_data["colour"])
