"""A strand design's row into costing facts: one builder for its price and for its drawing.

A box that is added to the layout of a design is added here, and both hear of it.
"""

from collections.abc import Iterable
from decimal import Decimal

from orders.costing.facts import (
    CordFacts,
    DesignFacts,
    FindingFacts,
    LearningFacts,
    PartFacts,
    RateFacts,
)
from orders.models import DesignPart, Finding, StrandDesign

NOT_SAVED = 0  # the key of a design that is only being typed


def design_facts(
    design: StrandDesign,
    parts: Iterable[DesignPart],
    own_rates: tuple[RateFacts, ...] | None = None,
) -> DesignFacts:
    """A design with its own parts in their order; `clasp` and `cord` come with the row.

    own_rates  what is done to one, where that is not the workshop's stringing
    """
    clasp = design.clasp
    return DesignFacts(
        key=design.pk or NOT_SAVED,
        name=design.name,
        finished_mm=design.finished_mm,
        parts=tuple(part_facts(part) for part in parts),
        gap_mm=gap_between(design),
        knotted=design.gap == StrandDesign.Gap.KNOT,
        mirrored=design.mirrored,
        graduated=design.graduated,
        made_to_length=design.fit == StrandDesign.Fit.TO_LENGTH,
        nearest=design.fit == StrandDesign.Fit.NEAREST,
        whole_repeats=design.whole_repeats,
        rows=design.rows,
        row_step_mm=design.row_step_mm,
        findings=_clasp(clasp),
        cord=_cord(design),
        learning=learning_facts(design),
        own_rates=own_rates,
    )


def _clasp(clasp: Finding | None) -> tuple[FindingFacts, ...]:
    if clasp is None:
        return ()
    return (FindingFacts(clasp.name, clasp.length_mm, clasp.price, key=clasp.pk),)


def _cord(design: StrandDesign) -> CordFacts:
    ratio, tails_mm = Decimal(design.cord_ratio), Decimal(design.cord_tails_mm)
    if design.cord is None:
        return CordFacts(ratio=ratio, tails_mm=tails_mm)
    return CordFacts(design.cord.name, ratio, tails_mm, design.cord.price, design.cord.pk)


def part_facts(part: DesignPart) -> PartFacts:
    return PartFacts(
        item=part.bead_id or part.spacer_id or 0,
        count=part.count,
        spacer=part.bead_id is None,
        repeat=part.role == DesignPart.Role.REPEAT,
        centre=part.role == DesignPart.Role.CENTRE,
    )


def gap_between(design: StrandDesign) -> Decimal:
    return Decimal(0) if design.gap == StrandDesign.Gap.NONE else Decimal(design.gap_mm)


def learning_facts(design: StrandDesign) -> LearningFacts | None:
    """How the hands learn a new design; None when they know it."""
    if design.learning_rate is None:
        return None
    return LearningFacts(
        design.learning_rate,
        design.learning_first,
        design.learning_made,
        design.learning_practised,
    )
