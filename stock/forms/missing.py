"""What an empty box says when something belongs into it."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

WRITE, CHOOSE = _("Write this in; it is needed."), _("Choose one; it is needed.")


class SaysWhatIsMissing:
    """Forms whose empty boxes ask for what belongs there, in a sentence."""

    fields: dict[str, Any]

    def full_clean(self) -> None:
        usual = forms.Field.default_error_messages["required"]
        for field in self.fields.values():
            if field.error_messages.get("required") == usual:
                chosen = isinstance(field, (forms.ChoiceField, forms.ModelChoiceField))
                field.error_messages["required"] = CHOOSE if chosen else WRITE
        super().full_clean()  # type: ignore[misc]
