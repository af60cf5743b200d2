"""What is typed when a photograph is kept."""

from django import forms
from django.utils.translation import gettext_lazy as _


class PhotoForm(forms.Form):
    """The picture from the camera or a file, and a few words about it."""

    file = forms.FileField(
        label=_("Photograph"),
        help_text=_("It is made small on the telephone. Where it was taken is not kept."),
        error_messages={
            "required": _("Take or choose a photograph first."),
            "empty": _("This file is empty. Take the photograph once more."),
        },
        widget=forms.FileInput(
            attrs={"accept": "image/*", "capture": "environment", "data-photo": ""}
        ),
    )
    note = forms.CharField(
        label=_("What it shows"),
        max_length=120,
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
