"""Forms of the phones' door."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from workshop.models import Person


class WordForm(forms.Form):
    """The word that the desk shows."""

    word = forms.CharField(
        label=_("Word"),
        max_length=40,
        help_text=_("Three groups of four, as the desk shows them; each is good once."),
        error_messages={"required": _("Type the word that the desk shows.")},
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none"}),
    )


class PhoneOfForm(forms.Form):
    """Whose phone is paired; only the owner is asked."""

    person = forms.ModelChoiceField(Person.objects.none(), label=_("Whose phone"), empty_label=None)

    def __init__(self, *args: Any, asked_by: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        people = Person.objects.filter(is_active=True)
        field = self.fields["person"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = people if asked_by.is_owner else people.filter(pk=asked_by.pk)
        field.initial = asked_by.pk


def pin_field(label: Any, *, autocomplete: str) -> forms.CharField:
    """A box of digits; what is typed is not shown."""
    return forms.CharField(
        label=label,
        max_length=8,
        error_messages={"required": _("Type your PIN.")},
        widget=forms.PasswordInput(
            attrs={"inputmode": "numeric", "autocomplete": autocomplete, "autofocus": True}
        ),
    )


class PinForm(forms.Form):
    """A new PIN, typed twice."""

    pin = pin_field(_("New PIN"), autocomplete="off")
    again = forms.CharField(
        label=_("Once more"),
        max_length=8,
        error_messages={"required": _("Type the same PIN once more.")},
        widget=forms.PasswordInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )

    def clean_again(self) -> str:
        again = self.cleaned_data["again"]
        if "pin" in self.cleaned_data and again != self.cleaned_data["pin"]:
            raise forms.ValidationError(_("The two are not the same."))
        return again


class BackForm(forms.Form):
    """Who comes back on this phone, and their PIN."""

    person = forms.ModelChoiceField(
        Person.objects.none(),
        label=_("Who"),
        empty_label=None,
        widget=forms.RadioSelect,
        error_messages={"required": _("Tap your name.")},
    )
    pin = pin_field(_("PIN"), autocomplete="off")

    def __init__(self, *args: Any, people: list[Person], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["person"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = Person.objects.filter(pk__in=[each.pk for each in people])
        if len(people) == 1:
            field.initial = people[0].pk
