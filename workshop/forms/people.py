"""Forms of those who work here: signing in, the second step, a person."""

from typing import Any

from django import forms
from django.contrib.auth.forms import AuthenticationForm
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from workshop.models import Person, Skill


class SignInForm(AuthenticationForm):
    error_messages = {
        "invalid_login": _(
            "No person of that name has that password. Both are read exactly as typed, "
            "capital letters too."
        ),
        "inactive": _("This person may not sign in any more; ask the owner."),
    }


class LanguageForm(forms.ModelForm):
    """In which language the pages speak to somebody."""

    class Meta:
        model = Person
        fields = ["language"]


class CodeForm(forms.Form):
    """The six digits of a telephone, or a spare code."""

    code = forms.CharField(
        label=_("Code"),
        max_length=20,
        help_text=_("The six digits that the telephone shows now, or one of the spare codes."),
        error_messages={"required": _("Type the code that the telephone shows.")},
        widget=forms.TextInput(
            attrs={"autocomplete": "one-time-code", "inputmode": "text", "autofocus": True}
        ),
    )

    def clean_code(self) -> str:
        return self.cleaned_data["code"].replace(" ", "").replace("-", "").lower()


class PersonForm(forms.ModelForm):
    """Somebody who works here; the password they choose themselves, by a link that works once."""

    skills = forms.MultipleChoiceField(
        label=Person._meta.get_field("skills").verbose_name,
        choices=[each for each in Skill.choices if each[0] != Skill.FIRING],
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=Person._meta.get_field("skills").help_text,
    )

    class Meta:
        model = Person
        fields = ["username", "full_name", "role", "skills", "email", "language", "is_active"]
        labels = {"username": _("name to sign in with"), "is_active": _("may sign in")}
        help_texts = {
            "username": _("Letters, digits and @ . + - _ only."),
            "is_active": _("Untick when somebody leaves; their work stays in the book."),
        }

    def __init__(self, *args: Any, asked_by: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.asked_by = asked_by

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if self.instance.pk == self.asked_by.pk and (
            cleaned.get("role") != self.asked_by.role or not cleaned.get("is_active")
        ):
            raise ValidationError(
                _("Nobody can take the owner's role from themselves; let another owner do it.")
            )
        return cleaned
