"""What costing is told: plain frozen facts, with no database behind them.

Everything is keyed by ``Key`` (a primary key or any other short label), so that the caller can
read each kind of row once, however many lines there are. Masses are grams, lengths
millimetres, times minutes, temperatures degrees Celsius; shares lie between 0 and 1; money is in
the workshop's one currency, unrounded. All measures are ``Decimal``, all counts ``int``.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from orders.costing.numbers import ONE, ZERO
from workshop.costs.kiln_share import UsualRun
from workshop.physics.cycle import ClosedKiln, Soak
from workshop.physics.kept_hot import KeptHot

Key = int | str

POWDER, CHUNKS, BROKEN = "powder", "chunks", "broken"

# Basis of a labour rate: what its minutes are counted in.
PER_KG, PER_MOULD, PER_BEAD = "kg", "mould", "bead"
PER_STRAND, PER_LOAD, PER_RUN, PER_ORDER = "strand", "load", "run", "order"
BASES = (PER_KG, PER_MOULD, PER_BEAD, PER_STRAND, PER_LOAD, PER_RUN, PER_ORDER)

# Skills whose work is counted in a way of its own (see labour.py); any other skill is welcome.
PREPARING, FIRING, PIERCING = "preparing", "firing", "piercing"
PAINTING, STRINGING = "painting", "stringing"


@dataclass(frozen=True, slots=True)
class FormFacts:
    """One form in which a colour is prepared, what of it is free and what preparing it loses.

    from_raw is False for glass that is not made from bottles, such as broken beads.
    value_per_kg  what a free kilogram of it stands at in the book; None: at its raw glass
    """

    form: str
    free_g: Decimal = ZERO
    grinding_yield: Decimal = ONE
    washing_yield: Decimal = ONE
    from_raw: bool = True
    value_per_kg: Decimal | None = None


@dataclass(frozen=True, slots=True)
class ColourFacts:
    """A glass colour: its forms, its raw glass, what a kilogram and a bottle of it are.

    price_per_kg   raw glass, weighted average of what was paid
    price_now      of a kilogram that is bought today; None: as the average
    bottle_g       mass of one bottle, or None when the colour does not come as bottles
    """

    key: Key
    name: str
    forms: tuple[FormFacts, ...]
    raw_free_g: Decimal = ZERO
    price_per_kg: Decimal = ZERO
    density_g_cm3: Decimal = Decimal("2.50")
    bottle_g: Decimal | None = None
    swatch: str = ""
    price_now: Decimal | None = None


@dataclass(frozen=True, slots=True)
class ColourShare:
    """How much of a bead, by mass, is of one colour."""

    colour: Key
    share: Decimal


@dataclass(frozen=True, slots=True)
class ScatterFacts:
    """Rejects that come load by load: a beta distribution fitted to records of ``loads`` loads."""

    alpha: Decimal
    beta: Decimal
    loads: int


@dataclass(frozen=True, slots=True)
class BeadFiringFacts:
    """One firing of a bead. The second firing of a painted bead is another of these."""

    programme: Key
    mould: Key
    reject_rate: Decimal = ZERO
    reject_source: str = "standard in use"
    scatter: ScatterFacts | None = None


@dataclass(frozen=True, slots=True)
class WeighedFacts:
    """Beads weighed on the bench: how many, and the mean mass of one."""

    count: int
    mean_g: Decimal


@dataclass(frozen=True, slots=True)
class BeadFacts:
    """A kind of bead: what it is made of, in what, and how often it is fired.

    shape, dimensions   as in workshop.physics.shapes (mm); or give volume_mm3 and length_mm
    volume_mm3          of glass, bore taken out; used instead of the shape when given
    length_mm           what is left along the bore; used instead of the shape when given
    form                the form of prepared glass it is moulded from
    pierced_waste       share of the fired glass lost when the hole is pierced hot
    pierce_min          minutes of one hand for a mould drawn from the heat one by one; None:
                        no mould waits in the heat for it
    fired_in            "closed" or "hot": only such a kiln; "": any
    spill               share of the glass weighed out that never gets into the mould
    paint_price_each    glass paint for one painted bead
    weighed             used instead of volume × density when enough beads were weighed
    density_g_cm3       only when the bead's glass differs from that of its colours
    times_longer        of steps by skill: how many usual times a unit of this bead takes
    own_minutes         of steps by skill: minutes of a unit of this bead, instead of the rate's
    clash               the sentence of two of its glasses that must not be mixed, and its words
    own_pieces          of steps by skill: pay of a piece of this bead, instead of the rate's
    made_to_order       nobody else buys it: an order bears all that are started, not its part
    """

    key: Key
    name: str
    kind: str
    form: str
    colours: tuple[ColourShare, ...]
    firings: tuple[BeadFiringFacts, ...]
    shape: str = ""
    dimensions: tuple[tuple[str, Decimal], ...] = ()
    volume_mm3: Decimal | None = None
    length_mm: Decimal | None = None
    porosity: Decimal = ZERO
    polishing_loss: Decimal = ZERO
    pierced_waste: Decimal = ZERO
    spill: Decimal = ZERO
    pigment_g_per_kg: Decimal = ZERO
    pigment_price_per_kg: Decimal = ZERO
    pierced: bool = False
    pierce_min: Decimal | None = None
    fired_in: str = ""
    painted: bool = False
    paint_price_each: Decimal = ZERO
    weighed: WeighedFacts | None = None
    density_g_cm3: Decimal | None = None
    times_longer: tuple[tuple[str, Decimal], ...] = ()
    own_minutes: tuple[tuple[str, Decimal], ...] = ()
    clash: tuple[str, tuple[tuple[str, str], ...]] | None = None
    own_pieces: tuple[tuple[str, Decimal], ...] = ()
    made_to_order: bool = False


@dataclass(frozen=True, slots=True)
class MouldFacts:
    """price ÷ life is what a filling wears off it; wash_each is the kiln wash of a filling."""

    key: Key
    name: str
    cavities: int
    owned: int
    places: int = 1
    clay_g: Decimal = ZERO
    price: Decimal = ZERO
    life: Decimal = ONE
    wash_each: Decimal = ZERO


@dataclass(frozen=True, slots=True)
class ProgrammeFacts:
    """A firing programme: temperature and minutes held, and the windows it may be moved in."""

    key: Key
    name: str
    temperature_c: Decimal
    minutes: Decimal
    low_c: Decimal | None = None
    high_c: Decimal | None = None
    low_min: Decimal | None = None
    high_min: Decimal | None = None
    soak: Soak | None = None


@dataclass(frozen=True, slots=True)
class KilnFacts:
    """A kiln. Put the one to be preferred first: the first that can fire a bead is taken.

    fuel             wood, charcoal, lpg, electricity
    fuel_price       per kg, or per kWh of electricity
    fuel_per_load    kg or kWh, weighed; None: worked out from the heat of glass and clay
    hot              how it is worked if it is kept hot; None: closed
    usual            how its runs usually go; None: closed
    hands            who can pierce at it
    closed           how it heats and cools, where that was timed; None: by its minutes alone
    body_mj, loss_kw, fire_efficiency  of the kiln itself; None: the efficiency says it all
    usual_fill       share of its places that a usual load fills; an order bears its part of that
    wear_per_load    of shelves and lining
    """

    key: Key
    name: str
    places: int
    preheat_min: Decimal = ZERO
    cooling_min: Decimal = ZERO
    lowest_c: Decimal = Decimal(500)
    highest_c: Decimal = Decimal(1000)
    fuel: str = "wood"
    fuel_price: Decimal = ZERO
    fuel_per_load: Decimal | None = None
    efficiency: Decimal = Decimal("0.12")  # common practice, no source
    moisture: Decimal = Decimal("0.20")  # of wood, share of the wet mass
    hot: KeptHot | None = None
    usual: UsualRun | None = None
    hands: int = 1
    closed: ClosedKiln | None = None
    body_mj: Decimal | None = None
    loss_kw: Decimal | None = None
    fire_efficiency: Decimal | None = None
    usual_fill: Decimal = ONE
    wear_per_load: Decimal = ZERO

    @property
    def knows_its_heat(self) -> bool:
        return None not in (self.body_mj, self.loss_kw, self.fire_efficiency)


@dataclass(frozen=True, slots=True)
class RateFacts:
    """What one step takes and costs.

    minutes_each   basic time for one unit of the basis
    allowance      rest and interruptions: standard time = basic × (1 + allowance)
    setup_min      once an order in which the step is done; taken as it is, without allowance
    piece          paid for each unit instead of the hour; the set-up stays paid by the hour
    kind           the only kind of bead it is for; "" for every kind without a rate of its own
    form           the only form of glass it prepares; "" for every form without one of its own
    employer_share on top of what the hand is paid: social charges, paid time not worked
    """

    key: Key
    step: str
    skill: str
    basis: str
    minutes_each: Decimal
    hourly: Decimal
    setup_min: Decimal = ZERO
    allowance: Decimal = ZERO
    piece: Decimal | None = None
    kind: str = ""
    form: str = ""
    employer_share: Decimal = ZERO


@dataclass(frozen=True, slots=True)
class SpacerFacts:
    """A bought part on the cord that is not a bead of the workshop."""

    key: Key
    name: str
    length_mm: Decimal
    price: Decimal = ZERO


@dataclass(frozen=True, slots=True)
class PartFacts:
    """So many of one bead (or spacer) next to each other on the cord.

    repeat   belongs to the pattern that is repeated until the strand is full
    centre   the centrepiece of a mirrored or graduated strand; stands once, in the middle
    """

    item: Key
    count: int = 1
    spacer: bool = False
    repeat: bool = False
    centre: bool = False


@dataclass(frozen=True, slots=True)
class FindingFacts:
    """A clasp, ring or tube at the ends: its length counts in the finished length."""

    name: str
    length_mm: Decimal = ZERO
    price: Decimal = ZERO
    count: int = 1
    key: Key = ""


@dataclass(frozen=True, slots=True)
class CordFacts:
    """Cord used = ratio × finished length + tails. Knotting takes more: published ratio 1.78
    (Podobnik 2013: 107 in of silk for a 60 in strand)."""

    name: str = "cord"
    ratio: Decimal = ONE
    tails_mm: Decimal = ZERO
    price_per_m: Decimal = ZERO
    key: Key = ""


@dataclass(frozen=True, slots=True)
class KeptFinding:
    """A finding that is counted in stock: in pieces, cord in whole millimetres.

    free        on the shelf and held for nobody else
    value_each  what one (or a metre) of what lies there cost on average; None: nothing lies there
    owed        what other orders lack of it, which the next to come goes to
    coming      what is on its way: days from today (None: nobody knows) and how much, the first
                to come in front
    days        until more comes if it is ordered today; None: the supplier is to be asked
    """

    name: str
    free: int
    by_metre: bool = False
    value_each: Decimal | None = None
    owed: int = 0
    coming: tuple[tuple[int | None, int], ...] = ()
    days: int | None = None


@dataclass(frozen=True, slots=True)
class LearningFacts:
    """Wright's curve for a new design: the cumulative average falls by a fixed share at each
    doubling (T. P. Wright, 1936). It stops at the standard time, which no unit goes below.

    rate               e.g. 0.80
    first_unit_times   the first one takes this many standard times
    made_before        how many the hands have already made
    practised          after so many each takes the standard time; None: where the curve itself
                       comes down to it
    """

    rate: Decimal
    first_unit_times: Decimal = ONE
    made_before: int = 0
    practised: int | None = None


@dataclass(frozen=True, slots=True)
class DesignFacts:
    """A strand design: ordered parts, the length wanted, what stands between and at the ends.

    gap_mm           gap or knot; stands between beads only
    mirrored         parts run from one end to the middle; the other half is their mirror image
    graduated        parts are one bead of each size, smallest first; sizes rise to the middle
    made_to_length   True rounds the pattern up to reach the length, False (a standard strand) down
    nearest          the length that comes nearest to the one asked for, longer or shorter
    whole_repeats    a pattern is never broken; else it may finish with its first single pieces
    rows             rows of a multi-row piece; each longer than the one inside it by row_step_mm
    own_rates        what is done to one instead of the stringing of the workshop's rates: nothing
                     for loose beads, its own minutes per strand for work on a piece
    """

    key: Key
    name: str
    finished_mm: Decimal
    parts: tuple[PartFacts, ...]
    gap_mm: Decimal = ZERO
    knotted: bool = False
    mirrored: bool = False
    graduated: bool = False
    made_to_length: bool = False
    nearest: bool = False
    whole_repeats: bool = True
    rows: int = 1
    row_step_mm: Decimal = ZERO
    findings: tuple[FindingFacts, ...] = ()
    cord: CordFacts = CordFacts()
    learning: LearningFacts | None = None
    own_rates: tuple[RateFacts, ...] | None = None

    @property
    def is_work(self) -> bool:
        """Nothing is laid on a cord: hands work on a piece that somebody brought."""
        return self.own_rates is not None and not self.parts


@dataclass(frozen=True, slots=True)
class BatchFacts:
    """Good beads on the shelf that nobody holds. Give the oldest first.

    value_each   what one cost to make, so that using it counts; None: what is on the shelf counts
                 for nothing and the cost is what is still to be spent
    """

    key: Key
    name: str
    bead: Key
    free: int
    value_each: Decimal | None = None


@dataclass(frozen=True, slots=True)
class ReadyStrandFacts:
    """Strands already strung that nobody holds."""

    design: Key
    free: int
    value_each: Decimal | None = None


@dataclass(frozen=True, slots=True)
class StockFacts:
    batches: tuple[BatchFacts, ...] = ()
    strands: tuple[ReadyStrandFacts, ...] = ()


@dataclass(frozen=True, slots=True)
class ListPrice:
    """A price from a list: for a group of customers ("" for all), from so many strands up."""

    design: Key
    price: Decimal
    group: str = ""
    from_quantity: int = 1


@dataclass(frozen=True, slots=True)
class QuantityBreak:
    """So much off the suggested price from so many strands up, and off a list price unless the list
    names one for as many itself. For a group of customers ("" for all without their own)."""

    from_quantity: int
    off: Decimal
    group: str = ""


@dataclass(frozen=True, slots=True)
class PolicyFacts:
    """How prices are made.

    overhead   office and selling, a share of what the goods cost, made or from the shelf
    hours_when_worked  hands are paid by the hour only when there is work; else their pay is spent
                       whether this order comes or not
    margin     share of the price that is above cost; margins gives it by customer group
    step       suggested prices are rounded up to a multiple of this
    """

    overhead: Decimal = ZERO
    margin: Decimal = ZERO
    step: Decimal = Decimal("0.01")
    hours_when_worked: bool = False
    margins: tuple[tuple[str, Decimal], ...] = ()
    prices: tuple[ListPrice, ...] = ()
    breaks: tuple[QuantityBreak, ...] = ()


@dataclass(frozen=True, slots=True)
class ChoiceFacts:
    """The owner's choices.

    assurance         chance with which enough beads shall come good
    whole_moulds      start whole moulds, never part of one
    rejects_by_load   use the scatter fitted from records where a firing has one
    min_weighed       weighed mass is used from so many weighed beads up
    kiln              fire everything in this kiln; None: the first that can
    """

    assurance: Decimal = Decimal("0.95")
    whole_moulds: bool = False
    rejects_by_load: bool = False
    min_weighed: int = 20
    kiln: Key | None = None


@dataclass(frozen=True, eq=False)
class WorkshopFacts:
    """All that does not depend on the order. Share one between as many orders as you like:
    what is worked out from it once is kept with it.

    workshop_minute  workshop costs (rent, tools, water …) of one standard minute
    kept_findings    clasps, spacers and cord that are counted in stock, by the same keys as in
                     designs; of the others the written price counts, and nobody waits for them
    """

    currency: str
    colours: Mapping[Key, ColourFacts] = field(default_factory=dict)
    beads: Mapping[Key, BeadFacts] = field(default_factory=dict)
    moulds: Mapping[Key, MouldFacts] = field(default_factory=dict)
    programmes: Mapping[Key, ProgrammeFacts] = field(default_factory=dict)
    kilns: tuple[KilnFacts, ...] = ()
    rates: tuple[RateFacts, ...] = ()
    spacers: Mapping[Key, SpacerFacts] = field(default_factory=dict)
    designs: Mapping[Key, DesignFacts] = field(default_factory=dict)
    kept_findings: Mapping[Key, KeptFinding] = field(default_factory=dict)
    stock: StockFacts = StockFacts()
    policy: PolicyFacts = PolicyFacts()
    choices: ChoiceFacts = ChoiceFacts()
    workshop_minute: Decimal = ZERO
    _kept: dict[Any, Any] = field(default_factory=dict, init=False, repr=False)


@dataclass(frozen=True, slots=True)
class LineFacts:
    """So many strands of a design, or so many loose beads of a kind: give one of the two.

    price   agreed for this line; None: agreed with the customer, else list, else suggested
    """

    quantity: int
    design: Key | None = None
    bead: Key | None = None
    price: Decimal | None = None
    key: Key = ""


@dataclass(frozen=True, slots=True)
class OrderFacts:
    """An order to cost.

    group    the customer's price list, e.g. "trader"
    agreed   prices agreed with the customer, by design key
    stock    what is free for this order; None: the workshop's own
    tax      rate of VAT inside the prices this customer is told; 0 where they come without
    """

    workshop: WorkshopFacts
    lines: tuple[LineFacts, ...]
    reference: str = ""
    group: str = ""
    agreed: tuple[tuple[Key, Decimal], ...] = ()
    tax: Decimal = ZERO
    stock: StockFacts | None = None


@dataclass(frozen=True, slots=True)
class LoadPart:
    """Mould fills of one firing of a bead in a load that is lit."""

    bead: Key
    firing: int
    fills: int


@dataclass(frozen=True, slots=True)
class NewLoad:
    """A load that is lit because of the order: in which kiln, and what of the order is in it."""

    kiln: Key
    parts: tuple[LoadPart, ...]
