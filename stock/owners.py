"""Work on a batch that another room keeps: beads of an order are finished on the bench's page."""

from collections.abc import Callable
from dataclasses import dataclass

from stock.models import BeadBatch


@dataclass(frozen=True)
class Elsewhere:
    """Where a batch's next work is written down, and why not here."""

    sentence: str
    url: str
    whole: bool = True  # all of it; else only what is in the kiln now


# Rooms that keep work on batches say so here when the program starts.
KEEPERS: list[Callable[[BeadBatch], Elsewhere | None]] = []


def worked_on_elsewhere(batch: BeadBatch) -> Elsewhere | None:
    """The first room that keeps the work on a batch; None when nobody but the shelf does."""
    return next((found for keeper in KEEPERS if (found := keeper(batch))), None)
