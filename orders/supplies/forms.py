"""Forms for findings bought, and for what of them lies there."""

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext as said
from django.utils.translation import gettext_lazy as _

from orders.models import Finding, Purchase
from orders.supplies.services import Bought
from stock.forms.glass import today_or_earlier
from stock.forms.missing import CHOOSE, WRITE, SaysWhatIsMissing
from stock.measures import METRE, quantity_box, smallest_of, typed_quantity, unit_words
from workshop.form_fields import MoneyBox
from workshop.forms import DayInput
from workshop.models import Business, TaxRate

HERE, COMES = "here", "comes"
LARGEST = {METRE: 10_000_000}  # ten kilometres of cord; the other boxes keep their own bounds


def how_much(finding: Finding, label: Any, **given: Any) -> forms.Field:
    """A box for a quantity of a finding: pieces, metres or kilograms."""
    bounds = {"largest": LARGEST[finding.unit]} if finding.unit in LARGEST else {}
    return quantity_box(
        finding.unit, label=label, kg_per_litre=finding.kg_per_litre, **bounds, **given
    )


class PaperForm(SaysWhatIsMissing, forms.Form):
    """What a supplier's paper says above its lines: who, when, and whether it is here."""

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

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("state") == HERE and data.get("expected_on"):
            self.add_error("expected_on", said("It is here already; leave this empty."))
        return data

    def paper_said(self) -> dict[str, Any]:
        """What stands above the lines, as `note_purchase` takes it."""
        data = self.cleaned_data
        return {
            "supplier": data["supplier"],
            "paper": data["paper"],
            "ordered_on": data["on"],
            "arrived_on": data["on"] if data["state"] == HERE else None,
            "expected_on": data["expected_on"],
        }


class TaxBox:
    """The rates of VAT that a line may bear; no box where the workshop is not registered."""

    def __init__(self, business: Business) -> None:
        rates = _rates(timezone.localdate()) if business.tax_registered else []
        self.rates = {str(rate.pk): rate for rate in rates}

    def into(self, form: forms.Form) -> None:
        choices = [*((key, str(rate)) for key, rate in self.rates.items()), ("", said("none"))]
        if self.rates:
            form.fields["tax"].choices = choices  # type: ignore[attr-defined]
        else:
            form.fields.pop("tax")

    def rate_of(self, data: dict[str, Any]) -> Decimal:
        rate = self.rates.get(data.get("tax") or "")
        return rate.rate if rate else Decimal(0)


class BuyForm(PaperForm):
    """So much of a finding bought from somebody, for so much in all."""

    price = MoneyBox(label=_("What all of it costs"), min_value=Decimal(0))
    tax = forms.ChoiceField(label=_("VAT in it"), required=False)
    field_order = ("quantity", "price", "tax", "supplier", "state", "on", "expected_on", "paper")

    def __init__(self, *args: Any, finding: Finding, business: Business, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.finding, self.tax_box = finding, TaxBox(business)
        self.fields["quantity"] = how_much(finding, _("How much"), smallest=1)
        self.tax_box.into(self)
        self.order_fields(self.field_order)

    def purchase(self) -> dict[str, Any]:
        """What is told of it, as `note_purchase` takes it."""
        data = self.cleaned_data
        return self.paper_said() | {
            "quantity": smallest_of(self.finding.unit, data["quantity"]),
            "price": data["price"],
            "tax_rate": self.tax_box.rate_of(data),
        }


class BoughtLine(SaysWhatIsMissing, forms.Form):
    """One line of a supplier's paper; left empty, it says nothing."""

    finding = forms.ModelChoiceField(
        Finding.objects.none(), label=_("What"), required=False, empty_label=_("choose")
    )
    quantity = forms.CharField(label=_("How much"), max_length=40, required=False)
    price = MoneyBox(label=_("What all of it costs"), min_value=Decimal(0), required=False)
    tax = forms.ChoiceField(label=_("VAT in it"), required=False)

    def __init__(self, *args: Any, findings: list[Finding], tax_box: TaxBox, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.tax_box = tax_box
        box = self.fields["finding"]
        box.queryset = Finding.objects.filter(pk__in=[row.pk for row in findings])  # type: ignore[attr-defined]
        box.choices = [("", said("choose")), *((row.pk, str(row)) for row in findings)]  # type: ignore[attr-defined]
        tax_box.into(self)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        finding, typed, price = (data.get(name) for name in ("finding", "quantity", "price"))
        if not typed and price is None:
            return data  # a thing chosen and not bought after all
        if finding is None and "finding" not in self.errors:
            self.add_error("finding", CHOOSE)
        for name, value in (("quantity", typed), ("price", price)):
            if value in (None, "") and name not in self.errors:
                self.add_error(name, WRITE)
        if finding is not None and typed:
            try:
                read = how_much(finding, "", smallest=1).clean(typed)
                data["smallest"] = smallest_of(finding.unit, read)
            except ValidationError as error:
                self.add_error("quantity", error)
        return data

    @property
    def bought(self) -> Bought | None:
        """The line, as `note_purchases` takes it."""
        data = self.cleaned_data
        if "smallest" not in data:
            return None
        rate = self.tax_box.rate_of(data)
        return Bought(data["finding"], data["smallest"], data["price"], rate)


MOST_LINES = 40


class BoughtLines:
    """The lines of a paper: those that are to be bought, and some more."""

    def __init__(
        self, data: Any, *, business: Business, first: list[dict[str, Any]], many: int
    ) -> None:
        findings, tax_box = list(Finding.objects.all()), TaxBox(business)
        many = min(MOST_LINES, max(many, len(first) + 2))
        self.forms = [
            BoughtLine(
                data,
                prefix=f"line{n}",
                initial=first[n] if n < len(first) else {"tax": next(iter(tax_box.rates), "")},
                findings=findings,
                tax_box=tax_box,
            )
            for n in range(many)
        ]

    def is_valid(self) -> bool:
        # A list, so that every line is checked and can show its own sentence.
        return all([form.is_valid() for form in self.forms])  # noqa: C419

    def bought(self) -> list[Bought]:
        return [bought for form in self.forms if (bought := form.bought) is not None]


class CameForm(forms.Form):
    """How much came of each line of a paper that is on its way."""

    def __init__(self, *args: Any, purchases: list[Purchase], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.purchases = {row.pk: row for row in purchases}
        for row in purchases:
            box = how_much(row.finding, str(row.finding), smallest=0, required=False)
            box.initial = typed_quantity(row.finding.unit, row.quantity)
            self.fields[f"came_{row.pk}"] = box

    def came(self) -> dict[int, int]:
        """What came, by the key of its line, in the smallest unit."""
        return {
            key: smallest_of(row.finding.unit, self.cleaned_data[f"came_{key}"] or 0)
            for key, row in self.purchases.items()
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
