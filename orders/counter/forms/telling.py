"""What is typed when a customer is told something."""

from django import forms
from django.utils.translation import gettext_lazy as _

from orders.money.forms.money import DayInput


class LateForm(forms.Form):
    """The day an order will be ready instead."""

    day = forms.DateField(label=_("Ready on"), required=False, widget=DayInput)


class SentForm(forms.Form):
    """A text as it was sent, and to which number."""

    kind = forms.CharField(max_length=20, widget=forms.HiddenInput)
    to = forms.CharField(
        label=_("Telephone"),
        max_length=40,
        required=False,
        widget=forms.TextInput(attrs={"type": "tel", "inputmode": "tel", "autocomplete": "off"}),
    )
    text = forms.CharField(
        label=_("Text"), required=False, widget=forms.Textarea(attrs={"rows": 4})
    )
