"""What a thing is called: for whoever reads of it, and in the order in which names stand."""

from typing import Any

from django.db import models
from django.utils.translation import get_language
from django.utils.translation import gettext_lazy as _

from workshop.letters import sorting_key
from workshop.models.search import PlainOrderField


class SortsAs(PlainOrderField):
    """The name as it is sorted by, written whenever its row is saved."""

    def __init__(self, **given: Any) -> None:
        usual = {"max_length": 260, "default": "", "editable": False, "db_index": True}
        super().__init__(**usual | given)

    def pre_save(self, model_instance: Any, add: bool) -> str:
        key = sorting_key(model_instance.name)
        setattr(model_instance, self.attname, key)
        return key


class SortedByName(models.Model):
    """A thing with a `name` that lists sort by: no database sorts accents as a reader does.

    A column serves every database alike and its keys lead from page to page. PyICU would have to
    be compiled, pyuca reads two megabytes into every worker, and only PostgreSQL has ICU's order.
    """

    sorts_as = SortsAs()

    class Meta:
        abstract = True


class NamedFurther(SortedByName):
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
