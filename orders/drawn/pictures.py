"""Beads drawn for sheets of paper."""

from collections.abc import Sequence
from typing import Any

from workshop.drawing import strand_svg


def bead_pictures(drawn: Sequence[tuple[int, Any]]) -> dict[int, str]:
    """Each bead's picture as SVG, by its key; beads that cannot be drawn have none."""
    return {
        pk: strand_svg(strand, width=120, paper=True, prefix=f"b{pk}")
        for pk, strand in drawn
        if strand is not None
    }
