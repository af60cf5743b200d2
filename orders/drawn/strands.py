"""Designs into drawn strands: the beads of a design as they lie on its cord.

Drawing asks only for shapes, colours and lengths, so a design can be drawn before anybody has
said how it is fired or what it costs.
"""

from collections.abc import Iterable, Sequence
from decimal import Decimal
from itertools import accumulate

from orders.costing.errors import CostingError
from orders.costing.facts import (
    BeadFacts,
    BeadFiringFacts,
    ColourFacts,
    ColourShare,
    FormFacts,
    KilnFacts,
    MouldFacts,
    ProgrammeFacts,
    SpacerFacts,
    WorkshopFacts,
)
from orders.costing.findings import pieces_each
from orders.costing.layout import lay_out
from orders.costing.strand import StrandLayout
from orders.costing.worn import on_the_skin
from orders.facts.designs import design_facts, gap_between
from orders.models import DesignPart, Finding, StrandDesign
from stock.models import Bead, BeadColour
from workshop.drawing import DrawnBead, DrawnStrand, Glass, drawn_bead, spacer
from workshop.formats import strung_length
from workshop.physics.shapes import ShapeError

# Lengths do not depend on glass, kiln or mould, yet costing asks for one of each.
_ANY = 0
_ANY_GLASS = ColourFacts(_ANY, "any", (FormFacts("any"),))
_ANY_MOULD = MouldFacts(_ANY, "any", cavities=1, owned=1)
_ANY_PROGRAMME = ProgrammeFacts(_ANY, "any", Decimal(700), Decimal(30))
_ANY_KILN = KilnFacts(_ANY, "any", places=1)


def bead_drawing(bead: Bead, shares: Iterable[BeadColour]) -> DrawnBead:
    """One bead as it looks; `colour` must come with the shares. Raises ShapeError."""
    glass = [
        Glass(share.colour.swatch, float(share.share), share.colour.see_through) for share in shares
    ]
    return drawn_bead(
        bead.measure(), glass or [Glass("#b9b2a3")], pattern=bead.pattern, finish=bead.kind
    )


class Draughtsman:
    """Draws designs. Reads the beads of all of them in 2 queries, whatever their number."""

    def __init__(self, designs: Sequence[StrandDesign]) -> None:
        """`clasp` should come with the designs (select_related)."""
        self.designs = {design.pk: design for design in designs}
        self.parts: dict[int, list[DesignPart]] = {pk: [] for pk in self.designs}
        rows = DesignPart.objects.filter(design__in=self.designs).select_related("bead", "spacer")
        for part in rows.order_by("design_id", "position"):
            self.parts[part.design_id].append(part)
        self.pieces = Pieces(part for own in self.parts.values() for part in own)
        self._drawn: dict[int, DrawnStrand] = {}
        self._findings: dict[int, dict[int, int]] = {}

    def layout(self, design_id: int) -> StrandLayout:
        """How the design lies on its cord; raises CostingError."""
        return self.pieces.lay_out(self.designs[design_id], self.parts[design_id])

    def findings(self, design_id: int) -> dict[int, int]:
        """What one strand takes of each clasp, spacer and cord, by key, in its smallest unit.

        Nothing of a design that no longer fits its cord, or that is work on a piece.
        """
        if design_id not in self._findings:
            facts = design_facts(self.designs[design_id], self.parts[design_id])
            try:
                found = pieces_each(facts, self.layout(design_id))
            except CostingError:
                found = {}
            self._findings[design_id] = {int(key): each for key, each in found.items()}
        return self._findings[design_id]

    def length(self, design_id: int) -> str:
        """Its length in words, as strung; as asked for where it cannot be laid out.

        Work on a piece has none.
        """
        design = self.designs[design_id]
        if design.is_work:
            return ""
        asked_mm = design.finished_mm
        try:
            strung_mm = self.layout(design_id).finished_mm
        except CostingError:
            strung_mm = asked_mm
        return strung_length(strung_mm, asked_mm)

    def strand(self, design_id: int) -> DrawnStrand:
        """The design drawn; one that cannot be laid out shows each of its parts once."""
        if design_id not in self._drawn:
            self._drawn[design_id] = self.pieces.strand(
                self.designs[design_id], self.parts[design_id]
            )
        return self._drawn[design_id]


def printed_lengths(designs: Iterable[StrandDesign]) -> dict[int, str]:
    """What is printed of each design's length: as strung (3 queries, whatever their number).

    A design that cannot be laid out is printed as it was asked for.
    """
    wanted = {design.pk: design for design in designs}
    found = list(StrandDesign.objects.filter(pk__in=wanted).with_findings())
    drawer = Draughtsman(found)
    return {design.pk: drawer.length(design.pk) for design in found}


def findings_each(design: StrandDesign, *, in_stock_too: bool = True) -> Decimal:
    """What clasp, spacers and cord of one strand cost, by what its layout takes (3 queries).

    in_stock_too  those that are kept in stock as well; they bring their value with them
    """
    drawer = Draughtsman([design])
    layout = drawer.layout(design.pk)
    spacers = {p.spacer_id: p.spacer for p in drawer.parts[design.pk] if p.spacer is not None}
    parts = [(design.clasp, Decimal(1)), (design.cord, layout.cord_m)]
    parts += [(spacers[int(key)], Decimal(count)) for key, count in layout.spacers]
    return sum(
        (row.price * n for row, n in parts if row is not None and (in_stock_too or not row.kept)),
        Decimal(0),
    )


class Pieces:
    """The beads and spacers of some parts, drawn and measured (1 query for the colours)."""

    def __init__(self, parts: Iterable[DesignPart]) -> None:
        """`bead` and `spacer` must come with the parts."""
        beads: dict[int, Bead] = {}
        self.spacers: dict[int, Finding] = {}
        for part in parts:
            if part.bead is not None:
                beads[part.bead.pk] = part.bead
            elif part.spacer is not None:
                self.spacers[part.spacer.pk] = part.spacer
        self.shares: dict[int, list[BeadColour]] = {}
        for share in (
            BeadColour.objects.filter(bead__in=beads)
            .select_related("colour")
            .order_by("bead_id", "layer", "id")
        ):
            self.shares.setdefault(share.bead_id, []).append(share)
        self.drawn: dict[int, DrawnBead] = {}
        self.names = {pk: bead.name for pk, bead in beads.items()}
        for pk, bead in beads.items():
            try:
                self.drawn[pk] = bead_drawing(bead, self.shares.get(pk, ()))
            except ShapeError:
                continue  # a bead without its sizes cannot be drawn; the bead's own page says so
        self.drawn_spacers = {
            pk: spacer(float(row.length_mm), float(row.across_mm), row.swatch)
            for pk, row in self.spacers.items()
        }

    def lay_out(self, design: StrandDesign, parts: Sequence[DesignPart]) -> StrandLayout:
        """How these parts lie on the design's cord; raises CostingError."""
        facts = design_facts(design, parts)
        workshop = WorkshopFacts(
            currency="",
            colours={_ANY: _ANY_GLASS},
            beads={pk: self._bead(pk, drawn) for pk, drawn in self.drawn.items()},
            moulds={_ANY: _ANY_MOULD},
            programmes={_ANY: _ANY_PROGRAMME},
            kilns=(_ANY_KILN,),
            spacers={
                pk: SpacerFacts(pk, row.name, row.length_mm) for pk, row in self.spacers.items()
            },
            designs={facts.key: facts},
        )
        return lay_out(workshop, facts.key)

    def _bead(self, pk: int, drawn: DrawnBead) -> BeadFacts:
        return BeadFacts(
            key=pk,
            name=self.names[pk],
            kind="",
            form="any",
            colours=(ColourShare(_ANY, Decimal(1)),),
            firings=(BeadFiringFacts(_ANY, _ANY),),
            volume_mm3=Decimal(1),
            length_mm=Decimal(repr(drawn.length_mm)),
        )

    def strand(self, design: StrandDesign, parts: Sequence[DesignPart]) -> DrawnStrand:
        """The first row of the design as a drawing."""
        try:
            layout = self.lay_out(design, parts)
        except CostingError:
            layout = None
        return self.as_laid(design, parts, layout)

    def as_laid(
        self, design: StrandDesign, parts: Sequence[DesignPart], layout: StrandLayout | None
    ) -> DrawnStrand:
        """The same from its layout; without one each part as often as it stands, a dozen at most.

        A drawn bead knows which piece of the parts it is.
        """
        if layout is not None:
            laid = [(piece.item, piece.spacer, piece.place) for piece in layout.rows[0].laid]
        else:
            firsts = accumulate((part.count for part in parts), initial=0)
            laid = [
                (part.bead_id or part.spacer_id or 0, part.bead_id is None, first + nth)
                for part, first in zip(parts, firsts, strict=False)
                for nth in range(min(part.count, 12))
            ]
        found = [
            ((self.drawn_spacers if is_spacer else self.drawn).get(int(item)), place)
            for item, is_spacer, place in laid
        ]
        beads = [(bead, place) for bead, place in found if bead is not None]
        return DrawnStrand(
            tuple(bead for bead, _place in beads),
            gap_mm=float(gap_between(design)),
            knotted=design.gap == StrandDesign.Gap.KNOT,
            ends="clasp" if design.clasp_id else "bare" if design.is_loose else "knot",
            places=tuple(place for _bead, place in beads),
        )

    def skin_mm(self, parts: Iterable[DesignPart]) -> Decimal:
        """How thick the beads are that lie against the skin."""
        return on_the_skin(
            (
                Decimal(repr(self.drawn[part.bead_id].across_mm)),
                part.role == DesignPart.Role.REPEAT,
            )
            for part in parts
            if part.bead_id in self.drawn
        )
