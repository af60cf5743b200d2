"""What an owner's thing is called, in the language of whoever reads of it."""

from django.db import models
from django.utils.translation import get_language
from django.utils.translation import gettext_lazy as _


class NamedFurther(models.Model):
    """A thing with a `name`, which may have others for readers of further languages.

    further_names  by the code of a language
    """

    further_names = models.JSONField(_("name in further languages"), default=dict, blank=True)

    class Meta:
        abstract = True

    @property
    def name_for_reader(self) -> str:
        """For papers, the price list, tags and customers' pages; where none is given, its name."""
        own: str = self.name  # type: ignore[attr-defined]
        return self.further_names.get(get_language() or "") or own
