"""What is typed when a photograph is kept."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _


class PhotoBox(forms.FileField):
    """A picture from the camera or a file."""

    widget = forms.FileInput(
        attrs={"accept": "image/*", "capture": "environment", "data-photo": ""}
    )

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(
            label=_("Photograph"),
            help_text=_("It is made small on the telephone. Where it was taken is not kept."),
            error_messages={
                "required": _("Take or choose a photograph first."),
                "empty": _("This file is empty. Take the photograph once more."),
            },
            **kwargs,
        )


class PhotoForm(forms.Form):
    """The picture, and a few words about it."""

    file = PhotoBox()
    note = forms.CharField(
        label=_("What it shows"),
        max_length=120,
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
