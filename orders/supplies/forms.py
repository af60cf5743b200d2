"""Forms for findings bought, and for what of them lies there."""

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext as said
from django.utils.translation import gettext_lazy as _

from orders.models import Finding
from stock.forms.glass import today_or_earlier
from stock.forms.missing import SaysWhatIsMissing
from stock.measures import METRE, quantity_box, smallest_of, unit_words
from workshop.form_fields import MoneyBox
from workshop.forms import DayInput
from workshop.models import Business, TaxRate

HERE, COMES = "here", "comes"
LARGEST = {METRE: 10_000_000}  # ten kilometres of cord; the other boxes keep their own bounds


def how_much(finding: Finding, label: Any, **given: Any) -> forms.Field:
    """A box for a quantity of a finding: pieces, metres or kilograms."""
    bounds = {"largest": LARGEST[finding.unit]} if finding.unit in LARGEST else {}
    return quantity_box(finding.unit, label=label, **bounds, **given)


class BuyForm(SaysWhatIsMissing, forms.Form):
    """So much of a finding bought from somebody, for so much in all."""

    price = MoneyBox(label=_("What all of it costs"), min_value=Decimal(0))
    tax = forms.ChoiceField(label=_("VAT in it"), required=False)
    supplier = forms.CharField(label=_("Bought from"), max_length=80, required=False)
    paper = forms.CharField(
        label=_("Number of their paper"), max_length=40, required=False,
        help_text=_("Of the invoice or receipt, to find it again."),
    )  # fmt: skip
    state = forms.ChoiceField(
        label=_("Is it here?"),
        choices=[(HERE, _("yes, it has come")), (COMES, _("no, it is ordered"))],
        initial=HERE,
        widget=forms.RadioSelect,
    )
    on = forms.DateField(
        label=_("Day it came, or was ordered"), widget=DayInput(), validators=[today_or_earlier]
    )
    expected_on = forms.DateField(
        label=_("Expected, if it is ordered"), widget=DayInput(), required=False,
        help_text=_("Left empty: after the usual days until it comes."),
    )  # fmt: skip
    field_order = ("quantity", "price", "tax", "supplier", "state", "on", "expected_on", "paper")

    def __init__(self, *args: Any, finding: Finding, business: Business, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.finding = finding
        self.fields["quantity"] = how_much(finding, _("How much"), smallest=1)
        today = timezone.localdate()
        self.rates = {str(rate.pk): rate for rate in _rates(today)}
        if business.tax_registered and self.rates:
            self.fields["tax"].choices = [
                *((key, str(rate)) for key, rate in self.rates.items()),
                ("", said("none")),
            ]
        else:
            self.fields.pop("tax")
        self.order_fields(self.field_order)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("state") == HERE and data.get("expected_on"):
            self.add_error("expected_on", said("It is here already; leave this empty."))
        return data

    def purchase(self) -> dict[str, Any]:
        """What is told of it, as `note_purchase` takes it."""
        data = self.cleaned_data
        rate = self.rates.get(data.get("tax") or "")
        here = data["state"] == HERE
        return {
            "quantity": smallest_of(self.finding.unit, data["quantity"]),
            "price": data["price"],
            "tax_rate": rate.rate if rate else Decimal(0),
            "supplier": data["supplier"],
            "paper": data["paper"],
            "ordered_on": data["on"],
            "arrived_on": data["on"] if here else None,
            "expected_on": data["expected_on"],
        }


def _rates(today) -> list[TaxRate]:
    """Of each named rate above nothing the one that holds today, the standard one first (1)."""
    newest: dict[str, TaxRate] = {}
    for rate in TaxRate.objects.filter(valid_from__lte=today).order_by("valid_from", "pk"):
        newest[rate.name] = rate
    return sorted((r for r in newest.values() if r.rate), key=lambda r: (not r.standard, r.name))


class CountFindingForm(SaysWhatIsMissing, forms.Form):
    """How much of a finding lies there: at first with its worth, later against the book."""

    worth_each = MoneyBox(min_value=Decimal(0), decimal_places=6, required=False)
    why = forms.CharField(
        label=_("Why it differs"), max_length=200, required=False,
        help_text=_("Needed when it differs: lost, spilt, miscounted, used for something else."),
    )  # fmt: skip
    was = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, finding: Finding, there: int, **kwargs: Any) -> None:
        super().__init__(*args, initial={"was": there}, **kwargs)
        self.finding = finding
        self.fields["quantity"] = how_much(finding, _("How much lies there"), smallest=0)
        if finding.kept:
            self.fields.pop("worth_each")
        else:
            self.fields.pop("why")
            self.fields["worth_each"].label = said("What it cost, %(unit)s") % {
                "unit": unit_words(finding.unit)
            }
            self.fields["worth_each"].help_text = said("Left empty: the price written down.")
        self.order_fields(("quantity", "worth_each", "why", "was"))

    def counted(self) -> dict[str, Any]:
        """What was counted, as `count_finding` takes it."""
        data = self.cleaned_data
        return {
            "quantity": smallest_of(self.finding.unit, data["quantity"]),
            "worth_each": data.get("worth_each"),
            "why": data.get("why", ""),
            "expected": data.get("was"),
        }


class FindingStockForm(SaysWhatIsMissing, forms.Form):
    """A finding that lies here already, as a sheet brings it in."""

    finding = forms.ModelChoiceField(Finding.objects.all(), label=_("What"))
    quantity = forms.CharField(
        label=_("How much"),
        max_length=40,
        help_text=_("Pieces; cord in metres, the rest in kilograms."),
    )
    worth_each = MoneyBox(
        label=_("Worth of one"), min_value=Decimal(0), decimal_places=6, required=False,
        help_text=_("Of one piece, metre or kilogram. Left empty: the price written down."),
    )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        finding, typed = data.get("finding"), data.get("quantity")
        if finding is None or typed is None:
            return data
        if finding.kept:
            self.add_error("finding", said("It is in stock already; count it on its own page."))
        try:
            read = how_much(finding, "", smallest=1).clean(typed)
            data["smallest"] = smallest_of(finding.unit, read)
        except ValidationError as error:
            self.add_error("quantity", error)
        return data
