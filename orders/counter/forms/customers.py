"""The form of a customer."""

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from orders.models import Customer
from workshop.form_fields import MoneyBox
from workshop.models import Business


class CustomerForm(forms.ModelForm):
    credit_limit = MoneyBox(
        label=gettext_lazy("may owe up to"),
        min_value=0,
        required=False,
        help_text=gettext_lazy("Left empty: no limit."),
    )

    class Meta:
        model = Customer
        fields = [
            "name",
            "group",
            "phone",
            "email",
            "address",
            "country",
            "language",
            "tax_number",
            "prices_shown",
            "credit_limit",
            "deposit_share",
            "note",
            "in_use",
        ]
        widgets = {
            "name": forms.TextInput(attrs={"autocomplete": "off"}),
            "phone": forms.TextInput(attrs={"type": "tel", "inputmode": "tel"}),
            "address": forms.Textarea(attrs={"rows": 3}),
            "note": forms.Textarea(attrs={"rows": 2}),
        }

    def clean_name(self) -> str:
        return " ".join(self.cleaned_data["name"].split())

    def clean_country(self) -> str:
        country = self.cleaned_data["country"].strip().upper()
        if country and not (len(country) == 2 and country.isalpha()):
            raise ValidationError(_("Write the two letters of the country, such as PT."))
        return country

    def clean_phone(self) -> str:
        """A number that can be read is kept in its international form (E.164, spaced)."""
        text = self.cleaned_data["phone"].strip()
        if not text:
            return ""
        import phonenumbers

        region = Business.in_force().country or None
        try:
            number = phonenumbers.parse(text, region)
        except phonenumbers.NumberParseException:
            return text
        if not phonenumbers.is_possible_number(number):
            return text
        return phonenumbers.format_number(number, phonenumbers.PhoneNumberFormat.INTERNATIONAL)
