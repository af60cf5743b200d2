"""Designs into drawn strands: the beads of a design as they lie on its cord.

Drawing asks only for shapes, colours and lengths, so a design can be drawn before anybody has
said how it is fired or what it costs.
"""

from collections.abc import Iterable, Sequence
from copy import copy
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property
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
from workshop.standing import kept_each

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


@dataclass(frozen=True)
class Draft:
    """One design with its parts and their pieces, and what was worked out of them since."""

    design: StrandDesign
    parts: list[DesignPart]
    pieces: "Pieces"

    @cached_property
    def laid(self) -> StrandLayout | CostingError:
        """How it lies on its cord, or why it cannot."""
        try:
            return self.pieces.lay_out(self.design, self.parts)
        except CostingError as error:
            return error

    @cached_property
    def strand(self) -> DrawnStrand:
        layout = self.laid if isinstance(self.laid, StrandLayout) else None
        return self.pieces.as_laid(self.design, self.parts, layout)

    @cached_property
    def findings(self) -> dict[int, int]:
        if not isinstance(self.laid, StrandLayout):
            return {}
        try:
            found = pieces_each(design_facts(self.design, self.parts), self.laid)
        except CostingError:
            return {}
        return {int(key): each for key, each in found.items()}


class Draughtsman:
    """Draws designs; how they are laid and drawn is kept (1 query, or 5, whatever their number)."""

    def __init__(self, designs: Iterable[StrandDesign]) -> None:
        self.drafts = kept_each("drafts", {design.pk for design in designs}, _drafts)

    def layout(self, design_id: int) -> StrandLayout:
        """How the design lies on its cord; raises CostingError."""
        laid = self.drafts[design_id].laid
        if isinstance(laid, StrandLayout):
            return laid
        raise laid.with_traceback(None)

    def findings(self, design_id: int) -> dict[int, int]:
        """What one strand takes of each clasp, spacer and cord, by key, in its smallest unit.

        Nothing of a design that no longer fits its cord, or that is work on a piece.
        """
        return self.drafts[design_id].findings

    def length(self, design_id: int) -> str:
        """Its length in words, as strung; as asked for where it cannot be laid out.

        Work on a piece has none.
        """
        draft = self.drafts[design_id]
        if draft.design.is_work:
            return ""
        asked_mm = draft.design.finished_mm
        laid = draft.laid
        strung_mm = laid.finished_mm if isinstance(laid, StrandLayout) else asked_mm
        return strung_length(strung_mm, asked_mm)

    def strand(self, design_id: int) -> DrawnStrand:
        """The design drawn; one that cannot be laid out shows each of its parts once."""
        return self.drafts[design_id].strand


def _drafts(keys: Sequence[int]) -> dict[int, Draft]:
    """Designs as they stand, with the parts and pieces of each (3 queries)."""
    parts: dict[int, list[DesignPart]] = {key: [] for key in keys}
    rows = DesignPart.objects.filter(design__in=keys).select_related("bead", "spacer")
    for part in rows.order_by("design_id", "position"):
        parts[part.design_id].append(part)
    pieces = Pieces(part for own in parts.values() for part in own)
    found = StrandDesign.objects.with_findings().in_bulk(keys)
    return {key: Draft(design, parts[key], pieces.of(parts[key])) for key, design in found.items()}


def printed_lengths(designs: Iterable[StrandDesign]) -> dict[int, str]:
    """What is printed of each design's length: as strung (5 queries at most).

    A design that cannot be laid out is printed as it was asked for.
    """
    wanted = {design.pk: design for design in designs}
    drawer = Draughtsman(wanted.values())
    return {key: drawer.length(key) for key in drawer.drafts}


def findings_each(design: StrandDesign, *, in_stock_too: bool = True) -> Decimal:
    """What clasp, spacers and cord of one strand cost, as it is laid (5 queries at most).

    in_stock_too  those that are kept in stock as well; they bring their value with them
    """
    drawer = Draughtsman([design])
    layout, spacers = drawer.layout(design.pk), drawer.drafts[design.pk].pieces.spacers
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

    def of(self, parts: Iterable[DesignPart]) -> "Pieces":
        """Those of some of the parts, without the rest."""
        own, parts = copy(self), list(parts)
        beads = {part.bead_id for part in parts}
        spacers = {part.spacer_id for part in parts}
        for kind, keys in (
            ("names", beads), ("shares", beads), ("drawn", beads),
            ("spacers", spacers), ("drawn_spacers", spacers),
        ):  # fmt: skip
            setattr(own, kind, {pk: one for pk, one in getattr(self, kind).items() if pk in keys})
        return own

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

    def as_laid(
        self, design: StrandDesign, parts: Sequence[DesignPart], layout: StrandLayout | None
    ) -> DrawnStrand:
        """The first row of the design as a drawing.

        Without a layout each part stands as often as it is written, a dozen at most. A drawn bead
        knows which piece of the parts it is.
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
