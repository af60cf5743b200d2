"""The whole working of an order's costing as one tree: page, cost sheet and JSON print it.

The figures know how they follow from one another; here they get their headings.
"""

from collections.abc import Sequence
from decimal import localcontext

from orders.costing.facts import Key
from orders.costing.figures import MONEY, Costed, Figure
from orders.costing.numbers import CONTEXT
from orders.costing.results import BeadCosting, FiringCosting, LineCosting, OrderCosting
from orders.costing.strand_figures import StrandFigures, strand_figures
from orders.costing.working.terms import Term
from workshop.physics.sentences import gettext_noop as _


def order_tree(costing: OrderCosting) -> Term:
    """The tree behind an order's costing.

    Its first level: ``strands`` (layouts), ``beads``, ``glass``, ``firings``, ``labour``,
    ``lines`` (both floors and prices of each), ``cost`` in full, ``out of pocket``, ``price`` and,
    if anything is charged, ``margin``.
    """
    with localcontext(CONTEXT):
        return _Tree(costing).order()


class _Tree:
    """One costing being written as a tree; a figure used in several places is one term."""

    def __init__(self, costing: OrderCosting) -> None:
        self.costing = costing
        self._terms: dict[int, tuple[Figure, Term]] = {}

    def term(self, figure: Figure) -> Term:
        """A figure and all it follows from."""
        kept = self._terms.get(id(figure))
        if kept is None:
            rule = figure.rule
            unit = self.costing.currency if rule.unit == MONEY else rule.unit
            parts = figure.parts() if callable(figure.parts) else figure.parts
            children = tuple([self.term(part) for part in parts])
            term = Term(
                rule.name,
                figure.value,
                unit,
                rule.how if children else "given",
                rule.source,
                children,
                figure.subject,
                figure.key,
            )
            # The figure is kept beside its term, so that no other can be given its place.
            kept = self._terms[id(figure)] = (figure, term)
        return kept[1]

    def terms(self, of: Costed, *names: str) -> list[Term]:
        """The figures behind some attributes of a result."""
        return [self.term(of.figure(name)) for name in names]

    def order(self) -> Term:
        costing = self.costing
        laid = [line for line in costing.lines if line.layout is not None]
        designs = dict.fromkeys(line.design for line in laid if line.design is not None)
        strands = [self._strand(design) for design in designs]
        beads = [self._bead(bead) for bead in costing.beads]
        firings = [self._firing(bead, firing) for bead in costing.beads for firing in bead.firings]
        firings += self.terms(costing, "kiln_min", "loads_alone")
        lines = [self._line(line) for line in costing.lines]
        children = [
            heading(_("Strands"), strands, key="strands"),
            heading(_("Beads"), beads, key="beads"),
            self._glass(),
            heading(_("Firings"), firings, key="firings"),
            self._labour(),
            heading(_("Lines"), lines, key="lines"),
            *self.terms(costing, "cost", "pocket", "price_total"),
        ]
        if costing.margin is not None:
            children += self.terms(costing, "margin")
        return heading(_("Order"), children, costing.facts.reference, "order")

    def _strand(self, design: Key) -> Term:
        """A design's beads, spacers, length reached and cord."""
        strand: StrandFigures = strand_figures(self.costing.facts.workshop, design)
        figures = [strand.count(bead) for bead, _count in strand.layout.beads]
        figures += [strand.count(item, spacer=True) for item, _count in strand.layout.spacers]
        figures += [strand.finished(), *strand.nearest(), strand.cord()]
        children = [self.term(figure) for figure in figures]
        return heading(_("Strand layout"), children, strand.design.name, f"{design}")

    def _bead(self, bead: BeadCosting) -> Term:
        """One kind of bead: needed, to start, fired, its cost."""
        children = self.terms(bead, "needed")
        if bead.start:
            children += self.terms(bead, "start", "fill_g")
            children += [self._firing(bead, firing) for firing in bead.firings]
        if bead.painted:
            children += self.terms(bead, "painted")
        children += self.terms(bead, "cost", "pocket")
        return heading(_("Bead"), children, bead.name, f"bead {bead.key}")

    def _firing(self, bead: BeadCosting, firing: FiringCosting) -> Term:
        """One firing: moulds, share of the kiln, loads, minutes and fuel."""
        names = "fills", "share", "loads_alone", "kiln_min", "fuel_cost"
        key = f"bead {bead.key} firing {firing.number}"
        subject = f"{bead.name}, {firing.number}"
        return heading(_("Firing"), self.terms(firing, *names), subject, key)

    def _glass(self) -> Term:
        """Every colour: needed, to prepare, raw, short, bottles, cost."""
        colours = []
        for glass in self.costing.glass:
            names = ["needed_g", "to_prepare_g", "raw_g", "short_g"]
            names += ["cost"] if glass.bottles is None else ["bottles", "cost"]
            key = f"colour {glass.key}"
            colours.append(heading(_("Glass"), self.terms(glass, *names), glass.name, key))
        colours += self.terms(self.costing, "needed_g", "short_g")
        return heading(_("Glass"), colours, key="glass")

    def _labour(self) -> Term:
        """Every step: its minutes and its pay."""
        steps = [
            heading(_("Step"), self.terms(work, "minutes", "cost"), work.step, f"rate {work.rate}")
            for work in self.costing.labour
        ]
        steps += self.terms(self.costing, "labour_min")
        return heading(_("Labour"), steps, key="labour")

    def _line(self, line: LineCosting) -> Term:
        """One line: both floors, lowest and suggested price, the price in force and the margin."""
        names = ["cost_each", "pocket_each", "lowest", "suggested", "price_each", "price_total"]
        names += [] if line.margin is None else ["margin"]
        return heading(_("Line"), self.terms(line, *names), line.name, f"line {line.index + 1}")


def heading(name: str, children: Sequence[Term], subject: str = "", key: str = "") -> Term:
    """A heading; its value is how many stand under it."""
    return Term(name, len(children), "", "list", "worked out", tuple(children), subject, key)
