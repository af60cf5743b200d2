"""The form of a balance from before the workshop kept this book."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from orders.models import Customer, Document, Payment
from stock.forms.glass import today_or_earlier
from workshop.form_fields import MoneyBox
from workshop.forms import DayInput
from workshop.models import Business
from workshop.money import round_half_up


class BalanceForm(forms.Form):
    """What one customer owes, or has in credit, from one old paper."""

    customer = forms.ModelChoiceField(Customer.objects.all(), label=gettext_lazy("customer"))
    amount = MoneyBox(
        label=gettext_lazy("amount"),
        help_text=gettext_lazy("Above 0 the customer owes it; below 0 it is their credit."),
    )
    number = forms.CharField(
        label=gettext_lazy("number"),
        max_length=30,
        required=False,
        help_text=gettext_lazy("Of the old invoice, if there was one."),
    )
    issued_on = forms.DateField(
        label=gettext_lazy("day of the invoice"),
        required=False,
        widget=DayInput(),
        validators=[today_or_earlier],
        help_text=gettext_lazy("Left empty: today."),
    )
    due_on = forms.DateField(
        label=gettext_lazy("to be paid by"),
        required=False,
        widget=DayInput(),
        help_text=gettext_lazy("Left empty: the day of the invoice."),
    )

    def clean_amount(self):
        amount = self.cleaned_data["amount"]
        currency = Business.in_force().currency
        if not amount or round_half_up(amount, currency) != amount:
            raise ValidationError(
                _("An amount must not be 0, nor finer than %s has coins.") % currency
            )
        return amount

    def clean_number(self) -> str:
        number = self.cleaned_data["number"]
        papers = Document.objects.filter(kind=Document.Kind.OPENING, number=number)
        payments = Payment.objects.filter(method=Payment.Method.OPENING, reference=number)
        if number and (papers.exists() or payments.exists()):
            raise ValidationError(
                _("%s was brought forward already, or stands twice here.") % number
            )
        return number

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("issued_on") and data.get("due_on") and data["due_on"] < data["issued_on"]:
            self.add_error("due_on", _("It cannot be due before the day of the invoice."))
        return data
