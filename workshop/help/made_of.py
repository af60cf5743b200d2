"""What help is made of."""

from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext_lazy as _

from workshop.help.words import WORDS, Word

# The three signs of every help, and what each stands for.
MEANINGS = {"what": _("What this is"), "first": _("What comes first"), "care": _("Take care")}


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
    def lines(self) -> list[tuple[str, Any, Any]]:
        """Each sentence with its sign, and what that stands for."""
        said = (self.what, self.first, self.wrong)
        return [(*sign, line) for sign, line in zip(MEANINGS.items(), said, strict=True)]

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
