"""What a box says when something belongs into it, or when a figure is out of bounds."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

WRITE, CHOOSE = _("Write this in; it is needed."), _("Choose one; it is needed.")
BOUNDS = {
    "min_value": _("That is too little; write %(limit_value)s or more."),
    "max_value": _("That is too much; write %(limit_value)s or less."),
}


class SaysWhatIsMissing:
    """Forms whose boxes ask for what belongs there, and name the bounds, in a sentence."""

    fields: dict[str, Any]

    def full_clean(self) -> None:
        usual = forms.Field.default_error_messages["required"]
        for field in self.fields.values():
            if field.error_messages.get("required") == usual:
                chosen = isinstance(field, (forms.ChoiceField, forms.ModelChoiceField))
                field.error_messages["required"] = CHOOSE if chosen else WRITE
            for code, sentence in BOUNDS.items():
                field.error_messages.setdefault(code, sentence)
        super().full_clean()  # type: ignore[misc]
