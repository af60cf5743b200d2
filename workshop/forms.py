"""Forms of the workshop's own facts."""

from typing import Any

from django import forms
from django.contrib.auth.forms import AuthenticationForm
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _
from stdnum import iban
from stdnum.exceptions import ValidationError as NumberError

from workshop.form_fields import LengthField, MassField, MoneyBox, PercentField
from workshop.models import (
    BeadKind,
    Business,
    ClosedDay,
    Kiln,
    LabourRate,
    Mould,
    Person,
    Programme,
    Skill,
    TaxRate,
    WorkingHours,
)
from workshop.physics.practice import programme_warning
from workshop.physics.shapes import SHAPE_FIELDS


class DayInput(forms.DateInput):
    input_type = "date"

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(format="%Y-%m-%d", **kwargs)


class TimeInput(forms.TimeInput):
    input_type = "time"

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(format="%H:%M", **kwargs)


class SignInForm(AuthenticationForm):
    error_messages = {
        "invalid_login": _(
            "No person of that name has that password. Both are read exactly as typed, "
            "capital letters too."
        ),
        "inactive": _("This person may not sign in any more; ask the owner."),
    }


class CodeForm(forms.Form):
    """The six digits of a telephone, or a spare code."""

    code = forms.CharField(
        label=_("Code"),
        max_length=20,
        help_text=_("The six digits that the telephone shows now, or one of the spare codes."),
        error_messages={"required": _("Type the code that the telephone shows.")},
        widget=forms.TextInput(
            attrs={"autocomplete": "one-time-code", "inputmode": "text", "autofocus": True}
        ),
    )

    def clean_code(self) -> str:
        return self.cleaned_data["code"].replace(" ", "").replace("-", "").lower()


class BusinessForm(forms.ModelForm):
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
            "length_unit",
            "mass_unit",
            "tax_registered",
            "tax_number",
            "company_number",
            "prices_include_tax",
            "iban",
            "bic",
            "smallest_coin",
            "price_step",
            "payment_days",
            "quote_days",
            "deposit_share",
            "count_tolerance",
            "margin",
            "margin_trader",
            "margin_shop",
            "margin_walk_in",
            "overhead",
            "assurance",
            "rejects_by_load",
            "whole_moulds",
            "min_weighed",
            "customs_heading",
            "paper_size",
            "paper_words",
            "e_invoice",
            "second_step_for",
        ]
        widgets = {
            "address": forms.Textarea(attrs={"rows": 3}),
            "paper_words": forms.Textarea(attrs={"rows": 2}),
        }

    GROUPS = (
        (_("The business"), ("name", "address", "country", "phone", "email")),
        (_("Money and measures"), ("currency", "time_zone", "length_unit", "mass_unit")),
        (
            _("VAT"),
            ("tax_registered", "tax_number", "company_number", "prices_include_tax", "e_invoice"),
        ),
        (
            _("Paying"),
            ("iban", "bic", "smallest_coin", "payment_days", "deposit_share", "quote_days"),
        ),
        (
            _("Prices"),
            ("margin", "margin_trader", "margin_shop", "margin_walk_in", "overhead", "price_step"),
        ),
        (
            _("How beads are reckoned"),
            ("assurance", "rejects_by_load", "whole_moulds", "min_weighed", "count_tolerance"),
        ),
        (_("Papers"), ("paper_size", "paper_words", "customs_heading")),
    )

    @property
    def groups(self) -> list[tuple[Any, list[forms.BoundField]]]:
        """The boxes under headings, for a page this long; what has no heading comes last."""
        named = {name for _heading, names in self.GROUPS for name in names}
        rest = tuple(name for name in self.fields if name not in named)
        return [
            (heading, [self[name] for name in names if name in self.fields])
            for heading, names in (*self.GROUPS, (_("Besides"), rest))
            if any(name in self.fields for name in names)
        ]

    def clean_count_tolerance(self):
        return self.cleaned_data["count_tolerance"] or self.instance.count_tolerance

    def clean_min_weighed(self) -> int:
        return self.cleaned_data["min_weighed"] or self.instance.min_weighed

    def clean_currency(self) -> str:
        return self.cleaned_data["currency"].upper()

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


class KilnForm(forms.ModelForm):
    efficiency = PercentField(label=_("efficiency, %"))
    moisture = PercentField(label=_("moisture of the wood, %"))
    fuel_price = MoneyBox(label=_("fuel price, per kg or kWh"))

    class Meta:
        model = Kiln
        fields = [
            "name",
            "places",
            "lowest_c",
            "highest_c",
            "preheat_min",
            "cooling_min",
            "fuel",
            "fuel_price",
            "fuel_per_load",
            "efficiency",
            "moisture",
            "in_use",
        ]


class ProgrammeForm(forms.ModelForm):
    class Meta:
        model = Programme
        fields = [
            "name",
            "kind",
            "hold_c",
            "hold_min",
            "from_c",
            "to_c",
            "from_min",
            "to_min",
            "unusual_on_purpose",
            "in_use",
        ]

    def clean(self) -> dict[str, Any]:
        """Common practice warns once; the owner's tick keeps the programme as it is."""
        cleaned = super().clean() or {}
        kind, hold_c, hold_min = (cleaned.get(name) for name in ("kind", "hold_c", "hold_min"))
        if kind and hold_c and hold_min and not cleaned.get("unusual_on_purpose"):
            sentence = programme_warning(BeadKind(kind).value, hold_c, hold_min)
            if sentence:
                self.add_error(
                    "unusual_on_purpose",
                    _("%s Then tick “unusual on purpose”.") % sentence,
                )
        if hold_c and cleaned.get("in_use") and (sentence := self._out_of_reach(hold_c)):
            self.add_error("hold_c", sentence)
        return cleaned

    @staticmethod
    def _out_of_reach(hold_c: int) -> str:
        """The sentence for a temperature that none of the kilns in use has; "" where one has it."""
        kilns = list(Kiln.objects.filter(in_use=True))
        if not kilns or any(kiln.lowest_c <= hold_c <= kiln.highest_c for kiln in kilns):
            return ""
        return _(
            "No kiln in use is fired at %(hold)s °C: %(kilns)s. Write a temperature that one of "
            "them reaches, or correct the kiln first."
        ) % {
            "hold": hold_c,
            "kilns": ", ".join(f"{k.name} {k.lowest_c}–{k.highest_c} °C" for k in kilns),
        }


class MouldForm(forms.ModelForm):
    bead_across_mm = LengthField(label=_("bead size across"), help_text=_("e.g. 12 mm or 1/2 in"))
    clay_g = MassField(label=_("clay mass"), unit="kg", help_text=_("e.g. 1.2 kg"))
    shape = forms.ChoiceField(
        label=_("bead shape"), choices=[(kind, kind.replace("_", " ")) for kind in SHAPE_FIELDS]
    )

    class Meta:
        model = Mould
        fields = [
            "name",
            "shape",
            "bead_across_mm",
            "cavities",
            "owned",
            "places",
            "clay_g",
            "held_min",
        ]

    def clean_places(self) -> int:
        places = self.cleaned_data["places"]
        largest = max(Kiln.objects.filter(in_use=True).values_list("places", flat=True), default=0)
        if largest and places > largest:
            raise ValidationError(
                _(
                    "This mould takes %(places)d places and the largest kiln has %(largest)d; "
                    "it fits in none."
                )
                % {"places": places, "largest": largest}
            )
        return places


class HoursForm(forms.ModelForm):
    class Meta:
        model = WorkingHours
        fields = ["weekday", "opens", "closes"]
        widgets = {"opens": TimeInput(), "closes": TimeInput()}


class ClosedDayForm(forms.ModelForm):
    class Meta:
        model = ClosedDay
        fields = ["day", "why"]
        widgets = {"day": DayInput()}


class LabourRateForm(forms.ModelForm):
    allowance = PercentField(label=_("allowance, %"), max_value=300)
    hourly = MoneyBox(label=_("pay by the hour"))
    piece = MoneyBox(label=_("pay by the piece"), required=False)
    kind = forms.ChoiceField(
        label=_("only for beads of kind"),
        required=False,
        choices=[("", _("every kind")), *BeadKind.choices],
    )

    class Meta:
        model = LabourRate
        fields = [
            "step",
            "skill",
            "basis",
            "kind",
            "minutes_each",
            "setup_min",
            "allowance",
            "hourly",
            "piece",
            "valid_from",
        ]
        widgets = {"valid_from": DayInput()}


class TaxRateForm(forms.ModelForm):
    class Meta:
        model = TaxRate
        fields = ["name", "category", "rate", "reason", "valid_from", "standard"]
        widgets = {"valid_from": DayInput()}


class PersonForm(forms.ModelForm):
    """Somebody who works here; the password they choose themselves, by a link that works once."""

    skills = forms.MultipleChoiceField(
        label=Person._meta.get_field("skills").verbose_name,
        choices=[each for each in Skill.choices if each[0] != Skill.FIRING],
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=Person._meta.get_field("skills").help_text,
    )

    class Meta:
        model = Person
        fields = ["username", "full_name", "role", "skills", "email", "is_active"]
        labels = {"username": _("name to sign in with"), "is_active": _("may sign in")}
        help_texts = {
            "username": _("Letters, digits and @ . + - _ only."),
            "is_active": _("Untick when somebody leaves; their work stays in the book."),
        }

    def __init__(self, *args: Any, asked_by: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.asked_by = asked_by

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if self.instance.pk == self.asked_by.pk and (
            cleaned.get("role") != self.asked_by.role or not cleaned.get("is_active")
        ):
            raise ValidationError(
                _("Nobody can take the owner's role from themselves; let another owner do it.")
            )
        return cleaned
