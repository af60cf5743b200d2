"""What other rooms do along with the book; each hangs itself on when the program starts."""

from collections.abc import Iterable, Mapping

from stock.models import Item, Posting, StockLocation
from workshop.models import Person


class Follower:
    """What another room does when a posting is taken back or a shelf counted; the orders keep
    theirs in step so."""

    def together(self, posting: Posting) -> list[Posting]:
        """Postings that are taken back as one with this one, itself among them; else none."""
        return []

    def before(self, postings: Iterable[Posting], person: Person) -> None:
        """Let go of what would stand in the way, or refuse."""

    def before_count(self, place: StockLocation, found: Mapping[Item, int]) -> None:
        """Let go of what a count shows not to be there."""

    def after_count(self, place: StockLocation, found: Mapping[Item, int]) -> None:
        """What was found may be wanted."""

    def after(self, postings: Iterable[Posting], person: Person) -> None:
        """Bring what is kept beside the book back to where it stood."""


FOLLOWERS: list[Follower] = []
