"""The log in the words of the screens: what was acted on, and what changed."""

import re
from datetime import date
from decimal import Decimal
from functools import cache
from typing import Any

from django.apps import apps
from django.core.exceptions import FieldDoesNotExist
from django.db.models import Model
from django.utils.text import capfirst
from django.utils.translation import gettext as _

from workshop import formats

DECIMAL = re.compile(r"-?\d+\.\d+")
DAY = re.compile(r"\d{4}-\d\d-\d\d")


def kinds() -> dict[str, str]:
    """Everything of the book that can be acted on, by the kind written in the log."""
    named = {name: str(model._meta.verbose_name) for name, model in _models().items()}
    return dict(sorted(named.items(), key=lambda each: each[1]))


def subject(kind: str, ref: str) -> str:
    """ "VAT rate 3" for a kind and a reference of the log."""
    model = _models().get(kind)
    return f"{model._meta.verbose_name if model else kind} {ref}".strip()


def changes(kind: str, before: dict[str, Any] | None, after: dict[str, Any] | None) -> str:
    """What was one thing and is another now, and what was added or taken away."""
    was, now = before or {}, after or {}
    told = []
    for name in sorted({*was, *now}):
        label, old, new = _label(kind, name), _value(kind, name, was), _value(kind, name, now)
        told.append(f"{label}: {old} → {new}" if name in was else f"{label}: {new}")
    return "; ".join(told)


@cache
def _models() -> dict[str, type[Model]]:
    own = (apps.get_app_config(name) for name in ("workshop", "stock", "orders"))
    return {model._meta.model_name or "": model for app in own for model in app.get_models()}


def _field(kind: str, name: str) -> Any:
    model = _models().get(kind)
    try:
        return model._meta.get_field(name) if model else None
    except FieldDoesNotExist:
        return None


def _label(kind: str, name: str) -> str:
    field = _field(kind, name)
    return str(getattr(field, "verbose_name", "") or name.replace("_", " "))


def _value(kind: str, name: str, told: dict[str, Any]) -> str:
    value = told.get(name, "")
    if value in ("", None, [], {}):
        return "–"
    if value in ("True", "False", True, False):
        return _("yes") if value in ("True", True) else _("no")
    if isinstance(value, list):
        return ", ".join(_plain(each) for each in value)
    if isinstance(value, dict):
        return ", ".join(f"{key} {_plain(each)}" for key, each in value.items())
    choices = dict(getattr(_field(kind, name), "flatchoices", ()) or ())
    return capfirst(str(choices[value])) if value in choices else _plain(value)


def _plain(value: Any) -> str:
    """A figure without the noughts the book keeps, a day as it is said, all else as it stands."""
    text = str(value)
    if DECIMAL.fullmatch(text):
        return formats.quantity(Decimal(text).normalize() + 0)
    if DAY.fullmatch(text):
        try:
            return formats.date_short(date.fromisoformat(text))
        except ValueError:
            return text
    return text
