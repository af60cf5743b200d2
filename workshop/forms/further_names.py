"""The boxes for what a thing is called in further languages: one a language."""

import re
from collections.abc import Mapping
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from workshop.languages import CODES, NAMES
from workshop.models import Business

# How a sheet's cell holds them: “fr: Bracelet du port; de: Hafenarmband”.
MARKED = re.compile(rf"(?:^|;)\s*({'|'.join(CODES)})\s*:")


def as_text(names: Mapping[str, str]) -> str:
    """Names by language in one line.

    >>> as_text({"fr": "Bracelet du port", "de": "Hafenarmband"})
    'fr: Bracelet du port; de: Hafenarmband'
    """
    return "; ".join(f"{code}: {names[code]}" for code in CODES if names.get(code))


def as_names(text: str) -> dict[str, str]:
    """Names by language, as `as_text` writes them; ValueError for what has no language.

    >>> as_names("de: Hafenarmband; fr:Bracelet du port; es:")
    {'de': 'Hafenarmband', 'fr': 'Bracelet du port'}
    """
    before, *pairs = MARKED.split(text)
    if before.strip():
        raise ValueError(text)
    told = zip(pairs[::2], pairs[1::2], strict=True)
    return {code: " ".join(name.split()) for code, name in told if name.strip()}


class BoxByLanguage(forms.Widget):
    """A box for each language but the workshop's own, whose name is the thing's name itself."""

    template_name = "further_names.html"
    use_fieldset = True

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        context = super().get_context(name, value, attrs)
        try:
            names = as_names(value or "")
        except ValueError:
            names = {}
        own = Business.in_force().language
        context["boxes"] = [
            {"code": code, "language": language, "text": names.get(code, "")}
            for code, language in NAMES
            if code != own or names.get(code)
        ]
        return context

    def value_from_datadict(self, data: Any, files: Any, name: str) -> str:
        """One line of all boxes; a sheet sends such a line itself."""
        if name in data:
            return str(data[name])
        return as_text({code: data.get(f"{name}_{code}", "").strip() for code in CODES})

    def value_omitted_from_data(self, data: Any, files: Any, name: str) -> bool:
        return name not in data and not any(f"{name}_{code}" in data for code in CODES)

    def id_for_label(self, id_: str) -> str:
        return ""


class FurtherNames(forms.Field):
    """Gives names by the code of a language; left empty, the thing's own name serves."""

    widget = BoxByLanguage

    def __init__(self, *, longest: int, **kwargs: Any) -> None:
        self.longest = longest
        super().__init__(
            required=False,
            label=_("name in further languages"),
            help_text=_("For papers, price list and tags. Left empty: its own name."),
            **kwargs,
        )
        self.widget.attrs["maxlength"] = longest

    def prepare_value(self, value: Any) -> str:
        return as_text(value) if isinstance(value, Mapping) else value or ""

    def to_python(self, value: Any) -> dict[str, str]:
        try:
            names = as_names(value or "")
        except ValueError as error:
            raise ValidationError(
                _("Write the language before each name, such as “fr: Bracelet du port”.")
            ) from error
        for name in names.values():
            if len(name) > self.longest:
                raise ValidationError(
                    _("“%(name)s” is too long; write at most %(most)s letters.")
                    % {"name": name, "most": self.longest}
                )
        return names

    def has_changed(self, initial: Any, data: Any) -> bool:
        return self.prepare_value(initial) != str(data or "")
