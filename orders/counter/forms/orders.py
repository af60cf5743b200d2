"""Small forms on an order's own page."""

from django import forms
from django.utils.translation import gettext_lazy as _

from workshop.form_fields import CountField


class CancelForm(forms.Form):
    why = forms.CharField(
        label=_("why"),
        required=False,
        max_length=200,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )


class StringForm(forms.Form):
    strands = CountField(
        label=_("strung now"),
        smallest=1,
        error_messages={"required": _("Write how many strands were strung.")},
    )
