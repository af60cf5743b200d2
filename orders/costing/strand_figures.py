"""The figures of a strand laid out: how many of each bead fit, the length reached, the cord."""

from collections.abc import Callable
from typing import Any

from orders.costing.bead_unit import bead_length_mm, dimensions
from orders.costing.facts import BeadFacts, DesignFacts, Key, WorkshopFacts
from orders.costing.figures import Figure, Rule, Worked, fact, rule, total
from orders.costing.finishing import FITS, NEAREST, REACHES
from orders.costing.layout import (
    finishing_row,
    fit_of,
    graduated_parts,
    is_finished_singly,
    lay_out,
    split_parts,
)
from orders.costing.numbers import ZERO
from orders.costing.strand import Laid, RowLayout
from workshop.physics.sentences import gettext_noop as _
from workshop.physics.shapes import SHAPE_FIELDS

LENGTH = _("Length along the bore")
OWN_LENGTH = {sort: fact(LENGTH, "mm", sort) for sort in ("bead", "spacer")}
SHAPE_LENGTH = {shape: Rule(LENGTH, "mm", f"length_{shape}") for shape in SHAPE_FIELDS}
MANY = fact(_("How many"), "beads", "design")
OF_ONE_KIND = rule(_("Takes of the cord"), "mm", "product")

ASKED = fact(_("Finished length asked for"), "mm", "design", "asked")
STEP = fact(_("Step between rows"), "mm", "design")
ROWS_INSIDE = fact(_("Rows inside it"), "", "design")
LONGER_BY = rule(_("Longer by"), "mm", "product")
ROW_LENGTH = total(_("Length of this row"), "mm")
FINDINGS = fact(_("Length of the findings"), "mm", "design", "findings")
AVAILABLE = rule(_("Cord available"), "mm", "difference")
GAP = fact(_("Gap between beads"), "mm", "design", "gap")
KNOT = fact(_("Knot between beads"), "mm", "design", "gap")

ONCE_MM = total(_("Length of what stands once"), "mm", "once")
ONCE_COUNT = fact(_("How many stand once"), "beads", "design")
REPEAT_MM = total(_("Length of one repeat"), "mm", "repeat")
REPEAT_COUNT = fact(_("How many in one repeat"), "beads", "design")
REPEATS_DOWN = rule(_("Repeats"), "", "repeats_down")
REPEATS_UP = rule(_("Repeats"), "", "repeats_up")
SORTS = (FITS, NEAREST, REACHES)
TIMES = {fit: rule(_("Repeats"), "", f"times_{fit}") for fit in SORTS}
SINGLES = {fit: rule(_("Single pieces after them"), "", f"singles_{fit}") for fit in SORTS}
HALVES = fact(_("Halves"), "", "design")
WHOLE_ONLY = fact(_("Whole repeats only"), "", "design")
PIECE = fact(_("Piece"), "mm", "design")
IS_SPACER = fact(_("Is a spacer"), "", "design")
AMONG_SINGLES = fact(_("Among the single pieces"), "beads", "layout")
NEAR = fact(_("Beads and gaps"), "mm", "layout")
NO_REPEATS = fact(_("Repeats"), "", "design")
CENTRE = fact(_("Centrepiece"), "mm", "design")
PAIRS_DOWN = rule(_("Beads on each side"), "", "pairs_down")
PAIRS_UP = rule(_("Beads on each side"), "", "pairs_up")
PAIRS_NEAREST = rule(_("Beads on each side"), "", "pairs_nearest")
CHANGE = fact(_("Change"), "", "neighbouring length")

STANDS_ONCE = fact(_("Stand once"), "beads", "design", "once")
IN_ONE_REPEAT = fact(_("In one repeat"), "beads", "design")
IN_ALL_REPEATS = rule(_("In all repeats"), "beads", "product")
PLACE = fact(_("Its place among the sizes"), "", "design")
ON_ROW = _("On this row")
ROW_GIVEN = fact(ON_ROW, "beads", "design")
ROW_ONCE = rule(ON_ROW, "beads", "same")
ROW_REPEATED = rule(ON_ROW, "beads", "sum")
ROW_GRADUATED = rule(ON_ROW, "beads", "graduated_count")
BEADS = Rule(_("Beads on one piece"), "beads", "sum")
SPACERS = Rule(_("Spacers on one piece"), "beads", "sum")

LAID_COUNT = fact(_("Beads and spacers on the row"), "beads", "layout")
REACHED = rule(_("Beads and gaps"), "mm", "reached_length")
REACHED_GRADUATED = rule(_("Beads and gaps"), "mm", "graduated_length")
FINISHED = total(_("Finished length reached"), "mm", "finished")
SHORTER = total(_("Nearest whole length below"), "mm")
LONGER = total(_("Nearest whole length above"), "mm")
RATIO = fact(_("Cord ratio"), "", "design")
TAILS = fact(_("Tails"), "mm", "design")
CORD_OF_ROW = rule(_("Cord for this row"), "m", "cord_length")
CORD = total(_("Cord"), "m", "cord")


def strand_figures(workshop: WorkshopFacts, design: Key) -> "StrandFigures":
    """The figures of a design's layout, each worked out when first asked for, once per workshop's
    facts. Raises CostingError as `lay_out` does."""
    kept = workshop._kept.get(("strand", design))
    if kept is None:
        kept = workshop._kept["strand", design] = StrandFigures(workshop, design)
    return kept


class StrandFigures:
    """One design laid out on its cord, opened figure by figure."""

    def __init__(self, workshop: WorkshopFacts, design: Key) -> None:
        self.workshop = workshop
        self.design: DesignFacts = workshop.designs[design]
        self.layout = lay_out(workshop, design)
        self._kept: dict[Any, Figure] = {}
        name = self.design.name
        self.findings_mm = FINDINGS(self.layout.findings_mm, name)
        self.gap_mm = (KNOT if self.design.knotted else GAP)(self.design.gap_mm, name)

    def _once(self, key: Any, make: Callable[[], Figure]) -> Figure:
        """The figure kept under this key, made when first asked for."""
        figure = self._kept.get(key)
        if figure is None:
            figure = self._kept[key] = make()
        return figure

    # -- how many ----------------------------------------------------------------------------

    def count(self, item: Key, *, spacer: bool = False) -> Figure:
        """How many of one bead (or spacer) are on one piece."""
        return self._once(("count", item, spacer), lambda: self._count(item, spacer))

    def _count(self, item: Key, spacer: bool) -> Figure:
        facts = (self.workshop.spacers if spacer else self.workshop.beads)[item]
        counts = dict(self.layout.spacers if spacer else self.layout.beads)
        key = f"{'spacer' if spacer else 'bead'} {item}"
        rule = SPACERS if spacer else BEADS
        return Figure(counts[item], rule, lambda: self._row_counts(item, spacer), facts.name, key)

    def _row_counts(self, item: Key, spacer: bool) -> list[Figure]:
        rows = []
        for place, row in enumerate(self.layout.rows, 1):
            if number := _among(row.laid, item, spacer):
                rows.append(self._row_count(place, item, spacer, number))
        return rows

    def _row_count(self, place: int, item: Key, spacer: bool, number: int) -> Figure:
        """How many of the row: counted along it, and worked out from the parts of the design."""
        name, label = self.design.name, f"row {place}"
        if self.design.graduated:
            return self._graduated_count(place, item, number)
        once, pattern = self._parts()
        standing = STANDS_ONCE(_among(once, item, spacer), name)
        if not pattern:
            return ROW_ONCE(name, standing, key=label)
        in_one = IN_ONE_REPEAT(_among(pattern, item, spacer), name)
        repeated = IN_ALL_REPEATS("", self._repeats(place), in_one)
        if is_finished_singly(self.design):
            singles = self._among_singles(place, item, spacer)
            return ROW_REPEATED(name, standing, repeated, singles, key=label)
        return ROW_REPEATED(name, standing, repeated, key=label)

    def _among_singles(self, place: int, item: Key, spacer: bool) -> Figure:
        """How many of the single pieces that finish a row are of one kind."""
        how_many = self._finishing(place, SINGLES)
        number = _among(self._singles(self.layout.rows[place - 1]), item, spacer)
        return AMONG_SINGLES(number, f"{how_many.value}")

    def _singles(self, row: RowLayout) -> list[Laid]:
        """The pieces of a broken repeat, over both halves of a mirrored design."""
        _before, pattern, _after, _centre = split_parts(self.workshop, self.design)
        if self.design.mirrored:
            return pattern[len(pattern) - row.singles :] * 2
        return pattern[: row.singles]

    def _finishing(self, place: int, rules: dict[str, Worked]) -> Figure:
        """Whole repeats, or the single pieces that finish them, out of all lengths there are."""
        once, _pattern = self._parts()
        name, laid = self.design.name, finishing_row(self.workshop, self.design)
        pieces = [
            figure
            for number, (length_mm, spacer) in enumerate(
                zip(laid.pieces, laid.spacers, strict=True), start=1
            )
            for figure in (PIECE(length_mm, f"{number}"), IS_SPACER(int(spacer), f"{number}"))
        ]
        return rules[fit_of(self.design)](
            name,
            self._available(place),
            self.gap_mm,
            ONCE_MM("", self._lengths(once)),
            ONCE_COUNT(len(once), name),
            HALVES(laid.sides, name),
            WHOLE_ONLY(int(self.design.whole_repeats), name),
            *pieces,
        )

    def _graduated_count(self, place: int, item: Key, number: int) -> Figure:
        name, label = self.design.name, f"row {place}"
        sizes, centre = graduated_parts(self.workshop, self.design)
        which = next((i for i, piece in enumerate(sizes) if piece.item == item), None)
        if which is None or (centre is not None and centre.item == item):
            return ROW_GIVEN(number, name, label)
        middle, lengths = self._sizes()
        pairs = self._repeats(place)
        return ROW_GRADUATED(name, pairs, PLACE(which, name), middle, *lengths, key=label)

    def _parts(self) -> tuple[list[Laid], list[Laid]]:
        """All that stands once, and one repeat, over both halves of a mirrored design."""
        before, pattern, after, centre = split_parts(self.workshop, self.design)
        sides = 2 if self.design.mirrored else 1
        return (before + after) * sides + centre, pattern * sides

    def _sizes(self) -> tuple[Figure, list[Figure]]:
        """The centrepiece's length (0 without one) and the sizes, smallest first."""
        sizes, centre = graduated_parts(self.workshop, self.design)
        lengths = [self._piece_mm(piece.item, piece.spacer) for piece in sizes]
        if centre is None:
            return CENTRE(ZERO, self.design.name), lengths
        return self._piece_mm(centre.item, centre.spacer), lengths

    def _repeats(self, place: int) -> Figure:
        """How often the pattern repeats on a row; of a graduated one, beads on each side."""
        graduated = self.design.graduated
        make = self._graduated_pairs if graduated else self._pattern_repeats
        return self._once(("repeats", place), lambda: make(place))

    def _pattern_repeats(self, place: int) -> Figure:
        name = self.design.name
        if is_finished_singly(self.design):
            return self._finishing(place, TIMES)
        once, pattern = self._parts()
        repeats = REPEATS_UP if self.design.made_to_length else REPEATS_DOWN
        return repeats(
            name,
            self._available(place),
            self.gap_mm,
            ONCE_MM("", self._lengths(once)),
            ONCE_COUNT(len(once), name),
            REPEAT_MM("", self._lengths(pattern)),
            REPEAT_COUNT(len(pattern), name),
        )

    def _graduated_pairs(self, place: int) -> Figure:
        middle, lengths = self._sizes()
        pairs = PAIRS_UP if self.design.made_to_length else PAIRS_DOWN
        pairs = PAIRS_NEAREST if self.design.nearest else pairs
        return pairs(self.design.name, self._available(place), self.gap_mm, middle, *lengths)

    # -- lengths -----------------------------------------------------------------------------

    def _available(self, place: int) -> Figure:
        """Cord between the findings of a row, the rows outside it being longer."""
        return self._once(("available", place), lambda: self._make_available(place))

    def _make_available(self, place: int) -> Figure:
        name = self.design.name
        asked = ASKED(self.layout.asked_mm, name)
        if place > 1 and self.design.row_step_mm:
            step = STEP(self.design.row_step_mm, name)
            longer = LONGER_BY("", step, ROWS_INSIDE(place - 1, name))
            asked = ROW_LENGTH("", [asked, longer])
        return AVAILABLE("", asked, self.findings_mm)

    def _lengths(self, pieces: list[Laid]) -> list[Figure]:
        """What each kind of piece takes of the cord, without gaps."""
        counts: dict[tuple[Key, bool], int] = {}
        for piece in pieces:
            counts[piece.item, piece.spacer] = counts.get((piece.item, piece.spacer), 0) + 1
        lengths = []
        for (item, spacer), count in counts.items():
            one = self._piece_mm(item, spacer)
            many = MANY(count, one.subject)
            label = f"{'spacer' if spacer else 'bead'} {item}"
            lengths.append(OF_ONE_KIND(one.subject, many, one, key=label))
        return lengths

    def _piece_mm(self, item: Key, spacer: bool) -> Figure:
        """What one bead or spacer takes of the cord."""
        return self._once(("piece", item, spacer), lambda: self._make_piece_mm(item, spacer))

    def _make_piece_mm(self, item: Key, spacer: bool) -> Figure:
        if spacer:
            facts = self.workshop.spacers[item]
            return OWN_LENGTH["spacer"](facts.length_mm, facts.name)
        bead: BeadFacts = self.workshop.beads[item]
        length_mm = bead_length_mm(self.workshop, item)
        if bead.length_mm is not None or not bead.shape:
            return OWN_LENGTH["bead"](length_mm, bead.name)
        return Figure(length_mm, SHAPE_LENGTH[bead.shape], dimensions(bead), bead.name, "")

    def _beads_mm(self, place: int, more: int = 0) -> Figure:
        """Length of a row's beads with the gaps between them, by so many repeats more."""
        return self._once(("beads", place, more), lambda: self._make_beads_mm(place, more))

    def _make_beads_mm(self, place: int, more: int) -> Figure:
        name = self.design.name
        if self.design.graduated:
            middle, lengths = self._sizes()
            pairs = self._one_more(place, more)
            return REACHED_GRADUATED(name, pairs, self.gap_mm, middle, *lengths)
        row: RowLayout = self.layout.rows[place - 1]
        once, pattern = self._parts()
        once = once + self._singles(row)
        return REACHED(
            name,
            ONCE_MM("", self._lengths(once)),
            self._one_more(place, more) if pattern else NO_REPEATS(0, name),
            REPEAT_MM("", self._lengths(pattern)),
            self.gap_mm,
            LAID_COUNT(len(row.laid) + more * len(pattern), name),
        )

    def _one_more(self, place: int, more: int) -> Figure:
        """Repeats (or pairs), or one more or fewer of them."""
        times = self._repeats(place)
        if not more:
            return times
        changed = rule(times.rule.name, "", "sum")
        return changed(times.subject, times, CHANGE(more))

    def finished(self) -> Figure:
        """The length reached, findings included [mm]."""
        return FINISHED(self.design.name, [self.findings_mm, self._beads_mm(1)])

    def nearest(self) -> list[Figure]:
        """The whole lengths next below and above the one asked for, as far as there are any."""
        layout, found = self.layout, []
        for length_mm, said in ((layout.shorter_mm, SHORTER), (layout.longer_mm, LONGER)):
            if length_mm is not None and layout.rows[0].near_mm is not None:
                beads = NEAR(length_mm - layout.findings_mm, self.design.name)
                found.append(said(self.design.name, [self.findings_mm, beads]))
            elif length_mm is not None:
                more = (length_mm > layout.finished_mm) - (length_mm < layout.finished_mm)
                found.append(said(self.design.name, [self.findings_mm, self._beads_mm(1, more)]))
        return found

    def cord(self) -> Figure:
        """Cord for one piece, over all its rows [m]."""
        return self._once("cord", self._make_cord)

    def _make_cord(self) -> Figure:
        name, cord = self.design.name, self.design.cord
        ratio, tails = RATIO(cord.ratio, name), TAILS(cord.tails_mm, name)
        rows = []
        for place in range(1, len(self.layout.rows) + 1):
            reached = ROW_LENGTH("", [self.findings_mm, self._beads_mm(place)])
            rows.append(CORD_OF_ROW("", ratio, reached, tails, key=f"row {place}"))
        return CORD(name, rows)


def _among(pieces: list[Laid] | tuple[Laid, ...], item: Key, spacer: bool) -> int:
    return sum([1 for piece in pieces if piece.item == item and piece.spacer == spacer])
