"""How many strands are strung to stock."""

from django import forms
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from stock.forms.glass import today_or_earlier
from stock.forms.missing import SaysWhatIsMissing
from workshop.form_fields import CountField, minutes_field
from workshop.forms import DayInput


class ToStockForm(SaysWhatIsMissing, forms.Form):
    strands = CountField(
        label=_("Strands strung"),
        smallest=1,
        largest=10_000,
        error_messages={"required": _("Write how many strands were strung.")},
    )
    on = forms.DateField(
        label=_("Day"), widget=DayInput(), validators=[today_or_earlier], initial=timezone.localdate
    )
    minutes = minutes_field(label=_("Minutes"), required=False)
