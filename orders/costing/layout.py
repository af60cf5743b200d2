"""Beads along the cord: what of a design fits its length, and the length actually reached.

Cord available = finished length − findings. A gap or knot stands between beads only, so beads of
one kind in a row are floor((L + gap) ÷ (bead length + gap)); a pattern of whole repeats repeats
while one more fits (a piece made to length: until the length is reached); how a pattern finishes
with single pieces, and comes nearest to its length, stands in finishing.py.

Sources: the counts agree with published charts of beads per 16 inch strand (L ÷ d) and with
n = floor((L + k) ÷ (d + k)) for knots of length k; linear graduation of n = 2m + 1 beads has the
length m(smallest + largest) + smallest (sum of an arithmetic series).
"""

from collections.abc import Iterable, Sequence
from decimal import Decimal, localcontext

from orders.costing.bead_unit import bead_length_mm
from orders.costing.checks import UNKNOWN, number, plain, whole
from orders.costing.cord import (
    SLACK_MM,
    Pattern,
    graduated_mm,
    graduated_pairs,
    graduated_sizes,
    nearest_pairs,
    repeats,
)
from orders.costing.errors import CostingError
from orders.costing.facts import DesignFacts, Key, PartFacts, WorkshopFacts
from orders.costing.finishing import FITS, NEAREST, REACHES, Row, about, candidates, chosen
from orders.costing.numbers import CONTEXT, ZERO
from orders.costing.strand import Laid, RowLayout, StrandLayout
from workshop.physics.sentences import gettext_noop

MOST_LAID = 20_000
LONGEST_MM = 50_000

NO_PARTS = gettext_noop(
    "The design %(subject)s has no beads on it. Add the first part: a bead and how many."
)
FINDINGS_TOO_LONG = gettext_noop(
    "The findings of %(subject)s take %(findings)s mm and the finished length is only "
    "%(length)s mm, so no cord is left for beads. Make it longer, or choose shorter findings."
)
PARTS_TOO_LONG = gettext_noop(
    "The parts of %(subject)s that stand once take %(parts)s mm and only %(cord)s mm of cord are "
    "left between the findings. Make it longer, or take a part away."
)
NOTHING_FITS = gettext_noop(
    "One repeat of %(subject)s takes %(parts)s mm and only %(cord)s mm of cord are left between "
    "the findings, so nothing fits. Make it longer, or repeat fewer beads."
)
SCATTERED_REPEATS = gettext_noop(
    "The repeated parts of %(subject)s do not stand next to each other. Put them in one row, so "
    "that they make one pattern."
)
TOO_MANY_LAID = gettext_noop(
    "%(subject)s would hold more than %(most)s beads. Check its finished length and bead sizes."
)
TWO_CENTRES = gettext_noop(
    "%(subject)s has a centrepiece before the end of its parts. In a mirrored design the parts "
    "run from the clasp to the middle, so put the centrepiece last."
)
CENTRE_UNMIRRORED = gettext_noop(
    "%(subject)s has a centrepiece but is not mirrored about it. Mirror the design, or make the "
    "centrepiece an ordinary part."
)


def lay_out(workshop: WorkshopFacts, design_key: Key) -> StrandLayout:
    """A design laid out on its cord; worked out once per workshop's facts.

    Raises CostingError when findings or parts leave no room, or the parts are nonsense.
    """
    kept = workshop._kept.get(("layout", design_key))
    if kept is None:
        with localcontext(CONTEXT):
            kept = _lay_out(workshop, workshop.designs[design_key])
        workshop._kept["layout", design_key] = kept
    return kept


def _lay_out(workshop: WorkshopFacts, design: DesignFacts) -> StrandLayout:
    asked_mm, findings_mm = _check_design(design)
    layer = _graduated_row if design.graduated else _pattern_row
    step_mm = number(design.row_step_mm, "row_step_mm", design.name, most=LONGEST_MM)
    rows = []
    for row in range(whole(design.rows, "rows", design.name, least=1, most=100)):
        rows.append(layer(workshop, design, asked_mm + row * step_mm - findings_mm))
    if sum(len(row.laid) for row in rows) > MOST_LAID:
        raise CostingError("finished_mm", TOO_MANY_LAID, subject=design.name, most=MOST_LAID)
    inner = rows[0]
    cord = design.cord
    ratio = number(cord.ratio, "ratio", design.name, most=100)
    tails_mm = number(cord.tails_mm, "tails_mm", design.name, most=LONGEST_MM)
    number(cord.price_per_m, "price_per_m", design.name)
    shorter, longer = _nearest(inner)
    return StrandLayout(
        design=design.key,
        name=design.name,
        asked_mm=asked_mm,
        findings_mm=findings_mm,
        rows=tuple(rows),
        beads=_counted(rows, spacer=False),
        spacers=_counted(rows, spacer=True),
        finished_mm=findings_mm + inner.beads_mm,
        shorter_mm=None if shorter is None else findings_mm + shorter,
        longer_mm=None if longer is None else findings_mm + longer,
        cord_mm=sum((ratio * (findings_mm + row.beads_mm) + tails_mm for row in rows), ZERO),
    )


def _check_design(design: DesignFacts) -> tuple[Decimal, Decimal]:
    if not design.parts:
        raise CostingError("parts", NO_PARTS, subject=design.name)
    asked_mm = number(design.finished_mm, "finished_mm", design.name, above=True, most=LONGEST_MM)
    number(design.gap_mm, "gap_mm", design.name, most=LONGEST_MM)
    findings_mm = ZERO
    for finding in design.findings:
        number(finding.price, "price", finding.name)
        length_mm = number(finding.length_mm, "length_mm", finding.name, most=LONGEST_MM)
        findings_mm += length_mm * whole(finding.count, "count", finding.name)
    if findings_mm >= asked_mm:
        raise CostingError(
            "findings",
            FINDINGS_TOO_LONG,
            subject=design.name,
            findings=plain(findings_mm),
            length=plain(asked_mm),
        )
    for place, part in enumerate(design.parts):
        if part.centre and not (design.mirrored or design.graduated):
            raise CostingError("parts", CENTRE_UNMIRRORED, subject=design.name)
        if part.centre and place != len(design.parts) - 1:
            raise CostingError("parts", TWO_CENTRES, subject=design.name)
    return asked_mm, findings_mm


def _pieces(workshop: WorkshopFacts, design: DesignFacts) -> Iterable[tuple[PartFacts, list[Laid]]]:
    """Each part with its pieces, which know where they stand in the design's parts."""
    place = 0
    for part in design.parts:
        pieces = _laid(workshop, design, part, place)
        place += len(pieces)
        yield part, pieces


def _laid(workshop: WorkshopFacts, design: DesignFacts, part: PartFacts, place: int) -> list[Laid]:
    """The pieces of one part, each with its length on the cord; `place` is that of the first."""
    count = whole(part.count, "count", design.name, least=1, most=MOST_LAID)
    if part.spacer:
        if part.item not in workshop.spacers:
            raise CostingError("parts", UNKNOWN, subject=design.name, what="spacer")
        spacer = workshop.spacers[part.item]
        number(spacer.price, "price", spacer.name)
        length_mm = number(spacer.length_mm, "length_mm", spacer.name, most=LONGEST_MM)
    else:
        if part.item not in workshop.beads:
            raise CostingError("parts", UNKNOWN, subject=design.name, what="bead")
        length_mm = bead_length_mm(workshop, part.item)
    return [
        Laid(part.item, part.spacer, length_mm, part.centre, place + nth) for nth in range(count)
    ]


def split_parts(
    workshop: WorkshopFacts, design: DesignFacts
) -> tuple[list[Laid], list[Laid], list[Laid], list[Laid]]:
    """The design's parts as pieces: before the pattern, the pattern, after it, the centrepiece."""
    before: list[Laid] = []
    pattern: list[Laid] = []
    after: list[Laid] = []
    centre: list[Laid] = []
    for part, pieces in _pieces(workshop, design):
        if part.centre:
            centre += pieces
        elif not part.repeat:
            (after if pattern else before).extend(pieces)
        elif after:
            raise CostingError("parts", SCATTERED_REPEATS, subject=design.name)
        else:
            pattern += pieces
    return before, pattern, after, centre


def total_mm(pieces: Iterable[Laid]) -> Decimal:
    """Length of some pieces on the cord, without the gaps between them [mm]."""
    return sum((piece.length_mm for piece in pieces), ZERO)


def is_finished_singly(design: DesignFacts) -> bool:
    """Whether a pattern may be broken, or a length be missed either way, to come nearer."""
    return design.nearest or not design.whole_repeats


def fit_of(design: DesignFacts) -> str:
    """Which of the lengths a design can have is strung."""
    if design.nearest:
        return NEAREST
    return REACHES if design.made_to_length else FITS


def finishing_row(workshop: WorkshopFacts, design: DesignFacts) -> Row:
    """What is to be laid on a row, as lengths."""
    before, pattern, after, centre = split_parts(workshop, design)
    sides = 2 if design.mirrored else 1
    return Row(
        sides * total_mm(before + after) + total_mm(centre),
        sides * len(before + after) + len(centre),
        tuple(piece.length_mm for piece in pattern),
        tuple(piece.spacer for piece in pattern),
        sides,
        design.gap_mm,
    )


def _finished_row(workshop: WorkshopFacts, design: DesignFacts, available_mm: Decimal) -> RowLayout:
    """A pattern that finishes with single pieces, or comes nearest to its length."""
    before, pattern, after, centre = split_parts(workshop, design)
    row = finishing_row(workshop, design)
    repeat_mm = row.length(1, 0) - row.length(0, 0)
    if repeat_mm <= 0:
        raise CostingError("parts", NOTHING_FITS, subject=design.name, parts=0, cord=0)
    if available_mm / repeat_mm * len(pattern) > MOST_LAID:
        raise CostingError("finished_mm", TOO_MANY_LAID, subject=design.name, most=MOST_LAID)
    found = candidates(row, available_mm, whole=design.whole_repeats)
    best = chosen(found, available_mm, fit_of(design))
    if best is None:
        once_mm = row.length(0, 0)
        sentence = PARTS_TOO_LONG if row.once_count else NOTHING_FITS
        parts = once_mm if row.once_count else repeat_mm - design.gap_mm
        raise CostingError(
            "finished_mm", sentence, subject=design.name, parts=plain(parts),
            cord=plain(available_mm),
        )  # fmt: skip
    times, singles = best.times, best.singles
    if design.mirrored:
        half = before + pattern[len(pattern) - singles :] + pattern * times + after
    else:
        half = before + pattern * times + pattern[:singles] + after
    return RowLayout(
        laid=(*half, *centre, *(half[::-1] if design.mirrored else [])),
        available_mm=available_mm,
        repeats=times,
        beads_mm=best.length_mm,
        more_mm=repeat_mm,
        less_mm=repeat_mm if times else ZERO,
        singles=singles,
        near_mm=about(found, available_mm),
    )


def _pattern_row(workshop: WorkshopFacts, design: DesignFacts, available_mm: Decimal) -> RowLayout:
    before, pattern, after, centre = split_parts(workshop, design)
    if pattern and is_finished_singly(design):
        return _finished_row(workshop, design, available_mm)
    sides = 2 if design.mirrored else 1
    once_mm = sides * total_mm(before + after) + total_mm(centre)
    once_count = sides * len(before + after) + len(centre)
    pattern_mm, pattern_count = sides * total_mm(pattern), sides * len(pattern)
    repeat_mm = pattern_mm + design.gap_mm * pattern_count
    times = 0
    if pattern:
        if repeat_mm <= 0:
            raise CostingError("parts", NOTHING_FITS, subject=design.name, parts=0, cord=0)
        row = Pattern(design.gap_mm, once_mm, once_count, pattern_mm, pattern_count)
        times = repeats(available_mm, row, made_to_length=design.made_to_length)
        cord = plain(available_mm)
        if times < 0:
            taken = once_mm + design.gap_mm * max(0, once_count - 1)
            raise CostingError(
                "finished_mm", PARTS_TOO_LONG, subject=design.name, parts=plain(taken), cord=cord
            )
        if times == 0 and not once_count:
            raise CostingError(
                "finished_mm",
                NOTHING_FITS,
                subject=design.name,
                parts=plain(repeat_mm - design.gap_mm),
                cord=cord,
            )
        if times * pattern_count > MOST_LAID:
            raise CostingError("finished_mm", TOO_MANY_LAID, subject=design.name, most=MOST_LAID)
    half = before + pattern * times + after
    laid = half + centre + (half[::-1] if design.mirrored else [])
    return RowLayout(
        laid=tuple(laid),
        available_mm=available_mm,
        repeats=times,
        beads_mm=once_mm + times * pattern_mm + design.gap_mm * max(0, len(laid) - 1),
        more_mm=repeat_mm if pattern else ZERO,
        less_mm=repeat_mm if times else ZERO,
    )


def graduated_parts(workshop: WorkshopFacts, design: DesignFacts) -> tuple[list[Laid], Laid | None]:
    """One piece of each size, smallest first, and the centrepiece if there is one."""
    firsts = [(part.centre, pieces[0]) for part, pieces in _pieces(workshop, design)]
    sizes = [piece for is_centre, piece in firsts if not is_centre]
    centres = [piece for is_centre, piece in firsts if is_centre]
    if not sizes:
        raise CostingError("parts", NO_PARTS, subject=design.name)
    sizes.sort(key=lambda piece: piece.length_mm)
    return sizes, centres[0] if centres else None


def _graduated_row(
    workshop: WorkshopFacts, design: DesignFacts, available_mm: Decimal
) -> RowLayout:
    sizes, centre = graduated_parts(workshop, design)
    sizes_mm = [piece.length_mm for piece in sizes]
    centre_mm = centre.length_mm if centre else None
    if available_mm / sizes_mm[0] > MOST_LAID:
        raise CostingError("finished_mm", TOO_MANY_LAID, subject=design.name, most=MOST_LAID)
    upward = design.made_to_length and not design.nearest
    pairs = graduated_pairs(sizes_mm, available_mm, design.gap_mm, centre_mm, made_to_length=upward)
    if design.nearest:
        pairs = nearest_pairs(sizes_mm, available_mm, design.gap_mm, centre_mm, pairs)
    if pairs < 0:
        raise CostingError(
            "finished_mm",
            PARTS_TOO_LONG,
            subject=design.name,
            parts=plain(centre_mm or sizes_mm[-1]),
            cord=plain(available_mm),
        )
    half = [sizes[i] for i in graduated_sizes(sizes_mm, pairs, centre is not None)]
    beads_mm = graduated_mm(sizes_mm, pairs, design.gap_mm, centre_mm)
    more_mm = graduated_mm(sizes_mm, pairs + 1, design.gap_mm, centre_mm)
    less_mm = graduated_mm(sizes_mm, pairs - 1, design.gap_mm, centre_mm) if pairs else beads_mm
    return RowLayout(
        laid=(*half, centre or sizes[-1], *half[::-1]),
        available_mm=available_mm,
        repeats=pairs,
        beads_mm=beads_mm,
        more_mm=more_mm - beads_mm,
        less_mm=beads_mm - less_mm,
    )


def _nearest(row: RowLayout) -> tuple[Decimal | None, Decimal | None]:
    """Lengths of beads that come out whole, next below and next above the cord available."""
    if row.near_mm is not None:
        return row.near_mm
    if not row.more_mm:
        return None, None
    reached = row.beads_mm
    if abs(reached - row.available_mm) <= SLACK_MM:
        return reached, reached
    if reached < row.available_mm:
        return reached, reached + row.more_mm
    below = reached - row.less_mm
    return (below if row.repeats and below > 0 else None), reached


def _counted(rows: Sequence[RowLayout], *, spacer: bool) -> tuple[tuple[Key, int], ...]:
    counts: dict[Key, int] = {}
    for row in rows:
        for piece in row.laid:
            if piece.spacer == spacer:
                counts[piece.item] = counts.get(piece.item, 0) + 1
    return tuple(counts.items())
