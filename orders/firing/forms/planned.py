"""Forms of loads still to come: moved, changed, and days without firing."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from orders.firing.forms.loads import VersionedForm, degrees_field, moment_field
from stock.models import KilnLoad, LoadTray
from workshop import formats
from workshop.form_fields import CountField, minutes_field
from workshop.forms import DayInput
from workshop.models import ClosedDay, Kiln, NoFiring


class MoveForm(VersionedForm):
    """Where a tray goes: a planned load, or a new one in a kiln at a time."""

    NEW = "new"

    moulds = CountField(label=_("Moulds"), smallest=1)
    to = forms.ChoiceField(label=pgettext_lazy("kiln load", "Into"), choices=[])
    kiln = forms.ModelChoiceField(
        Kiln.objects.filter(in_use=True), label=_("Kiln"), required=False, empty_label=None,
        help_text=_("Only for a new load."),
    )  # fmt: skip
    starts_at = moment_field(label=_("Lit at"), required=False, help_text=_("Only for a new load."))

    def __init__(self, *args: Any, tray: LoadTray, loads: Sequence[KilnLoad], **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.tray = tray
        self.loads = {
            str(load.pk): load
            for load in loads
            if load.state == KilnLoad.State.PLANNED and load.pk != tray.load_id
        }
        self.fields["moulds"].initial = str(tray.moulds)
        self.fields["moulds"].largest = tray.moulds
        self.fields["to"].choices = [
            *((key, load_words(load)) for key, load in self.loads.items()),
            (self.NEW, _("a new load")),
        ]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("to") == self.NEW:
            if not data.get("kiln"):
                self.add_error("kiln", _("Choose the kiln of the new load."))
            if not data.get("starts_at"):
                self.add_error("starts_at", _("Write when the new load is to be lit."))
            elif data["starts_at"] < timezone.now():
                self.add_error("starts_at", _("That has passed; choose a time still to come."))
        return data


class ChangeForm(VersionedForm):
    """A planned load at another time, or fired otherwise."""

    starts_at = moment_field(label=_("Lit at"))
    hold_c = degrees_field(label=_("Temperature, °C"))
    hold_min = minutes_field(label=_("Minutes held"))

    def clean_hold_min(self) -> int:
        minutes = self.cleaned_data["hold_min"]
        if minutes < 1:
            raise ValidationError(_("Hold the load for at least 1 minute."))
        return minutes

    def clean_starts_at(self) -> datetime:
        starts_at = self.cleaned_data["starts_at"]
        if starts_at < timezone.now():
            raise ValidationError(_("That has passed; choose a time still to come."))
        return starts_at


def load_words(load: KilnLoad) -> str:
    """A load in a list to choose from; trays must come with it."""
    taken = sum(tray.moulds * tray.bead.mould.places for tray in load.trays.all())
    starts = timezone.localtime(load.starts_at)
    return _("load %(number)s: %(kiln)s, %(day)s %(time)s, %(free)s places free") % {
        "number": load.number,
        "kiln": load.kiln,
        "day": formats.date_short(starts),
        "time": formats.time_short(starts),
        "free": max(0, load.kiln.places - taken),
    }


class ForbidForm(forms.Form):
    """A day on which nothing is to be fired."""

    day = forms.DateField(label=_("Day"), widget=DayInput())
    kiln = forms.ModelChoiceField(
        Kiln.objects.filter(in_use=True),
        label=_("Kiln"),
        required=False,
        empty_label=_("every kiln"),
    )
    why = forms.CharField(
        label=_("Why"), max_length=80, required=False, help_text=_("Wind, repair, a feast day.")
    )

    def clean_day(self):
        day = self.cleaned_data["day"]
        if day < timezone.localdate():
            raise ValidationError(_("That day has passed; choose today or a later day."))
        if ClosedDay.objects.filter(day=day).exists():
            raise ValidationError(_("The workshop is closed that day already."))
        return day

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        day = data.get("day")
        if day and NoFiring.objects.filter(day=day, kiln=data.get("kiln")).exists():
            self.add_error("day", _("Nothing is fired on that day already."))
        return data

    def row(self) -> NoFiring:
        data = self.cleaned_data
        return NoFiring(day=data["day"], kiln=data["kiln"], why=data["why"])
