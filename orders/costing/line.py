"""One line of an order while it is being worked out: what is strung, and what that costs."""

from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal

from orders.costing.errors import CostingError
from orders.costing.facts import (
    PER_BEAD,
    DesignFacts,
    Key,
    LineFacts,
    RateFacts,
    WorkshopFacts,
)
from orders.costing.figures import MONEY, Figure, fact, rule, total
from orders.costing.layout import lay_out
from orders.costing.making import BeadsAsked
from orders.costing.netting import Shelf
from orders.costing.numbers import ZERO
from orders.costing.pocket import is_paid, one_more
from orders.costing.pricing import ORDERED
from orders.costing.results import Taken
from orders.costing.strand import StrandLayout
from orders.costing.strand_figures import StrandFigures, strand_figures
from orders.costing.work import learned_units, line_rates, rate_figures
from workshop.physics.sentences import gettext_noop as _

LOOSE = fact(_("Loose beads ordered"), "beads", "order line")
NEEDED = rule(_("Needed by a line"), "beads", "product")

STRUNG = rule(_("Strung"), "pieces", "same")
BEADS_EACH = total(_("Beads on one piece"), "beads", nothing=0)
BEADS_STRUNG = rule(_("Beads strung"), "beads", "product")
TIMED = rule(_("Units by the time they take"), "", "share")

PRICE = {source: fact(_("Price"), MONEY, source) for source in ("design", "spacer", "stock")}
HOW_MANY = fact(_("How many"), "", "design")
FINDING = rule(_("Finding"), MONEY, "product")
SPACERS = rule(_("Spacers"), MONEY, "product")
METRE = {s: fact(_("Price of a metre"), MONEY, s) for s in ("design", "stock")}
CORD = rule(_("Cord"), MONEY, "product", "cord")
FINDINGS_EACH = total(_("Findings of one piece"), MONEY)
FINDINGS = rule(_("Findings"), MONEY, "product")
NO_FINDINGS = fact(_("Findings"), MONEY, "order line")

COUNT_TAKEN = fact(_("Taken from a batch"), "beads", "stock")
VALUE_EACH = fact(_("Value of one"), MONEY, "stock")
VALUE_OF_BATCH = rule(_("Value taken"), MONEY, "product")
VALUE_TAKEN = total(_("Value taken from the shelf"), MONEY)
BEADS_TAKEN = rule(_("Beads from the shelf"), MONEY, "share")
STRANDS_TAKEN = fact(_("Ready strands"), MONEY, "stock", "strands")
FROM_SHELF = total(_("From the shelf"), MONEY, "shelf")
# What bringing the shelf back to where it was takes out of the drawer.
READY_STRANDS = fact(_("Ready strands taken"), "pieces", "stock")
BEADS_AGAIN = rule(_("Beads"), MONEY, "product")
STRUNG_AGAIN = rule(_("Pay"), MONEY, "product")
PAID_AGAIN = rule(_("Pay"), MONEY, "same")
STRAND_AGAIN = total(_("Out of pocket for one more"), MONEY)
STRANDS_AGAIN = rule(_("Making as many again"), MONEY, "product", "strands")


class LineDraft:
    """A line while it is being worked out.

    strand             None for loose beads and for work on a piece
    to_string          None for loose beads without a design
    needs              beads of each kind that it needs
    """

    __slots__ = (
        "asked",
        "design",
        "index",
        "key",
        "line",
        "name",
        "needs",
        "ready",
        "ready_count",
        "strand",
        "to_string",
    )

    def __init__(self, index: int, line: LineFacts, name: str) -> None:
        self.index = index
        self.key = f"line {index + 1}"
        self.line = line
        self.name = name
        self.asked = ORDERED(line.quantity, name)
        self.design: DesignFacts | None = None
        self.strand: StrandFigures | None = None
        self.ready: tuple[Taken, ...] = ()
        self.ready_count = 0
        self.to_string: Figure | None = None
        self.needs: dict[Key, Figure] = {}

    @property
    def layout(self) -> StrandLayout | None:
        return self.strand.layout if self.strand else None

    @property
    def strung(self) -> Figure | None:
        """Strands to string; None where there are none."""
        return self.to_string if self.to_string and self.to_string.value else None


def draft_line(workshop: WorkshopFacts, index: int, line: LineFacts, shelf: Shelf) -> LineDraft:
    """Lay the strand out, take the ready ones, and say which beads the rest needs."""
    if line.design is None:
        assert line.bead is not None
        draft = LineDraft(index, line, workshop.beads[line.bead].name)
        draft.needs[line.bead] = LOOSE(line.quantity, draft.name, draft.key)
        return draft
    design = workshop.designs[line.design]
    draft = LineDraft(index, line, design.name)
    draft.design = design
    if design.is_work:
        draft.to_string = draft.asked
        return draft
    try:
        lay_out(workshop, line.design)
    except CostingError as error:
        error.line = index
        raise
    strand = draft.strand = strand_figures(workshop, line.design)
    draft.ready, ready, strung = shelf.take_strands(line.design, design.name, draft.asked)
    draft.ready_count, draft.to_string = ready.value, strung
    if strung.value:
        for bead, _count in strand.layout.beads:
            draft.needs[bead] = NEEDED(design.name, strand.count(bead), strung, key=draft.key)
    return draft


def rates_of(workshop: WorkshopFacts, design: DesignFacts) -> tuple[RateFacts, ...]:
    """What is done to one piece of a design: its own work, else the workshop's stringing."""
    return line_rates(workshop) if design.own_rates is None else design.own_rates


def line_units(draft: LineDraft, basis: str) -> Figure:
    """Units of stringing a line: the strands strung, or the beads on them."""
    assert draft.strung is not None
    if basis != PER_BEAD:
        return STRUNG(draft.name, draft.strung, key=draft.key)
    assert draft.strand is not None
    counts = [draft.strand.count(bead) for bead, _n in draft.strand.layout.beads]
    each = BEADS_EACH(draft.name, counts)
    return BEADS_STRUNG(draft.name, draft.strung, each, key=draft.key)


def timed_units(draft: LineDraft, units: Figure) -> Figure:
    """Those units by the time they take, while the hands are learning the design."""
    assert draft.design is not None and draft.strung is not None
    if draft.design.learning is None:
        return units
    learned = learned_units(draft.design.learning, draft.strung, draft.name)
    return TIMED(draft.name, learned, units, draft.strung, key=draft.key)


# -- findings ------------------------------------------------------------------------------


def findings_cost(workshop: WorkshopFacts, draft: LineDraft) -> Figure:
    """Clasps, spacers and cord of a line's strung pieces."""
    key = f"{draft.key} findings"
    if draft.strand is None or draft.strung is None:
        return NO_FINDINGS(ZERO, draft.name, key)
    return FINDINGS(draft.name, findings_each(workshop, draft.strand), draft.strung, key=key)


def findings_each(workshop: WorkshopFacts, strand: StrandFigures) -> Figure:
    """Clasps, spacers and cord of one piece."""
    kept = workshop._kept.get(("findings", strand.design.key))
    if kept is None:
        kept = workshop._kept["findings", strand.design.key] = _add_findings(workshop, strand)
    return kept


def _add_findings(workshop: WorkshopFacts, strand: StrandFigures) -> Figure:
    design, parts = strand.design, []
    for place, finding in enumerate(design.findings, 1):
        price = _price(workshop, finding.key, PRICE, "design", finding.price, finding.name)
        count = HOW_MANY(finding.count, design.name)
        parts.append(FINDING(finding.name, price, count, key=f"finding {place}"))
    for item, _count in strand.layout.spacers:
        spacer = workshop.spacers[item]
        price = _price(workshop, item, PRICE, "spacer", spacer.price, spacer.name)
        count = strand.count(item, spacer=True)
        parts.append(SPACERS(spacer.name, price, count, key=f"spacer {item}"))
    cord = design.cord
    price = _price(workshop, cord.key, METRE, "design", cord.price_per_m, cord.name)
    parts.append(CORD(cord.name, strand.cord(), price))
    return FINDINGS_EACH(design.name, parts)


def _price(
    workshop: WorkshopFacts,
    key: Key,
    told: Mapping[str, Callable[[Decimal, str], Figure]],
    source: str,
    written: Decimal,
    name: str,
) -> Figure:
    """What a finding costs: on average what lies in stock did, else the price written down."""
    kept = workshop.kept_findings.get(key)
    if kept is not None and kept.value_each is not None:
        return told["stock"](kept.value_each, name)
    return told[source](written, name)


# -- what the shelf gives --------------------------------------------------------------------


def value_taken(beads: BeadsAsked) -> Figure:
    """What the beads of a kind that come from the shelf are worth."""
    parts = []
    for batch in beads.taken:
        if batch.value_each:
            count = COUNT_TAKEN(batch.count, batch.name)
            each = VALUE_EACH(batch.value_each, batch.name)
            parts.append(VALUE_OF_BATCH(batch.name, count, each, key=f"batch {batch.key}"))
    return VALUE_TAKEN(beads.facts.name, parts)


def again_from_shelf(workshop: WorkshopFacts, draft: LineDraft) -> Figure | None:
    """What making the ready strands of a line again takes out of the drawer; None for no such."""
    if not draft.ready_count or draft.strand is None:
        return None
    place = "strand again", draft.strand.design.key
    each = workshop._kept.get(place)
    if each is None:
        each = workshop._kept[place] = _strand_again(workshop, draft.strand)
    return STRANDS_AGAIN(draft.name, READY_STRANDS(draft.ready_count, draft.name), each)


def _strand_again(workshop: WorkshopFacts, strand: StrandFigures) -> Figure:
    """Beads, findings and the stringing of one strand, as far as they leave the drawer."""
    parts, counts = [findings_each(workshop, strand)], []
    for bead, _count in strand.layout.beads:
        count = strand.count(bead)
        counts.append(count)
        parts.append(BEADS_AGAIN(workshop.beads[bead].name, count, one_more(workshop, bead)))
    for facts in rates_of(workshop, strand.design):
        rate = rate_figures(workshop, facts)
        if is_paid(workshop, rate):
            key = f"rate {facts.key}"
            if facts.basis == PER_BEAD:
                beads = BEADS_EACH(strand.design.name, counts)
                parts.append(STRUNG_AGAIN(facts.step, rate.one, beads, key=key))
            else:
                parts.append(PAID_AGAIN(facts.step, rate.one, key=key))
    return STRAND_AGAIN(strand.design.name, parts)


def shelf_costs(
    lines: Sequence[LineDraft], asked: Sequence[BeadsAsked], values: Sequence[Figure]
) -> list[Figure]:
    """For each line, what the beads and ready strands it takes from the shelf are worth.

    values  what was taken of each kind of bead that is asked for
    """
    parts: list[list[Figure]] = [[] for _line in lines]
    for one, value in zip(asked, values, strict=True):
        if value.value:
            name, key = one.facts.name, f"bead {one.facts.key}"
            for index, need in one.shares:
                parts[index].append(BEADS_TAKEN(name, value, need, one.needed, key=key))
    for line, of_line in zip(lines, parts, strict=True):
        strands = [part.count * part.value_each for part in line.ready if part.value_each]
        if strands:
            of_line.append(STRANDS_TAKEN(sum(strands), line.name))
    return [FROM_SHELF(line.name, of_line) for line, of_line in zip(lines, parts, strict=True)]
