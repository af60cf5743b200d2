"""A design on the bench: drawn, measured, weighed and costed while it is laid, nothing written."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from django.utils.translation import gettext as _

from orders.costing.strand import StrandLayout
from orders.costing.worn import Worn, sits
from orders.designs.queries.layout import LaidOut, laid_out
from orders.drawn.masses import ColourMass, StrandMass, mass_as_laid
from orders.drawn.strands import Pieces
from orders.facts.designs import NOT_SAVED
from orders.facts.standing import typed_facts
from orders.models import DesignPart, Finding, StrandDesign, WantedLine
from orders.reckoning.panel import Panel, panel_of, price_source
from orders.reckoning.reckon import reckon
from stock.models import Bead
from stock.queries import bead_stock
from workshop import formats
from workshop.drawing import CordWords, DrawnBead, DrawnStrand, Wearer
from workshop.models import Business


@dataclass(frozen=True)
class Costed:
    """What each of so many takes and brings; or the sentence that says why nothing is costed.

    word  what is said of a price that stands below a floor
    """

    many: int = 1
    panel: Panel | None = None
    source: str = ""
    word: str = ""
    refusal: str = ""

    @property
    def labour_min(self) -> Decimal:
        return self._each(self.panel.labour_min)

    @property
    def pocket(self) -> Decimal:
        return self._each(self.panel.pocket)

    @property
    def full(self) -> Decimal:
        return self._each(self.panel.full)

    @property
    def price(self) -> Decimal:
        return self._each(self.panel.price)

    def _each(self, sum_of_all: Decimal) -> Decimal:
        return sum_of_all / self.many


@dataclass(frozen=True)
class Bench:
    """A design as it lies on the bench.

    problem  why it cannot be laid so; the pieces are drawn all the same
    said     what a listener is told: of the whole, and of each piece
    """

    drawn: DrawnStrand | None = None
    said: CordWords | None = None
    wearer: Wearer | None = None
    findings_mm: float = 0.0
    laid: LaidOut | None = None
    worn: Worn | None = None
    mass: StrandMass | None = None
    glass: Sequence[ColourMass] = ()
    problem: str = ""

    @property
    def counted(self) -> list[tuple[str, int]]:
        """Beads and spacers by name."""
        return [*self.laid.beads, *self.laid.spacers] if self.laid else []


def on_the_bench(
    design: StrandDesign,
    parts: Sequence[DesignPart],
    pieces: Pieces,
    layout: StrandLayout | None,
    problem: str = "",
) -> Bench:
    """The design drawn with its words, and measured where it can be laid out (3 queries)."""
    drawn = pieces.as_laid(design, parts, layout)
    if not drawn.beads:
        return Bench(problem=problem)
    said = CordWords(_("The strand: choose a piece"), _names(drawn, parts), _("cm"))
    if layout is None:
        return Bench(drawn, said, problem=problem)
    skin_mm = pieces.skin_mm(parts)
    worn = sits(layout.finished_mm, skin_mm, design.around_mm if design.worn_at else None)
    mass, glass = mass_as_laid(design, layout, pieces)
    return Bench(
        drawn,
        said,
        wearer=_wearer(design, worn),
        findings_mm=float(layout.findings_mm),
        laid=laid_out(layout, parts, design.tolerance),
        worn=worn,
        mass=mass,
        glass=glass,
        problem=problem,
    )


def _names(drawn: DrawnStrand, parts: Sequence[DesignPart]) -> list[str]:
    """Each piece of the cord by name and place, such as “Striped round, piece 14 of 27”."""
    names = [str(part.bead or part.spacer) for part in parts for _nth in range(part.count)]
    return [
        _("%(name)s, piece %(place)s of %(all)s")
        % {"name": names[place], "place": at, "all": len(drawn.places)}
        for at, place in enumerate(drawn.places, start=1)
    ]


def _small(length_mm: Decimal) -> str:
    """A few millimetres in the unit that rules of this workshop have."""
    in_inches = formats.habits().length_unit == "in"
    return formats.length(length_mm) if in_inches else formats.mm(round(length_mm))


def _wearer(design: StrandDesign, worn: Worn) -> Wearer:
    if worn.ease_mm is None or design.around_mm is None:
        inside = formats.length(worn.inside_mm)
        return Wearer(None, (_("%(length)s inside") % {"length": inside},))
    around = formats.length(design.around_mm)
    room = _("%(length)s too tight") if worn.is_too_small else _("%(length)s of ease")
    return Wearer(
        float(design.around_mm),
        (
            f"{StrandDesign.Worn(design.worn_at).label} {around}",
            room % {"length": _small(abs(worn.ease_mm))},
        ),
        too_small=worn.is_too_small,
        hangs=design.worn_at != StrandDesign.Worn.WRIST,
    )


def costed(
    design: StrandDesign,
    parts: Sequence[DesignPart],
    *,
    business: Business,
    today: date,
    many: int,
    price: Decimal | None = None,
) -> Costed:
    """What each of so many of a design that is only typed takes and brings, with what lies on the
    shelf today: in a fixed number of queries.

    price  what was typed for it; left out, as the list or the margin says
    """
    for part in parts:
        part.design = design
    key = design.pk or NOT_SAVED
    found = reckon(
        [WantedLine(key, many, price)],
        customer=None,
        business=business,
        today=today,
        standing=typed_facts(design, parts, today),
    )
    if found.costing is None:
        return Costed(refusal=found.refusal)
    source = price_source(found.costing.lines[0].price_from)
    word = " ".join(each.sentence for each in found.words)
    return Costed(many, panel_of(found.costing), source, word)


# --- the palette ------------------------------------------------------------------------------


@dataclass(frozen=True)
class PaletteThing:
    """A bead or spacer to be put on the cord.

    what     as a part of the form names it
    note     its size on the cord, and how many are free
    colours  the glass in it, by key
    """

    what: str
    name: str
    drawn: DrawnBead
    note: str
    colours: tuple[int, ...] = ()
    free: int = 0


@dataclass(frozen=True)
class Palette:
    """All that can be put on a cord, and the colours it can be narrowed by."""

    things: list[PaletteThing] = field(default_factory=list)
    colours: list[tuple[int, str, str]] = field(default_factory=list)


def palette_of(beads: Iterable[Bead], spacers: Iterable[Finding]) -> Palette:
    """Beads and spacers drawn, with what is free of them (2 queries, whatever their number)."""
    beads, spacers = list(beads), list(spacers)
    own = [DesignPart(bead=bead) for bead in beads]
    pieces = Pieces([*own, *(DesignPart(spacer=row) for row in spacers)])
    there = bead_stock()
    things, colours = [], {}
    for bead in sorted(beads, key=lambda each: each.sorts_as):
        if bead.pk not in pieces.drawn:
            continue  # its own page says which size it lacks
        drawn, shares = pieces.drawn[bead.pk], pieces.shares.get(bead.pk, ())
        free = there[bead.pk].free if bead.pk in there else 0
        colours |= {s.colour_id: (s.colour_id, s.colour.name, s.colour.swatch) for s in shares}
        things.append(
            PaletteThing(
                f"bead-{bead.pk}",
                bead.name,
                drawn,
                _note(drawn, free),
                tuple(share.colour_id for share in shares),
                free,
            )
        )
    for row in spacers:
        drawn = pieces.drawn_spacers[row.pk]
        note = formats.mm(Decimal(repr(drawn.length_mm)))
        things.append(PaletteThing(f"spacer-{row.pk}", row.name, drawn, note))
    return Palette(things, sorted(colours.values(), key=lambda each: each[1]))


def _note(drawn: DrawnBead, free: int) -> str:
    size = formats.mm(round(Decimal(repr(drawn.across_mm)), 1))
    told = _("%(n)s free") % {"n": formats.count(free)} if free else _("to make")
    return f"{size} · {told}"
