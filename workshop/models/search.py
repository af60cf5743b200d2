"""What things are found by, word by word, beside the rows that it is written in."""

from dataclasses import dataclass
from typing import Any

from django.db import models


@dataclass(frozen=True)
class FoundBy:
    """Fields that a row is found by: any part of a word, whole words from their beginning, or a
    number however it is spaced. Named `FOUND_BY` on a model."""

    parts: tuple[str, ...] = ()
    words: tuple[str, ...] = ()
    digits: tuple[str, ...] = ()

    @property
    def fields(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys((*self.parts, *self.words, *self.digits)))


class PlainOrderField(models.CharField):
    """Letters in the order of their numbers on every database, so that one stretch of an index is
    all that begins alike."""

    def db_parameters(self, connection: Any) -> Any:
        plain = "C" if connection.vendor == "postgresql" else None
        return {**super().db_parameters(connection), "collation": plain}


class SearchPart(models.Model):
    """The end of a word, from one of its letters on: whoever looks for a part of it finds it here.

    Kept by `workshop/search.py` when its row is saved, and proven by `check_book`.
    """

    LONGEST = 20

    kind = models.CharField(max_length=20)
    thing = models.BigIntegerField()
    text = PlainOrderField(max_length=LONGEST)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["kind", "text", "thing"], name="search_part_once"),
        ]
        indexes = [models.Index(fields=["kind", "thing"], name="search_parts_of_thing")]

    def __str__(self) -> str:
        return f"{self.kind} {self.thing}: {self.text}"
