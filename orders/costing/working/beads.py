"""The working of beads: needed, on the shelf, to start; their glass, firings and cost."""

from orders.costing.bead_unit import BeadUnit, ColourUnit, FiringUnit
from orders.costing.facts import Key, ScatterFacts
from orders.costing.numbers import ONE
from orders.costing.results import BeadCosting, LineCosting
from orders.costing.scatter import moments
from orders.costing.working.base import Working, added, given, worked
from orders.costing.working.operations import OPERATIONS
from orders.costing.working.strand import bead_count_term, dimension_terms
from orders.costing.working.terms import Term
from workshop.physics.sentences import gettext_noop as _

CHOICE = "owner's choice"


def to_string_term(working: Working, line: LineCosting) -> Term:
    """Strands of a line that are still to be strung: ordered less ready."""

    def make() -> Term:
        asked = given(_("Ordered"), line.quantity, "pieces", "order line", line.name)
        stock = working.costing.facts.stock or working.workshop.stock
        free = sum(ready.free for ready in stock.strands if ready.design == line.design)
        earlier = sum(
            other.ready_taken
            for other in working.costing.lines[: line.index]
            if other.design == line.design
        )
        on_shelf = given(_("Ready on the shelf"), free, "pieces", "stock", line.name)
        if earlier:
            gone = given(_("Taken by earlier lines"), earlier, "pieces", "order line", line.name)
            on_shelf = worked(
                _("Still ready"), free - earlier, "pieces", "difference", [on_shelf, gone]
            )
        taken = worked(
            _("Ready strands taken"), line.ready_taken, "pieces", "least", [asked, on_shelf]
        )
        children = [asked, taken]
        return worked(
            _("To string"), line.to_string, "pieces", "difference", children, line.name, "to string"
        )

    return working.once(("to string", line.index), make)


def line_need_term(working: Working, bead: BeadCosting, index: int) -> Term:
    """Beads of a kind that one line needs."""

    def make() -> Term:
        line = working.costing.lines[index]
        count = dict(bead.share_by_line)[index]
        key = f"line {index + 1}"
        if line.layout is None:
            return given(_("Loose beads ordered"), count, "beads", "order line", bead.name, key)
        children = [
            bead_count_term(working, line.layout, bead.key),
            to_string_term(working, line),
        ]
        return worked(_("Needed by a line"), count, "beads", "product", children, line.name, key)

    return working.once(("need", bead.key, index), make)


def needed_term(working: Working, bead: BeadCosting) -> Term:
    def make() -> Term:
        lines = [line_need_term(working, bead, index) for index, _n in bead.share_by_line]
        return added(_("Beads needed"), bead.needed, "beads", lines, bead.name, "needed")

    return working.once(("needed", bead.key), make)


def to_make_term(working: Working, bead: BeadCosting) -> Term:
    """Beads still to be made: needed less what the batches on the shelf give, oldest first."""

    def make() -> Term:
        needed = needed_term(working, bead)
        stock = working.costing.facts.stock or working.workshop.stock
        free = {batch.key: batch.free for batch in stock.batches if batch.bead == bead.key}
        batches: list[Term] = []
        wanted, still = bead.needed, needed
        for taken in bead.taken:
            batches.append(
                worked(
                    _("Taken from a batch"),
                    taken.count,
                    "beads",
                    "least",
                    [still, given(_("Free"), free[taken.key], "beads", "stock", taken.name)],
                    taken.name,
                    f"batch {taken.key}",
                )
            )
            wanted -= taken.count
            children = [needed, *batches]
            still = worked(_("Still needed"), wanted, "beads", "difference", children, bead.name)
        if not batches:
            free_now = given(_("Free"), 0, "beads", "stock", bead.name)
            batches = [free_now]
        children = [needed, *batches]
        return worked(
            _("Beads to make"), bead.to_make, "beads", "difference", children, bead.name, "to make"
        )

    return working.once(("to make", bead.key), make)


def reject_term(working: Working, unit: BeadUnit) -> Term:
    def make() -> Term:
        rates = [
            given(
                _("Reject rate"),
                firing.reject_rate,
                "",
                firing.facts.reject_source,
                unit.facts.name,
                f"firing {firing.number}",
            )
            for firing in unit.firings
        ]
        if len(rates) == 1:
            return rates[0]
        name = _("Reject rate over all firings")
        return worked(name, unit.reject_rate, "", "chained_rejects", rates, unit.facts.name)

    return working.once(("reject", unit.facts.key), make)


def start_term(working: Working, bead: BeadCosting) -> Term:
    """Beads to start, and whole moulds if the owner said so."""

    def make() -> Term:
        unit, choices = working.unit(bead.key), working.workshop.choices
        to_make = to_make_term(working, bead)
        assurance = given(_("Assurance"), choices.assurance, "", CHOICE)
        if unit.scatter is None:
            how = "start"
            children = [to_make, reject_term(working, unit), assurance]
        else:
            how = "start_scattered"
            children = [to_make, *_scatter(unit), assurance]
        name = _("Beads to start")
        if not choices.whole_moulds:
            return worked(name, bead.start, "beads", how, children, bead.name, "start")
        least = OPERATIONS[how].work([child.value for child in children])
        enough = worked(_("Enough"), least, "beads", how, children, bead.name)
        mould = unit.firings[0].mould
        cavities = given(_("Cavities"), mould.cavities, "beads", "mould", mould.name)
        return worked(
            name, bead.start, "beads", "whole_multiple", [enough, cavities], bead.name, "start"
        )

    return working.once(("start", bead.key), make)


def _scatter(unit: BeadUnit) -> list[Term]:
    """alpha and beta of the reject rate: as fitted, or over several firings."""
    assert unit.scatter is not None
    name = unit.facts.name
    if len(unit.firings) == 1:
        return _fitted(unit.scatter, name)
    stages: list[Term] = []
    for firing in unit.firings:
        stages += _stage(firing, name)
    return [
        worked(_("Scatter, alpha"), unit.scatter.alpha, "", "chained_alpha", stages, name),
        worked(_("Scatter, beta"), unit.scatter.beta, "", "chained_beta", stages, name),
    ]


def _stage(firing: FiringUnit, subject: str) -> list[Term]:
    """Mean and variance of the reject rate of one firing."""
    mean, variance = moments(firing.facts)
    keys = f"mean {firing.number}", f"spread {firing.number}"
    names = _("Mean reject rate"), _("Its variance")
    if firing.facts.scatter is None:
        source = firing.facts.reject_source
        return [
            given(names[0], mean, "", source, subject, keys[0]),
            given(names[1], variance, "", "no scatter", subject, keys[1]),
        ]
    fitted = _fitted(firing.facts.scatter, subject)
    return [
        worked(names[0], mean, "", "beta_mean", fitted, subject, keys[0]),
        worked(names[1], variance, "", "beta_variance", fitted, subject, keys[1]),
    ]


def _fitted(scatter: ScatterFacts, subject: str) -> list[Term]:
    source = f"fitted to {scatter.loads} loads"
    return [
        given(_("Scatter, alpha"), scatter.alpha, "", source, subject),
        given(_("Scatter, beta"), scatter.beta, "", source, subject),
    ]


# -- mass ----------------------------------------------------------------------------------


def fill_term(working: Working, unit: BeadUnit) -> Term:
    """Glass weighed out for one bead, from its finished mass and what is lost on the way."""

    def make() -> Term:
        bead = unit.facts
        spill = given(_("Spill"), bead.spill, "", "bead", bead.name)
        children = [fired_term(working, unit), spill]
        return worked(_("Mould fill"), unit.fill_g, "g", "before_loss", children, bead.name, "fill")

    return working.once(("fill", unit.facts.key), make)


def fired_term(working: Working, unit: BeadUnit) -> Term:
    def make() -> Term:
        bead = unit.facts
        polishing = given(_("Polishing loss"), bead.polishing_loss, "", "bead", bead.name)
        mass_g = unit.finished_g / (ONE - bead.polishing_loss)
        children = [finished_term(working, unit), polishing]
        fired = worked(_("Fired mass"), mass_g, "g", "before_loss", children, bead.name, "fired")
        if not bead.pierced_waste:
            return fired
        waste = given(_("Waste from piercing"), bead.pierced_waste, "", "bead", bead.name)
        name = _("Fired mass before piercing")
        return worked(name, unit.fired_g, "g", "before_loss", [fired, waste], bead.name, "fired")

    return working.once(("fired", unit.facts.key), make)


def finished_term(working: Working, unit: BeadUnit) -> Term:
    """Finished mass of one bead: weighed, or volume × density less its pores."""

    def make() -> Term:
        bead = unit.facts
        name = _("Finished mass")
        if unit.weighed:
            assert bead.weighed is not None
            source = f"mean of {bead.weighed.count} weighed"
            return given(name, unit.finished_g, "g", source, bead.name, "finished")
        assert unit.volume_mm3 is not None
        children = [_volume(working, unit), _density(working, unit)]
        solid_g = unit.volume_mm3 * unit.density_g_cm3 / 1000
        solid = worked(_("Mass without pores"), solid_g, "g", "per_thousand", children)
        pores = given(_("Porosity"), bead.porosity, "", "bead", bead.name)
        children = [solid, pores]
        return worked(name, unit.finished_g, "g", "without", children, bead.name, "finished")

    return working.once(("finished mass", unit.facts.key), make)


def _volume(working: Working, unit: BeadUnit) -> Term:
    bead = unit.facts
    name = _("Volume, bore taken out")
    assert unit.volume_mm3 is not None
    if bead.volume_mm3 is not None:
        return given(name, unit.volume_mm3, "mm³", "bead", bead.name, "volume")
    sizes = dimension_terms(working, bead.key)
    how = f"volume_{bead.shape}"
    return worked(name, unit.volume_mm3, "mm³", how, sizes, bead.name, "volume")


def _density(working: Working, unit: BeadUnit) -> Term:
    name = _("Density of the glass")
    bead = unit.facts
    if bead.density_g_cm3 is not None:
        return given(name, unit.density_g_cm3, "g/cm³", "bead", bead.name, "density")
    densities = [
        given(name, part.colour.density_g_cm3, "g/cm³", "colour", part.colour.name)
        for part in unit.colours
    ]
    if len({term.value for term in densities}) == 1:
        return densities[0]
    children = []
    for part, density in zip(unit.colours, densities, strict=True):
        children += [share_term(unit, part), density]
    return worked(name, unit.density_g_cm3, "g/cm³", "mixed_density", children, bead.name)


def share_term(unit: BeadUnit, part: ColourUnit) -> Term:
    name = _("Colour share, by mass")
    return given(name, part.share, "", "bead", f"{unit.facts.name}, {part.colour.name}")


def glass_term(working: Working, bead: BeadCosting, colour: Key) -> Term:
    """Prepared glass of one colour for all beads of a kind that are started."""

    def make() -> Term:
        unit = working.unit(bead.key)
        place = next(i for i, part in enumerate(unit.colours) if part.colour.key == colour)
        part = unit.colours[place]
        children = [
            start_term(working, bead),
            fill_term(working, unit),
            share_term(unit, part),
        ]
        grams = bead.glass_g[place][2]
        subject = f"{bead.name}, {part.colour.name}"
        name = _("Prepared glass for a bead")
        return worked(name, grams, "g", "product", children, subject, f"bead {bead.key}")

    return working.once(("glass", bead.key, colour), make)


def painted_term(working: Working, bead: BeadCosting) -> Term:
    """Beads painted: expected survivors of the first firing, rounded up."""
    first = working.unit(bead.key).firings[0]
    source = first.facts.reject_source
    rate = given(_("Reject rate"), first.reject_rate, "", source, bead.name, "firing 1")
    children = [start_term(working, bead), rate]
    return worked(_("Beads painted"), bead.painted, "beads", "survivors", children, bead.name)
