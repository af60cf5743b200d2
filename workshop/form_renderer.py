"""How boxes are written: as Django writes them, but for what stands in templates/forms."""

from pathlib import Path

from django.forms.renderers import DjangoTemplates
from django.utils.functional import cached_property

OURS = Path(__file__).resolve().parent.parent / "templates" / "forms"


class FormRenderer(DjangoTemplates):
    """Empty choices are words ("choose", "none"), not dashes."""

    @cached_property
    def engine(self):
        engine = super().engine
        engine.engine.dirs = [OURS, *engine.engine.dirs]
        return engine
