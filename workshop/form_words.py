"""What any box says when something belongs into it, is out of bounds, or is not on its list."""

from django import forms
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext_lazy

EVERY_BOX = {
    "required": _("Write this in; it is needed."),
    "min_value": _("That is too little; write %(limit_value)s or more."),
    "max_value": _("That is too much; write %(limit_value)s or less."),
    "max_length": ngettext_lazy(
        "Only %(limit_value)d letter fits here; shorten the %(show_value)d written.",
        "Only %(limit_value)d letters fit here; shorten the %(show_value)d written.",
        "limit_value",
    ),
}
EVERY_LIST = {
    "required": _("Choose one; it is needed."),
    "invalid_choice": _("That is not on the list any more; choose another."),
}


def speak_plainly() -> None:
    """Give Django's own boxes our sentences; before the first form is read in."""
    forms.Field.default_error_messages.update(EVERY_BOX)
    for chosen in (forms.ChoiceField, forms.ModelChoiceField):
        chosen.default_error_messages.update(EVERY_LIST)
