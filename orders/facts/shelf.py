"""What lies free on the shelves, as costing facts: glass, beads and ready strands."""

from collections.abc import Iterable
from decimal import Decimal

from django.db.models import F, Q, Sum

from orders.costing.facts import (
    BatchFacts,
    ColourFacts,
    FormFacts,
    KeptFinding,
    ReadyStrandFacts,
    StockFacts,
)
from orders.facts.beads import MG_PER_G
from orders.facts.held_glass import glass_held_by_order
from orders.facts.standing import Standing
from orders.models import (
    Finding,
    FindingNeed,
    GlassNeed,
    Order,
    Purchase,
    StockReservation,
)
from stock.measures import METRE, SMALLEST_IN
from stock.models import Balance, GlassColour, GlassForm, ItemKind, LocationKind

PREPARED = (GlassForm.POWDER.value, GlassForm.CHUNKS.value, GlassForm.REJECTS.value)


class Shelves:
    """What is free of glass, beads and ready strands (2 queries; 3 for an order’s own holds).

    One more while an order holds prepared glass by hand, and 2 where findings are kept in stock.
    """

    def __init__(self, standing: Standing, own_order: Order | None) -> None:
        self.design_of_item = {row.item_id: row.pk for row in standing.rows if row.item_id}
        self.colour_rows, self.prices_now = standing.colours, standing.prices_now
        self.findings = {row.item_id: row for row in standing.findings}
        self.on = standing.on
        used_colours = {colour.pk for colour in standing.colours}
        self.rows = list(self._balances(standing.beads, used_colours))
        self.own = self._own_holds(own_order)
        self.claimed = self._claimed(used_colours, own_order)
        self.owed = self._owed(own_order) if self.findings else {}

    def _balances(self, beads: Iterable[int], used_colours: set[int]) -> Iterable[Balance]:
        wanted = (
            Q(
                place__kind__in=[LocationKind.YARD, LocationKind.GLASS_SHELF],
                item__kind=ItemKind.GLASS,
                item__colour__in=used_colours,
            )
            | Q(place__kind=LocationKind.BEAD_SHELF, item__batch__bead__in=beads)
            | Q(place__kind=LocationKind.STRAND_SHELF, item__in=self.design_of_item)
        )
        if self.findings:
            wanted |= Q(place__kind=LocationKind.SUPPLIES, item__in=self.findings)
        return (
            Balance.objects.filter(wanted, quantity__gt=0)
            .select_related("item__batch", "place")
            .order_by("item__batch__made_on", "item__batch__number", "pk")
        )

    def _own_holds(self, own_order: Order | None) -> dict[int, int]:
        if own_order is None or own_order.state != Order.State.CONFIRMED:
            return {}
        rows = (
            StockReservation.objects.filter(order=own_order)
            .values("balance")
            .annotate(n=Sum("quantity"))
        )
        return {row["balance"]: row["n"] for row in rows}

    def _claimed(
        self, used_colours: set[int], own_order: Order | None
    ) -> dict[tuple[int, str], Decimal]:
        """Prepared glass that other confirmed orders have yet to take, in grams."""
        needs = GlassNeed.objects.filter(
            order__state=Order.State.CONFIRMED, colour__in=used_colours, needed_mg__gt=F("used_mg")
        )
        if own_order is not None and own_order.pk:
            needs = needs.exclude(order=own_order)
        rows = (
            needs.order_by()
            .values("colour", "form")
            .annotate(mg=Sum(F("needed_mg") - F("used_mg")))
        )
        claimed = {(row["colour"], row["form"]): Decimal(row["mg"]) / MG_PER_G for row in rows}
        # Glass that an order holds by hand is not free anyway, and must not count against the
        # free glass a second time.
        held = any(row.reserved for row in self.rows if row.item.kind == ItemKind.GLASS)
        for (order, colour, form), mg in (glass_held_by_order() if held else {}).items():
            if (colour, form) in claimed and (own_order is None or order != own_order.pk):
                held_g = Decimal(mg) / MG_PER_G
                claimed[colour, form] = max(Decimal(0), claimed[colour, form] - held_g)
        return claimed

    def _owed(self, own_order: Order | None) -> dict[int, int]:
        """What other open orders lack of each finding, by key (1 query)."""
        needs = FindingNeed.objects.filter(finding__item__in=self.findings)
        if own_order is not None and own_order.pk:
            needs = needs.exclude(order=own_order)
        owed = dict(needs.order_by().values_list("finding").annotate(n=Sum("quantity")))
        for row in self.rows:
            if row.item_id in self.findings:
                key = self.findings[row.item_id].pk
                owed[key] = owed.get(key, 0) - row.reserved + self.own.get(row.pk, 0)
        return owed

    def kept_findings(self) -> dict[int, KeptFinding]:
        """Clasps, spacers and cord that are counted in stock, by key (1 query where any is)."""
        if not self.findings:
            return {}
        coming: dict[int, list[tuple[int | None, int]]] = {}
        bought = Purchase.objects.on_their_way().filter(finding__item__in=self.findings)
        for purchase in bought:
            coming.setdefault(purchase.finding_id, []).append(
                (purchase.days_from(self.on), purchase.quantity)
            )
        return {
            row.pk: self._finding(row, coming.get(row.pk, [])) for row in self.findings.values()
        }

    def _finding(self, finding: Finding, coming: list[tuple[int | None, int]]) -> KeptFinding:
        rows = [row for row in self.rows if row.item_id == finding.item_id]
        quantity = sum(row.quantity for row in rows)
        value = sum((row.value for row in rows), Decimal(0))
        return KeptFinding(
            finding.name,
            free=sum(self._free(row) for row in rows),
            by_metre=finding.unit == METRE,
            value_each=value * SMALLEST_IN[finding.unit] / quantity if quantity and value else None,
            owed=max(0, self.owed.get(finding.pk, 0)),
            coming=tuple(coming),
            days=finding.delivery_days,
        )

    def _free(self, row: Balance) -> int:
        return row.free_quantity + self.own.get(row.pk, 0)

    def _glass_g(self, colour: int, form: str) -> Decimal:
        return (
            Decimal(
                sum(
                    self._free(row)
                    for row in self.rows
                    if row.item.kind == ItemKind.GLASS
                    and row.item.colour_id == colour
                    and row.item.form == form
                )
            )
            / MG_PER_G
        )

    def colours(self) -> dict[int, ColourFacts]:
        return {colour.pk: self._colour(colour) for colour in self.colour_rows}

    def _colour(self, colour: GlassColour) -> ColourFacts:
        """What is prepared and not claimed; claims beyond it weigh on the raw glass."""
        forms, raw_claimed = [], Decimal(0)
        for form in PREPARED:
            shelf = self._glass_g(colour.pk, form)
            claimed = self.claimed.get((colour.pk, form), Decimal(0))
            from_raw = form != GlassForm.REJECTS
            grinding = colour.powder_yield if form == GlassForm.POWDER else colour.chunk_yield
            if from_raw and claimed > shelf:
                raw_claimed += (claimed - shelf) / grinding / colour.washing_yield
            forms.append(
                FormFacts(
                    form,
                    free_g=max(Decimal(0), shelf - claimed),
                    grinding_yield=grinding if from_raw else Decimal(1),
                    washing_yield=colour.washing_yield if from_raw else Decimal(1),
                    from_raw=from_raw,
                    value_per_kg=self._average(colour, form),
                )
            )
        raw = self._glass_g(colour.pk, GlassForm.RAW)
        return ColourFacts(
            key=colour.pk,
            name=colour.name,
            forms=tuple(forms),
            raw_free_g=max(Decimal(0), raw - raw_claimed),
            price_per_kg=self._price_per_kg(colour),
            density_g_cm3=colour.density_g_cm3,
            bottle_g=Decimal(colour.bottle_g),
            swatch=colour.swatch,
            price_now=self.prices_now[colour.pk],
        )

    def _price_per_kg(self, colour: GlassColour) -> Decimal:
        """Weighted average of what was paid for the raw glass in the yard; a price where it is
        empty."""
        return self._average(colour, GlassForm.RAW) or self.prices_now[colour.pk]

    def _average(self, colour: GlassColour, form: str) -> Decimal | None:
        """What a kilogram of a form stands at in the book, on average (IAS 2.25); None: nothing."""
        rows = [
            row for row in self.rows if row.item.colour_id == colour.pk and row.item.form == form
        ]
        mass_mg = sum(row.quantity for row in rows)
        value = sum((row.value for row in rows), Decimal(0))
        return value * 1_000_000 / mass_mg if mass_mg and value else None

    def facts(self) -> StockFacts:
        batches, strands = [], []
        for row in self.rows:
            free = self._free(row)
            if free <= 0:
                continue
            value = row.value / row.quantity if row.value else None
            if row.item.kind == ItemKind.BEADS and row.item.batch is not None:
                batch = row.item.batch
                batches.append(BatchFacts(row.pk, str(batch), batch.bead_id, free, value))
            elif row.item.kind == ItemKind.STRANDS:
                design = self.design_of_item[row.item_id]
                strands.append(ReadyStrandFacts(design, free, value))
        return StockFacts(tuple(batches), tuple(strands))
