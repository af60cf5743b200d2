"""What help is made of."""

from dataclasses import dataclass
from typing import Any

from workshop.help.words import WORDS, Word


@dataclass(frozen=True)
class Help:
    """One subject, for every page that belongs to it.

    title  as the guide heads it; what, first, wrong  a short sentence each
    pages  by name; terms  keys of `WORDS` that are explained at a tap; sign  beside the title
    """

    title: Any
    what: Any
    first: Any
    wrong: Any
    pages: tuple[str, ...]
    terms: tuple[str, ...] = ()
    sign: str = "what"

    @property
    def lines(self) -> tuple[tuple[str, Any], ...]:
        """Each sentence with its sign."""
        return (("what", self.what), ("first", self.first), ("care", self.wrong))

    @property
    def words(self) -> tuple[Word, ...]:
        return tuple(WORDS[term] for term in self.terms)


@dataclass(frozen=True)
class Chapter:
    """What one person needs; a chapter of the guide."""

    key: str
    title: Any
    helps: tuple[Help, ...]


def pages(names: str, app: str) -> tuple[str, ...]:
    """Names of pages of one app, written in a row.

    >>> pages("sack sack_log", "stock")
    ('stock:sack', 'stock:sack_log')
    """
    return tuple(f"{app}:{name}" for name in names.split())
