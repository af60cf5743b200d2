"""What costing answers: plain frozen results. Their figures are exact and unrounded.

Counts are ``int``; grams, millimetres, minutes and money are ``Decimal``. `working.tree.order_tree`
opens any of them down to the facts they came from.
"""

from dataclasses import dataclass, field
from decimal import Decimal

from orders.costing.facts import Key, OrderFacts
from orders.costing.numbers import ZERO
from orders.costing.strand import StrandLayout


@dataclass(frozen=True, slots=True)
class Taken:
    """Good beads of a batch, or ready strands, taken from the shelf for this order."""

    key: Key
    name: str
    count: int
    value_each: Decimal | None


@dataclass(frozen=True, slots=True)
class FiringCosting:
    """One firing of one kind of bead: its room in the kiln, time and fuel.

    share         places taken ÷ places of the kiln: this order's share of kiln loads
    loads_alone   loads if nothing else were fired with it
    kiln_min      fair share of the kiln's minutes; alone_min if fired alone
    """

    bead: Key
    number: int
    kiln: Key
    programme: Key
    mould: Key
    beads: int
    fills: int
    places: int
    loads_alone: int
    share: Decimal
    load_min: Decimal
    kiln_min: Decimal
    fuel: str
    fuel_amount: Decimal
    fuel_cost: Decimal

    @property
    def alone_min(self) -> Decimal:
        return self.load_min * self.loads_alone


@dataclass(frozen=True, slots=True)
class BeadCosting:
    """One kind of bead of the order, all its lines together.

    needed       on the strands still to be strung, and loose
    taken        from which batches; from_shelf their sum
    to_make      needed less from_shelf
    start        beads to start so that to_make come good with the assurance
    painted      beads that get painted: expected survivors of the first firing, rounded up
    fill_g       glass weighed out for one bead
    glass_g      prepared glass by (colour, form) for all that are started
    share_by_line  beads needed by each line, by index of the line

    Masses are 0 when all of them lie on the shelf and none is made.
    """

    key: Key
    name: str
    kind: str
    needed: int
    taken: tuple[Taken, ...]
    from_shelf: int
    to_make: int
    reject_rate: Decimal
    start: int
    expected_good: Decimal
    painted: int
    finished_g: Decimal
    fired_g: Decimal
    fill_g: Decimal
    glass_g: tuple[tuple[Key, str, Decimal], ...]
    pigment_g: Decimal
    firings: tuple[FiringCosting, ...]
    glass_cost: Decimal
    pigment_cost: Decimal
    fuel_cost: Decimal
    labour_cost: Decimal
    shelf_cost: Decimal
    share_by_line: tuple[tuple[int, int], ...]

    @property
    def cost(self) -> Decimal:
        return self.glass_cost + self.pigment_cost + self.fuel_cost + self.labour_cost

    @property
    def fills(self) -> int:
        return self.firings[0].fills if self.firings else 0


@dataclass(frozen=True, slots=True)
class PreparedCosting:
    """Prepared glass of one colour in one form.

    behind_g  glass that preparing the rest takes: raw from bottles, or (from_raw False) of the form
              itself, which is then short
    """

    form: str
    needed_g: Decimal
    free_used_g: Decimal
    to_prepare_g: Decimal
    behind_g: Decimal
    from_raw: bool
    cost: Decimal

    @property
    def raw_g(self) -> Decimal:
        """Raw glass for what is to be prepared; 0 when the form is not from bottles."""
        return self.behind_g if self.from_raw else ZERO

    @property
    def short_g(self) -> Decimal:
        """Short of the form itself; only of one that is not from bottles."""
        return ZERO if self.from_raw else self.behind_g


@dataclass(frozen=True, slots=True)
class GlassCosting:
    """One colour of the order: ready glass, raw glass, what is short, in grams.

    bottles   about how many bottles the shortage is; None when the colour has no bottle mass
    """

    key: Key
    name: str
    swatch: str
    forms: tuple[PreparedCosting, ...]
    needed_g: Decimal
    to_prepare_g: Decimal
    raw_g: Decimal
    raw_free_used_g: Decimal
    short_g: Decimal
    bottles: int | None
    cost: Decimal


@dataclass(frozen=True, slots=True)
class LabourCosting:
    """One step's work for the order. units are in the rate's basis; timed is how many units' time
    they take, which differs only while the hands are learning a new design."""

    rate: Key
    step: str
    skill: str
    basis: str
    units: Decimal
    timed: Decimal
    minutes_each: Decimal  # standard time: basic × (1 + allowance)
    setup_min: Decimal
    minutes: Decimal
    cost: Decimal


@dataclass(frozen=True, slots=True)
class LineCosting:
    """One line of the order.

    labour_cost  of stringing; that of making the beads is in beads_cost
    order_cost   its share of set-ups and of what is done once an order
    cost         its share of everything, overhead included; cost_each for one strand
    lowest       the lowest price that does not lose money, at whole minor units
    suggested    cost_each ÷ (1 − margin), rounded up to a saleable step
    price_each   the price in force and price_from whence: "line", "customer", "list", "suggested"
    margin       share of the price above cost; None when nothing is charged
    margin_asked, off   the margin and the quantity break behind the suggested price
    listed       the price in the list of the customer's group, if any
    off_listed   the quantity break as far as it comes off that price
    """

    index: int
    key: Key
    design: Key | None
    bead: Key | None
    name: str
    quantity: int
    ready_taken: int
    to_string: int
    layout: StrandLayout | None
    beads_cost: Decimal
    findings_cost: Decimal
    labour_cost: Decimal
    order_cost: Decimal
    shelf_cost: Decimal
    overhead_cost: Decimal
    cost: Decimal
    cost_each: Decimal
    lowest: Decimal
    suggested: Decimal
    price_each: Decimal
    price_from: str
    price_total: Decimal
    margin: Decimal | None
    margin_asked: Decimal
    off: Decimal
    listed: Decimal | None
    off_listed: Decimal
    below_cost: bool


@dataclass(frozen=True)
class OrderCosting:
    """Everything an order takes. See the attributes' own classes for units.

    once_cost     what comes once an order: set-ups and steps per order; part of labour_cost
    cost          glass + pigment + fuel + labour + findings + shelf + overhead, unrounded
    kiln_min      this order's fair share of kiln minutes; alone_min if fired alone
    loads_alone   kiln loads if fired alone
    price_total   sum of the lines' price totals
    """

    facts: OrderFacts = field(repr=False)
    currency: str
    lines: tuple[LineCosting, ...]
    beads: tuple[BeadCosting, ...]
    glass: tuple[GlassCosting, ...]
    labour: tuple[LabourCosting, ...]
    glass_cost: Decimal
    pigment_cost: Decimal
    fuel_cost: Decimal
    labour_cost: Decimal
    once_cost: Decimal
    findings_cost: Decimal
    shelf_cost: Decimal
    overhead_cost: Decimal
    cost: Decimal
    price_total: Decimal

    @property
    def firings(self) -> tuple[FiringCosting, ...]:
        return tuple(firing for bead in self.beads for firing in bead.firings)

    @property
    def kiln_min(self) -> Decimal:
        return sum((firing.kiln_min for firing in self.firings), ZERO)

    @property
    def alone_min(self) -> Decimal:
        return sum((firing.alone_min for firing in self.firings), ZERO)

    @property
    def loads_alone(self) -> int:
        return sum(firing.loads_alone for firing in self.firings)

    @property
    def fuel_by_kind(self) -> dict[str, Decimal]:
        """kg of each fuel, or kWh of electricity."""
        amounts: dict[str, Decimal] = {}
        for firing in self.firings:
            amounts[firing.fuel] = amounts.get(firing.fuel, ZERO) + firing.fuel_amount
        return amounts

    @property
    def needed_g(self) -> Decimal:
        """Prepared glass needed, all colours."""
        return sum((colour.needed_g for colour in self.glass), ZERO)

    @property
    def short_g(self) -> Decimal:
        return sum((colour.short_g for colour in self.glass), ZERO)

    @property
    def labour_min(self) -> Decimal:
        return sum((work.minutes for work in self.labour), ZERO)

    @property
    def minutes_by_skill(self) -> dict[str, Decimal]:
        minutes: dict[str, Decimal] = {}
        for work in self.labour:
            minutes[work.skill] = minutes.get(work.skill, ZERO) + work.minutes
        return minutes

    @property
    def margin(self) -> Decimal | None:
        """Share of the price that is above cost; None when nothing is charged."""
        if not self.price_total:
            return None
        return 1 - self.cost / self.price_total

    @property
    def sells_below_cost(self) -> bool:
        return any(line.below_cost for line in self.lines)
