"""The working of a strand: how many of each bead fit, and the length reached."""

from decimal import Decimal

from orders.costing.checks import exact
from orders.costing.facts import DesignFacts, Key
from orders.costing.layout import graduated_parts, split_parts, total_mm
from orders.costing.numbers import ZERO
from orders.costing.strand import Laid, RowLayout, StrandLayout
from orders.costing.working.base import Working, added, given, listed, worked
from orders.costing.working.terms import Term
from workshop.physics.sentences import gettext_noop as _
from workshop.physics.shapes import FIELD_WORDS, SHAPE_FIELDS


def strand_term(working: Working, layout: StrandLayout) -> Term:
    """A design's beads, spacers, length reached and cord."""
    return working.once(("strand", layout.design), lambda: _strand(working, layout))


def _strand(working: Working, layout: StrandLayout) -> Term:
    counts = [bead_count_term(working, layout, key) for key, _count in layout.beads]
    counts += [bead_count_term(working, layout, key, spacer=True) for key, _c in layout.spacers]
    lengths = [_finished(working, layout)]
    if layout.shorter_mm is not None:
        name = _("Nearest whole length below")
        lengths.append(_nearest(working, layout, layout.shorter_mm, name))
    if layout.longer_mm is not None:
        name = _("Nearest whole length above")
        lengths.append(_nearest(working, layout, layout.longer_mm, name))
    cord = cord_term(working, layout)
    return listed(_("Strand layout"), [*counts, *lengths, cord], layout.name, f"{layout.design}")


def _nearest(working: Working, layout: StrandLayout, length_mm: Decimal, name: str) -> Term:
    """The length with as many repeats as fit, or with one more or fewer."""
    more = (length_mm > layout.finished_mm) - (length_mm < layout.finished_mm)
    beads = _beads_mm(working, layout, 1, more)
    return added(name, length_mm, "mm", [_findings_mm(layout), beads], layout.name)


def bead_count_term(
    working: Working, layout: StrandLayout, key: Key, *, spacer: bool = False
) -> Term:
    """How many of one bead (or spacer) are on one piece."""
    return working.once(
        ("count", layout.design, key, spacer), lambda: _count(working, layout, key, spacer)
    )


def _count(working: Working, layout: StrandLayout, key: Key, spacer: bool) -> Term:
    counts = dict(layout.spacers if spacer else layout.beads)
    name = _("Spacers on one piece") if spacer else _("Beads on one piece")
    facts = (working.workshop.spacers if spacer else working.workshop.beads)[key]
    label = f"{'spacer' if spacer else 'bead'} {key}"
    rows = []
    for number, row in enumerate(layout.rows, 1):
        count = sum(1 for piece in row.laid if piece.item == key and piece.spacer == spacer)
        if count:
            rows.append(_row_count(working, layout, row, number, key, spacer, count))
    return added(name, counts[key], "beads", rows, facts.name, label)


def _row_count(
    working: Working,
    layout: StrandLayout,
    row: RowLayout,
    number: int,
    key: Key,
    spacer: bool,
    count: int,
) -> Term:
    design = working.workshop.designs[layout.design]
    label = f"row {number}"
    name = _("On this row")
    if design.graduated:
        return _graduated_count(working, design, row, number, key, count)
    once, pattern = _parts_of_row(working, design)

    def among(pieces: list[Laid]) -> int:
        return sum(1 for piece in pieces if piece.item == key and piece.spacer == spacer)

    standing = given(_("Stand once"), among(once), "beads", "design", design.name, "once")
    if not pattern:
        return worked(name, count, "beads", "same", [standing], design.name, label)
    in_one = given(_("In one repeat"), among(pattern), "beads", "design", design.name)
    times = _repeats(working, design, row, number)
    repeated = worked(
        _("In all repeats"), times.value * in_one.value, "beads", "product", [times, in_one]
    )
    return added(name, count, "beads", [standing, repeated], design.name, label)


def _parts_of_row(working: Working, design: DesignFacts) -> tuple[list[Laid], list[Laid]]:
    """Everything that stands once, and one repeat, over both halves of a mirrored design."""
    before, pattern, after, centre = split_parts(working.workshop, design)
    sides = 2 if design.mirrored else 1
    return (before + after) * sides + centre, pattern * sides


def _repeats(working: Working, design: DesignFacts, row: RowLayout, number: int) -> Term:
    def make() -> Term:
        once, pattern = _parts_of_row(working, design)
        how = "repeats_up" if design.made_to_length else "repeats_down"
        children = [
            _cord_available(working, design, row, number),
            _gap(design),
            _pieces_mm(working, once, _("Length of what stands once"), "once"),
            given(_("How many stand once"), len(once), "beads", "design", design.name),
            _pieces_mm(working, pattern, _("Length of one repeat"), "repeat"),
            given(_("How many in one repeat"), len(pattern), "beads", "design", design.name),
        ]
        return worked(_("Repeats"), row.repeats, "", how, children, design.name)

    return working.once(("repeats", design.key, number), make)


def _cord_available(working: Working, design: DesignFacts, row: RowLayout, number: int) -> Term:
    def make() -> Term:
        layout = working.workshop._kept["layout", design.key]
        asked = given(
            _("Finished length asked for"), layout.asked_mm, "mm", "design", design.name, "asked"
        )
        lengths = [asked]
        if number > 1 and design.row_step_mm:
            step = given(_("Step between rows"), design.row_step_mm, "mm", "design", design.name)
            rows = given(_("Rows inside it"), number - 1, "", "design", design.name)
            longer = worked(
                _("Longer by"), design.row_step_mm * (number - 1), "mm", "product", [step, rows]
            )
            whole_mm = layout.asked_mm + longer.value
            lengths = [added(_("Length of this row"), whole_mm, "mm", [asked, longer])]
        children = [*lengths, _findings_mm(layout)]
        return worked(_("Cord available"), row.available_mm, "mm", "difference", children)

    return working.once(("cord available", design.key, number), make)


def _findings_mm(layout: StrandLayout) -> Term:
    return given(
        _("Length of the findings"), layout.findings_mm, "mm", "design", layout.name, "findings"
    )


def _gap(design: DesignFacts) -> Term:
    name = _("Knot between beads") if design.knotted else _("Gap between beads")
    return given(name, design.gap_mm, "mm", "design", design.name, "gap")


def _pieces_mm(working: Working, pieces: list[Laid], name: str, key: str) -> Term:
    """Length of some pieces without gaps: how many of each times what it takes of the cord."""
    counts: dict[tuple[Key, bool], int] = {}
    for piece in pieces:
        counts[piece.item, piece.spacer] = counts.get((piece.item, piece.spacer), 0) + 1
    children = []
    for (item, spacer), count in counts.items():
        one = piece_mm_term(working, item, spacer)
        many = given(_("How many"), count, "beads", "design", one.subject)
        children.append(
            worked(
                _("Takes of the cord"),
                one.value * count,
                "mm",
                "product",
                [many, one],
                one.subject,
                f"{'spacer' if spacer else 'bead'} {item}",
            )
        )
    return added(name, total_mm(pieces), "mm", children, "", key)


def piece_mm_term(working: Working, item: Key, spacer: bool) -> Term:
    """What one bead or spacer takes of the cord."""
    return working.once(("length", item, spacer), lambda: _piece_mm(working, item, spacer))


def _piece_mm(working: Working, item: Key, spacer: bool) -> Term:
    name = _("Length along the bore")
    if spacer:
        spacer_facts = working.workshop.spacers[item]
        return given(name, spacer_facts.length_mm, "mm", "spacer", spacer_facts.name)
    bead = working.workshop.beads[item]
    if bead.length_mm is not None or not bead.shape:
        assert bead.length_mm is not None
        return given(name, bead.length_mm, "mm", "bead", bead.name)
    length_mm = working.workshop._kept["length", item]
    children = dimension_terms(working, item)
    return worked(name, length_mm, "mm", f"length_{bead.shape}", children, bead.name)


def dimension_terms(working: Working, key: Key) -> list[Term]:
    """A bead's sizes, in the order in which its shape names them."""
    bead = working.workshop.beads[key]
    sizes = dict(bead.dimensions)
    return [
        given(
            FIELD_WORDS[field].capitalize(),
            exact(sizes[field]),
            "" if field == "points" else "mm",
            "bead",
            bead.name,
            field,
        )
        for field in SHAPE_FIELDS[bead.shape]
    ]


# -- graduated strands ---------------------------------------------------------------------


def _graduated_sizes(working: Working, design: DesignFacts) -> tuple[Term, list[Term]]:
    """The centrepiece's length (0 without one) and the sizes, smallest first."""
    sizes, centre = graduated_parts(working.workshop, design)
    terms = [piece_mm_term(working, piece.item, piece.spacer) for piece in sizes]
    if centre is None:
        return given(_("Centrepiece"), ZERO, "mm", "design", design.name), terms
    return piece_mm_term(working, centre.item, centre.spacer), terms


def _pairs(working: Working, design: DesignFacts, row: RowLayout, number: int) -> Term:
    def make() -> Term:
        centre, sizes = _graduated_sizes(working, design)
        how = "pairs_up" if design.made_to_length else "pairs_down"
        cord = _cord_available(working, design, row, number)
        children = [cord, _gap(design), centre, *sizes]
        return worked(_("Beads on each side"), row.repeats, "", how, children, design.name)

    return working.once(("pairs", design.key, number), make)


def _graduated_count(
    working: Working, design: DesignFacts, row: RowLayout, number: int, key: Key, count: int
) -> Term:
    sizes, centre = graduated_parts(working.workshop, design)
    label = f"row {number}"
    name = _("On this row")
    place = next((i for i, piece in enumerate(sizes) if piece.item == key), None)
    if place is None or (centre is not None and centre.item == key):
        return given(name, count, "beads", "design", design.name, label)
    which = given(_("Its place among the sizes"), place, "", "design", design.name)
    middle, lengths = _graduated_sizes(working, design)
    children = [_pairs(working, design, row, number), which, middle, *lengths]
    return worked(name, count, "beads", "graduated_count", children, design.name, label)


# -- length and cord -----------------------------------------------------------------------


def _finished(working: Working, layout: StrandLayout) -> Term:
    def make() -> Term:
        children = [_findings_mm(layout), _beads_mm(working, layout, 1)]
        name = _("Finished length reached")
        return added(name, layout.finished_mm, "mm", children, layout.name, "finished")

    return working.once(("finished", layout.design), make)


def _one_more(times: Term, more: int) -> Term:
    """Repeats (or pairs), or one more or fewer of them."""
    if not more:
        return times
    one = given(_("Change"), more, "", "neighbouring length")
    return worked(times.name, times.value + more, "", "sum", [times, one], times.subject)


def _beads_mm(working: Working, layout: StrandLayout, number: int, more: int = 0) -> Term:
    """Length of the beads of a row with the gaps between them, by so many repeats more."""
    design = working.workshop.designs[layout.design]
    row = layout.rows[number - 1]
    name = _("Beads and gaps")
    if design.graduated:
        centre, sizes = _graduated_sizes(working, design)
        pairs = _one_more(_pairs(working, design, row, number), more)
        children = [pairs, _gap(design), centre, *sizes]
        length_mm = row.beads_mm + _change_mm(row, more)
        return worked(name, length_mm, "mm", "graduated_length", children, design.name)
    once, pattern = _parts_of_row(working, design)
    if pattern:
        times = _one_more(_repeats(working, design, row, number), more)
    else:
        times = given(_("Repeats"), 0, "", "design", design.name)
    children = [
        _pieces_mm(working, once, _("Length of what stands once"), "once"),
        times,
        _pieces_mm(working, pattern, _("Length of one repeat"), "repeat"),
        _gap(design),
        given(
            _("Beads and spacers on the row"),
            len(row.laid) + more * len(pattern),
            "beads",
            "layout",
            design.name,
        ),
    ]
    length_mm = row.beads_mm + _change_mm(row, more)
    return worked(name, length_mm, "mm", "reached_length", children, design.name)


def _change_mm(row: RowLayout, more: int) -> Decimal:
    return (ZERO, row.more_mm, -row.less_mm)[more]


def cord_term(working: Working, layout: StrandLayout) -> Term:
    """Cord for one piece, over all its rows [m]."""

    def make() -> Term:
        cord = working.workshop.designs[layout.design].cord
        ratio = given(_("Cord ratio"), cord.ratio, "", "design", layout.name)
        tails = given(_("Tails"), cord.tails_mm, "mm", "design", layout.name)
        children = []
        for number, row in enumerate(layout.rows, 1):
            row_mm = layout.findings_mm + row.beads_mm
            reached = added(
                _("Length of this row"),
                row_mm,
                "mm",
                [_findings_mm(layout), _beads_mm(working, layout, number)],
            )
            length_m = (cord.ratio * row_mm + cord.tails_mm) / 1000
            children.append(
                worked(
                    _("Cord for this row"),
                    length_m,
                    "m",
                    "cord_length",
                    [ratio, reached, tails],
                    key=f"row {number}",
                )
            )
        return added(_("Cord"), layout.cord_mm / 1000, "m", children, layout.name, "cord")

    return working.once(("cord", layout.design), make)
