"""Forms of the business itself and its rates of VAT."""

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import get_language
from django.utils.translation import gettext_lazy as _
from stdnum import iban
from stdnum.exceptions import ValidationError as NumberError

from workshop.countries import countries, habits_of, time_zones
from workshop.form_fields import MoneyBox, NumberBox, PercentField
from workshop.formats import locale
from workshop.forms.boxes import DayInput
from workshop.languages import SOURCE
from workshop.models import Business, NumberPattern, TaxRate
from workshop.money import MoneyError, usual_coin


class BusinessForm(forms.ModelForm):
    """Whose workshop this is. On an empty book little is asked; the country fills in the rest."""

    country = forms.ChoiceField(label=_("country"), required=False)
    time_zone = forms.ChoiceField(
        label=_("time zone"), widget=forms.Select(attrs={"data-time-zone": "guess"})
    )
    tax_rate = NumberBox(
        label=_("usual rate, %"),
        required=False,
        min_value=Decimal(0),
        max_value=Decimal(100),
        decimal_places=2,
        help_text=_("Other rates, and later ones, have a page of their own: VAT rates."),
    )
    margin = PercentField(label=_("margin, % of the price"))
    margin_trader = PercentField(
        label=_("margin, market traders, %"),
        required=False,
        help_text=_("Left empty: the usual margin."),
    )
    margin_shop = PercentField(label=_("margin, shops, %"), required=False)
    margin_walk_in = PercentField(label=_("margin, walk-ins, %"), required=False)
    overhead = PercentField(label=_("overhead, % of the cost"), max_value=500)
    assurance = PercentField(
        label=_("assurance, %"),
        help_text=_("How sure the workshop wants to be that enough beads come good."),
    )
    deposit_share = PercentField(label=_("usual deposit, %"))
    deposit_from = MoneyBox(
        label=_("a deposit from"),
        required=False,
        min_value=Decimal(0),
        help_text=_("Orders that come to less are taken without one. Left empty: every order."),
    )
    deposit_kept = PercentField(
        label=_("kept of a deposit, %"),
        required=False,
        help_text=_(
            "Of an order that is cancelled once its beads are begun; before that all goes back. "
            "Stands on the order slip. What may be kept, the law of your country says."
        ),
    )
    count_tolerance = PercentField(
        label=_("counts by weight within, %"),
        required=False,
        help_text=_("A count by weight is booked only when it is surer than this, either way."),
    )
    min_weighed = forms.IntegerField(
        label=_("use a weighed mass from"),
        required=False,
        min_value=1,
        max_value=10_000,
        help_text=_("Beads weighed; with fewer, the mass is worked out from the size."),
    )
    smallest_coin = MoneyBox(label=_("smallest coin"))
    yard_price_most = MoneyBox(
        label=_("the yard pays a kilogram at most"),
        required=False,
        min_value=Decimal(0),
        help_text=_("Where it is above the price list. Left empty: the price list and no more."),
    )
    short_form_most = MoneyBox(
        label=_("an invoice without a name is enough up to"),
        required=False,
        min_value=Decimal(0),
        help_text=_(
            "VAT included; 0 for never. Left empty: what is usual in the country, 100 euros at "
            "least in the Union (Directive 2006/112/EC, articles 220a and 238). Local rules decide."
        ),
    )
    two_for_refunds = MoneyBox(
        label=_("two people for giving back more than"),
        required=False,
        min_value=Decimal(0),
        help_text=_("To one customer in a day. Left empty: one person does."),
    )
    yard_cash_most = MoneyBox(
        label=_("the yard pays out at a time at most"),
        required=False,
        min_value=Decimal(0),
        help_text=_("Left empty: whatever the sacks come to."),
    )
    price_step = MoneyBox(label=_("round prices up to"))

    class Meta:
        model = Business
        fields = [
            "name",
            "address",
            "country",
            "phone",
            "email",
            "currency",
            "time_zone",
            "language",
            "length_unit",
            "mass_unit",
            "tax_registered",
            "tax_number",
            "tax_name",
            "company_number",
            "with_tax_trader",
            "with_tax_shop",
            "with_tax_walk_in",
            "account_invoices",
            "short_form_most",
            "iban",
            "bic",
            "smallest_coin",
            "price_step",
            "payment_days",
            "quote_days",
            "debt_steps",
            "deposit_share",
            "deposit_from",
            "deposit_kept",
            "customer_pages",
            "yard_price_most",
            "yard_cash_most",
            "count_tolerance",
            "margin",
            "margin_trader",
            "margin_shop",
            "margin_walk_in",
            "overhead",
            "hours_when_worked",
            "assurance",
            "rejects_by_load",
            "whole_moulds",
            "min_weighed",
            "customs_heading",
            "paper_size",
            "paper_words",
            "e_invoice",
            "two_for_refunds",
            "two_for_bank",
            "two_for_people",
            "second_step_for",
        ]
        widgets = {
            "address": forms.Textarea(attrs={"rows": 3}),
            "paper_words": forms.Textarea(attrs={"rows": 2}),
        }

    GROUPS = (
        (_("The business"), ("name", "address", "country", "language", "phone", "email")),
        (_("Money and measures"), ("currency", "time_zone", "length_unit", "mass_unit")),
        (
            _("VAT"),
            (
                "tax_registered",
                "tax_number",
                "tax_rate",
                "tax_name",
                "company_number",
                "with_tax_trader",
                "with_tax_shop",
                "with_tax_walk_in",
                "account_invoices",
                "short_form_most",
                "e_invoice",
            ),
        ),
        (
            _("Paying"),
            ("iban", "bic", "smallest_coin", "payment_days", "quote_days", "debt_steps"),
        ),
        (
            _("Deposits"),
            ("deposit_share", "deposit_from", "deposit_kept"),
        ),
        (
            _("What customers see"),
            ("customer_pages",),
        ),
        (_("What the yard may pay"), ("yard_price_most", "yard_cash_most")),
        (
            _("What two people look at"),
            ("two_for_refunds", "two_for_bank", "two_for_people"),
        ),
        (
            _("Prices"),
            (
                "margin",
                "margin_trader",
                "margin_shop",
                "margin_walk_in",
                "overhead",
                "hours_when_worked",
                "price_step",
            ),
        ),
        (
            _("How beads are reckoned"),
            ("assurance", "rejects_by_load", "whole_moulds", "min_weighed", "count_tolerance"),
        ),
        (_("Papers"), ("paper_size", "paper_words", "customs_heading")),
    )
    # What a workshop that begins is asked; the rest stands folded below.
    FIRST = (
        (_("The business"), ("name", "address", "country", "language", "time_zone")),
        (_("VAT"), ("tax_registered", "tax_number", "tax_rate")),
    )
    # What the country says where the owner says nothing else.
    BY_COUNTRY = (
        "currency",
        "time_zone",
        "paper_size",
        "tax_name",
        "length_unit",
        "mass_unit",
        "smallest_coin",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.begins = self.instance._state.adding
        known = countries(str(locale()))
        own, zone = self.instance.country, self.instance.time_zone
        odd = [(own, own)] if own and own not in dict(known) else []
        self.fields["country"].choices = [("", _("choose")), *odd, *known]
        zones = time_zones() if zone in time_zones() else (zone, *time_zones())
        self.fields["time_zone"].choices = [(each, each.replace("_", " ")) for each in zones]
        self.fields["tax_name"].required = self.fields["language"].required = False
        if self.begins:
            self._leave_to_the_country()
        else:
            del self.fields["tax_rate"]

    def _leave_to_the_country(self) -> None:
        self.initial |= {"name": "", **dict.fromkeys(self.BY_COUNTRY, "")}
        # Whoever begins reads this page in a language, most likely that of the workshop.
        self.initial["language"] = get_language() or SOURCE
        for name in self.BY_COUNTRY:
            box: Any = self.fields[name]
            box.required = False
            if hasattr(box, "choices"):
                box.choices = [
                    ("", _("as is usual in the country")),
                    *(choice for choice in box.choices if choice[0]),
                ]
            else:
                box.help_text = _("Left empty: as is usual in the country.")

    @property
    def groups(self) -> list[tuple[Any, list[forms.BoundField]]]:
        """The boxes under headings; on an empty book only what a beginner is asked."""
        return self._grouped(self.FIRST if self.begins else self._all_groups())

    @property
    def usual_groups(self) -> list[tuple[Any, list[forms.BoundField]]]:
        """What an empty book takes as usual: everything that is not asked."""
        if not self.begins:
            return []
        asked = {name for _heading, names in self.FIRST for name in names}
        return self._grouped(
            (heading, tuple(name for name in names if name not in asked))
            for heading, names in self._all_groups()
        )

    @property
    def usual_open(self) -> bool:
        return any(box.errors for _heading, boxes in self.usual_groups for box in boxes)

    def _all_groups(self) -> tuple[tuple[Any, tuple[str, ...]], ...]:
        named = {name for _heading, names in self.GROUPS for name in names}
        rest = tuple(name for name in self.fields if name not in named)
        return (*self.GROUPS, (_("Besides"), rest))

    def _grouped(self, groups: Any) -> list[tuple[Any, list[forms.BoundField]]]:
        """The boxes under their headings, for a page this long; what is empty falls away."""
        boxes = [
            (heading, [self[name] for name in names if name in self.fields])
            for heading, names in groups
        ]
        return [(heading, found) for heading, found in boxes if found]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if self.begins:
            habits = habits_of(cleaned.get("country") or "")
            for name in self.BY_COUNTRY:
                if name in cleaned and cleaned[name] in ("", None) and hasattr(habits, name):
                    cleaned[name] = getattr(habits, name)
            if cleaned.get("smallest_coin", 0) is None:
                cleaned["smallest_coin"] = self._coin_of(cleaned.get("currency", ""))
            rateless = not cleaned.get("tax_rate") and "tax_rate" not in self.errors
            if cleaned.get("tax_registered") and rateless:
                self.add_error("tax_rate", _("Write the rate that most of your goods have."))
        return cleaned

    @staticmethod
    def _coin_of(currency: str) -> Decimal:
        try:
            return usual_coin(currency)
        except MoneyError:  # told at the currency's own box
            return Decimal("0.01")

    def clean_language(self) -> str:
        return self.cleaned_data["language"] or self.initial["language"]

    def clean_count_tolerance(self):
        return self.cleaned_data["count_tolerance"] or self.instance.count_tolerance

    def clean_min_weighed(self) -> int:
        return self.cleaned_data["min_weighed"] or self.instance.min_weighed

    def clean_currency(self) -> str:
        return self.cleaned_data["currency"].upper()

    def clean_tax_name(self) -> str:
        told = self.cleaned_data["tax_name"]
        return told if told or self.begins else habits_of(self.instance.country).tax_name

    def clean_country(self) -> str:
        return self.cleaned_data["country"].upper()

    def clean_iban(self) -> str:
        number = self.cleaned_data["iban"]
        if not number:
            return ""
        try:
            return iban.validate(number)
        except NumberError as error:
            raise ValidationError(
                _("The check digits of this IBAN do not fit; compare it with a bank letter.")
            ) from error


class NumberPatternForm(forms.ModelForm):
    class Meta:
        model = NumberPattern
        fields = ["prefix", "year_digits", "joint", "digits"]


class TaxRateForm(forms.ModelForm):
    class Meta:
        model = TaxRate
        fields = ["name", "category", "rate", "reason", "valid_from", "standard"]
        widgets = {"valid_from": DayInput()}
