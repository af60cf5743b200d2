"""`manage.py draw_model`: the data model as pictures, drawn from the models themselves."""

from argparse import ArgumentParser
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from django.apps import apps
from django.conf import settings
from django.core.management.base import BaseCommand
from django.db.models import Field, Model

APPS = ("workshop", "stock", "orders")
HEAD = """# The data model

Drawn from the models by `python3 manage.py draw_model`; a test tells when it is old. A line reads
from the row that is pointed at to the rows that point at it, and names their field: `||--o{` each
of them has one, `|o--o{` each may have one, `||--||` one to one, `}o--o{` many to many.
"""


class Command(BaseCommand):
    help = "Draw the data model into workshop/model.md."
    requires_system_checks = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("place", nargs="?", type=Path, help="usually workshop/model.md")

    def handle(self, *args: Any, place: Path | None, **options: Any) -> None:
        (place or PLACE).write_text(model_page(), encoding="utf-8")


PLACE = settings.BASE_DIR / "workshop" / "model.md"


def model_page() -> str:
    """The whole page: of each app its picture and what each model keeps."""
    return "\n".join([HEAD, *(line for app in APPS for line in _section(app))])


def _section(app: str) -> Iterator[str]:
    models = sorted(apps.get_app_config(app).get_models(), key=lambda model: model.__name__)
    yield f"## `{app}/`\n\n```mermaid\nerDiagram"
    for model in models:
        lines = [_line(model, field) for field in model._meta.get_fields() if _is_drawn(field)]
        yield from lines or [f"    {model.__name__}"]
    yield "```\n\n| model | what a row is |\n| --- | --- |"
    yield from (f"| `{model.__name__}` | {_what(model)} |" for model in models)
    yield ""


def _is_drawn(field: Any) -> bool:
    """A key of ours to a row of ours; the way back is the same line."""
    to = field.related_model
    return isinstance(field, Field) and to is not None and to._meta.app_label in APPS


def _line(model: type[Model], field: Any) -> str:
    if field.many_to_many:
        ends = "}o--o{"
    elif field.one_to_one:
        ends = "|o--||" if field.null else "||--||"
    else:
        ends = "|o--o{" if field.null else "||--o{"
    return f"    {field.related_model.__name__} {ends} {model.__name__} : {field.name}"


def _what(model: type[Model]) -> str:
    said = (model.__doc__ or "").strip().splitlines()[0]
    return "" if said.startswith(f"{model.__name__}(") else said
