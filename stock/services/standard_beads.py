"""What one good bead, or a gram of glass, costs to make at the standards of a day."""

from datetime import date
from decimal import Decimal

from django.utils import timezone

from stock.masses import fill_mg, finished_mg
from stock.models import Bead, BeadColour, GlassColour, GlassForm, Item, ItemKind
from stock.services.load_costs import load_cost
from stock.services.moves import Cost
from stock.services.sacks import general_prices
from stock.services.standards import Standards
from workshop.costs.amounts import ONE, ZERO, six
from workshop.costs.kiln import place_cost
from workshop.costs.standard_bead import BeadSteps, FiringOf, GlassOf, standard_cost
from workshop.models import BeadKind, Kiln, Programme, Skill
from workshop.rates import Amount

MG_PER_G, G_PER_KG = Decimal(1000), Decimal(1000)
MANY = 10**6  # so many at once that rounding to six decimals does not show in one


class StandardBeads:
    """The standard cost of one good bead, for any number of beads, in a fixed number of queries."""

    def __init__(self, on: date | None = None) -> None:
        self.on = on or timezone.localdate()
        self.standards = Standards(self.on)
        self.prices = general_prices(self.on)
        self.kilns = list(Kiln.objects.filter(in_use=True).order_by("pk"))

    def cost(self, bead: Bead) -> Decimal:
        """One good bead; `mould`, programmes and colours should come with the row."""
        return standard_cost(self.steps(bead))

    def steps(self, bead: Bead) -> BeadSteps:
        """All that goes into one bead started, as plain figures."""
        parts = list(bead.colours.all())
        fill_g = fill_mg(bead, parts) / MG_PER_G
        mould = bead.mould
        pigment_g = fill_g * bead.pigment_g_per_kg / G_PER_KG
        piercing = self._each(Skill.PIERCING, bead) if bead.pierced_hot else ZERO
        return BeadSteps(
            fill_g=fill_g,
            glass=[self._glass(bead, part) for part in parts],
            firings=[self._firing(bead, number) for number in range(1, bead.firings + 1)],
            pigment=pigment_g * bead.pigment_price_per_kg / G_PER_KG,
            moulding=self._each(Skill.MOULDING, bead, fill_g, mould.cavities),
            piercing=piercing,
            polishing=self._each(Skill.POLISHING, bead, fill_g, mould.cavities),
            painting=self._each(Skill.PAINTING, bead) + bead.paint_price_each,
        )

    def glass_of(self, colour: GlassColour, form: str) -> Decimal:
        """A gram of glass of a colour in a form: raw by its yields, and its preparing."""
        raw = self.prices[colour.pk] / G_PER_KG
        if form in {GlassForm.RAW, GlassForm.REJECTS}:
            return raw
        return raw / colour.yield_for(form) + self._preparing(form)

    def _glass(self, bead: Bead, part: BeadColour) -> GlassOf:
        raw = self.prices[part.colour_id] / G_PER_KG
        if bead.kind == BeadKind.REMADE:  # rejects are raw glass again and need no preparing
            return GlassOf(Decimal(part.share), raw)
        yields = part.colour.yield_for(bead.form)
        return GlassOf(Decimal(part.share), raw, yields, self._preparing(bead.form))

    def _preparing(self, form: str) -> Decimal:
        """Preparing steps of one gram that comes out."""
        costs = self.standards.steps(
            Skill.PREPARING, Amount(glass_g=G_PER_KG * MANY), form=form, bare=True
        )
        return _sum(costs) / MANY / G_PER_KG

    def _each(self, skill: str, bead: Bead, fill_g: Decimal = ZERO, cavities: int = 1) -> Decimal:
        """Steps of a skill for one bead, without set-up: its part of a filling, or by the bead."""
        amount = Amount(beads=cavities * MANY, moulds=MANY, glass_g=fill_g * cavities * MANY)
        costs = self.standards.steps(skill, amount, bead=bead, bare=True)
        return _sum(costs) / MANY / cavities

    def _firing(self, bead: Bead, number: int) -> FiringOf:
        programme = bead.second_programme if number == 2 else bead.programme
        assert programme is not None
        finished_g = finished_mg(bead) / MG_PER_G
        if number == 1:
            finished_g /= ONE - Decimal(bead.polishing_loss)
        return FiringOf(
            reject_rate=Decimal(bead.second_reject_rate if number == 2 else bead.reject_rate),
            places=bead.mould.places,
            cavities=bead.mould.cavities,
            place_cost=self._place(bead, programme, number),
            fill_cost=self.standards.fill_cost(bead.mould),
            reject_g=finished_g,
        )

    def _place(self, bead: Bead, programme: Programme, number: int) -> Decimal:
        """A place of the cheapest kiln that can hold the programme; nothing where none can."""
        found = []
        for kiln in self.kilns:
            if kiln.lowest_c <= programme.hold_c <= kiln.highest_c:
                hold_c = Decimal(programme.hold_c)
                load = load_cost(kiln, bead, self.standards, hold_c=hold_c, firing=number)
                share = self.standards.usual_fill(kiln).share
                found.append(place_cost(load, kiln.places, share))
        return min(found, default=ZERO)


def _sum(costs: list[Cost]) -> Decimal:
    return sum((cost.amount for cost in costs), ZERO)


def cost_of_kilogram(colour: GlassColour, form: str, on: date | None = None) -> Decimal:
    """A kilogram of a colour in a form: its bottles, and the work of preparing it."""
    return six(StandardBeads(on).glass_of(colour, form) * G_PER_KG)


def cost_of_bead(bead: Bead, on: date | None = None) -> Decimal | None:
    """What one good bead costs to make; None while a place has no steps or no kiln for it."""
    standards = StandardBeads(on)
    steps = standards.steps(bead)
    fired = all(firing.place_cost for firing in steps.firings)
    return six(standard_cost(steps)) if steps.moulding and fired else None


def standard_value(item: Item) -> Decimal:
    """What one piece, or one milligram, of an item costs at standard; strands: nothing is known."""
    if item.kind == ItemKind.BEADS and item.batch is not None:
        return StandardBeads().cost(item.batch.bead)
    if item.kind == ItemKind.GLASS and item.colour is not None:
        return StandardBeads().glass_of(item.colour, item.form) / MG_PER_G
    return ZERO
