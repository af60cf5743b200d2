"""What the physics tells the keeper: a verdict with its number, its source and its range.

The physics advises, the keeper decides: nothing here blocks anything.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from workshop.physics.sentences import said


@dataclass(frozen=True, slots=True)
class Advice:
    """One piece of advice about glass, heat or a firing.

    verdict     a short word of the trade ("porous", "do not mix"), plain English
    number      the figure behind it, in `unit`
    unit        of the number, "" for a ratio
    template    the whole sentence with %(name)s places; `params` fills them
    source      author, year, or "common practice, no source"
    range_note  where the formula holds and how far to trust it
    in_range    False where the question lies outside that

    >>> Advice("fine", 1.0, "1e-7/K", "They differ by %(d)s.", {"d": 1}, "Appen", "", True).sentence
    'They differ by 1.'
    """

    verdict: str
    number: float
    unit: str
    template: str
    params: Mapping[str, object] = field(hash=False)
    source: str = ""
    range_note: str = ""
    in_range: bool = True

    @property
    def sentence(self) -> str:
        """The whole sentence, its numbers filled in."""
        return self.template % self.params if self.params else self.template

    def said(self, gettext: Callable[[str], str]) -> str:
        """The whole sentence in the language of a gettext."""
        return said(self.template, self.params, gettext)
