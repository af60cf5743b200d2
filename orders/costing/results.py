"""What costing answers. Its figures are exact and unrounded, and cannot be changed.

Counts are ``int``; grams, millimetres, minutes and money are ``Decimal``. Each is the value of a
`Figure`; `working.tree.order_tree` opens it down to the facts it came from.
"""

from dataclasses import dataclass
from decimal import Decimal

from orders.costing.facts import Key, NewLoad, OrderFacts
from orders.costing.figures import Costed
from orders.costing.numbers import ZERO
from orders.costing.strand import StrandLayout


@dataclass(frozen=True, slots=True)
class Taken:
    """Good beads of a batch, or ready strands, taken from the shelf for this order."""

    key: Key
    name: str
    count: int
    value_each: Decimal | None


class FiringCosting(Costed):
    """One firing of one kind of bead: its room in the kiln, time and fuel.

    share         places taken ÷ places of the kiln: this order's share of kiln loads
    loads_alone   loads if nothing else were fired with it
    kiln_min      fair share of the kiln's minutes; alone_min if fired alone
    """

    __slots__ = ()

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
    wear_cost: Decimal
    mould_cost: Decimal

    @property
    def alone_min(self) -> Decimal:
        return self.load_min * self.loads_alone


class BeadCosting(Costed):
    """One kind of bead of the order, all its lines together.

    needed       on the strands still to be strung, and loose
    taken        from which batches; from_shelf their sum
    to_make      needed less from_shelf
    start        beads to start so that to_make come good with the assurance
    painted      beads that get painted: expected survivors of the first firing, rounded up
    fill_g       glass weighed out for one bead
    glass_g      prepared glass by (colour, form) for all that are started
    scrap        what the rejects expected bring as glass
    of_all       of making all that are started: glass, pigment and paint, fuel, wear, moulds,
                 labour and workshop costs, less scrap
    cost         what of it the order bears; left_over the rest, of beads for the shelf
    pocket       what the order's beads take out of the drawer, without the loads
    share_by_line  beads needed by each line, by index of the line

    Masses are 0 when all of them lie on the shelf and none is made.
    """

    __slots__ = ()

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
    wear_cost: Decimal
    mould_cost: Decimal
    labour_cost: Decimal
    workshop_cost: Decimal
    scrap: Decimal
    of_all: Decimal
    left_over: Decimal
    shelf_cost: Decimal
    cost: Decimal
    pocket: Decimal
    share_by_line: tuple[tuple[int, int], ...]

    @property
    def fills(self) -> int:
        return self.firings[0].fills if self.firings else 0


class PreparedCosting(Costed):
    """Prepared glass of one colour in one form.

    behind_g  glass that preparing the rest takes: raw from bottles, or (from_raw False) of the form
              itself, which is then short
    """

    __slots__ = ()

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


class GlassCosting(Costed):
    """One colour of the order: ready glass, raw glass, what is short, in grams.

    short_g   raw_short_g and what is short of forms that are not from bottles
    bottles   about how many bottles the shortage is; None when the colour has no bottle mass
    """

    __slots__ = ()

    key: Key
    name: str
    swatch: str
    forms: tuple[PreparedCosting, ...]
    needed_g: Decimal
    to_prepare_g: Decimal
    raw_g: Decimal
    raw_free_used_g: Decimal
    raw_short_g: Decimal
    short_g: Decimal
    bottles: int | None
    cost: Decimal


class LabourCosting(Costed):
    """One step's work for the order. units are in the rate's basis; timed is how many units' time
    they take, which differs only while the hands are learning a new design."""

    __slots__ = ()

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


class LineCosting(Costed):
    """One line of the order.

    labour_cost  of stringing; that of making the beads is in beads_cost
    order_cost   its share of set-ups and of what is done once an order
    cost         full cost: its share of everything, overhead included; cost_each for one strand
    pocket_alone what it takes out of the drawer if it joins loads that are lit anyway
    loads_cost   its share of the loads that are lit for the order
    pocket       both; pocket_each for one strand
    lowest       the greater of the two floors for one strand, at whole minor units
    suggested    cost_each ÷ (1 − margin), no less than pocket_each, up to a saleable step
    price_net    the line's price without VAT
    word         what is to be said of a price below a floor: pricing.LOSES, NO_SHARE or ""
    price_each   the price in force and price_from whence: "line", "customer", "list", "suggested"
    margin       share of the price above cost; None when nothing is charged
    margin_asked, off   the margin and the quantity break behind the suggested price
    listed       the price in the list of the customer's group, if any
    off_listed   the quantity break as far as it comes off that price
    """

    __slots__ = ()

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
    workshop_cost: Decimal
    order_cost: Decimal
    shelf_cost: Decimal
    overhead_cost: Decimal
    cost: Decimal
    cost_each: Decimal
    pocket_alone: Decimal
    loads_cost: Decimal
    pocket: Decimal
    pocket_each: Decimal
    lowest: Decimal
    suggested: Decimal
    price_each: Decimal
    price_from: str
    price_total: Decimal
    price_net: Decimal
    margin: Decimal | None
    margin_asked: Decimal
    off: Decimal
    listed: Decimal | None
    off_listed: Decimal
    word: str

    @property
    def below_cost(self) -> bool:
        """Whether the price stands below one of the floors."""
        return bool(self.word)

    @property
    def pocket_rules(self) -> bool:
        """Whether it is what leaves the drawer that sets the lowest price."""
        return self.pocket > self.cost


class OrderCosting(Costed):
    """Everything an order takes. See the attributes' own classes for units.

    once_cost     what comes once an order: set-ups and steps per order; part of labour_cost and
                  workshop_cost
    scrap         what the rejects expected bring; left_over: what the shelf keeps of what is made
    cost          full cost: glass + pigment + fuel + wear + moulds + labour + workshop + findings −
                  scrap − left over + shelf + overhead, unrounded
    pocket        what the order takes out of the drawer; loads_cost of it for loads lit for it
    new_loads     the loads that are lit for it, as far as they are known
    kiln_min      this order's fair share of kiln minutes; alone_min if fired alone
    loads_alone   kiln loads if fired alone
    price_total   sum of the lines' price totals
    margin        share of the price that is above cost; None when nothing is charged
    needed_g      prepared glass needed, and short_g what is short, of all colours
    labour_min    minutes of all steps
    """

    __slots__ = ()

    facts: OrderFacts
    currency: str
    lines: tuple[LineCosting, ...]
    beads: tuple[BeadCosting, ...]
    glass: tuple[GlassCosting, ...]
    labour: tuple[LabourCosting, ...]
    glass_cost: Decimal
    pigment_cost: Decimal
    fuel_cost: Decimal
    wear_cost: Decimal
    mould_cost: Decimal
    labour_cost: Decimal
    workshop_cost: Decimal
    once_cost: Decimal
    findings_cost: Decimal
    scrap: Decimal
    left_over: Decimal
    shelf_cost: Decimal
    overhead_cost: Decimal
    cost: Decimal
    pocket: Decimal
    loads_cost: Decimal
    new_loads: tuple[NewLoad, ...]
    price_total: Decimal
    price_net: Decimal
    margin: Decimal | None
    needed_g: Decimal
    short_g: Decimal
    kiln_min: Decimal
    loads_alone: int
    labour_min: Decimal

    @property
    def firings(self) -> tuple[FiringCosting, ...]:
        return tuple(firing for bead in self.beads for firing in bead.firings)

    @property
    def alone_min(self) -> Decimal:
        return sum((firing.alone_min for firing in self.firings), ZERO)

    @property
    def minutes_by_skill(self) -> dict[str, Decimal]:
        minutes: dict[str, Decimal] = {}
        for work in self.labour:
            minutes[work.skill] = minutes.get(work.skill, ZERO) + work.minutes
        return minutes

    @property
    def sells_below_cost(self) -> bool:
        """Whether a line's price stands below one of its floors."""
        return any(line.below_cost for line in self.lines)
