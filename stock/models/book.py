"""The glass book: items, places, postings, movements and balances.

Stock is never a number that somebody overwrites; it is the sum of movements. A movement
takes a quantity of one item from one place and puts the same quantity in another, so the
movements of a posting sum to zero by their very form. Balances are kept beside them in the
same transaction, and the database refuses a shelf that would hold less than nothing.
"""

import uuid
from datetime import date

from django.db import models
from django.db.models import F, Min, Q
from django.utils.translation import gettext_lazy as _

from stock.models.beads import BeadBatch
from stock.models.glass import MARK_LENGTH, GlassColour, GlassForm
from workshop.models import MoneyField, Person


class LocationKind(models.TextChoices):
    YARD = "yard", _("yard")
    GLASS_SHELF = "glass", _("glass shelf")
    APART = "apart", _("held apart")
    BENCH = "bench", _("bench")
    KILN = "kiln", _("kiln")
    BEAD_SHELF = "beads", _("bead shelf")
    STRAND_SHELF = "strands", _("strand shelf")
    SUPPLIES = "supplies", _("supplies shelf")
    STALL = "stall", _("market stall")
    SHOP = "shop", _("lent to a shop")
    # Outside the walls: these may go below nothing.
    COLLECTORS = "collectors", _("collectors")
    SUPPLIERS = "suppliers", _("suppliers")
    USED = "used", _("used up")
    IN_WORK = "work", _("turned into something else")
    LOST = "lost", _("lost")
    SOLD = "sold", _("sold")
    DIFFERENCE = "difference", _("count difference")
    OPENING = "opening", _("here before the book began")


INSIDE = frozenset(
    {
        LocationKind.YARD,
        LocationKind.GLASS_SHELF,
        LocationKind.APART,
        LocationKind.BENCH,
        LocationKind.KILN,
        LocationKind.BEAD_SHELF,
        LocationKind.STRAND_SHELF,
        LocationKind.SUPPLIES,
        LocationKind.STALL,  # away for a day, and still ours
        LocationKind.SHOP,  # away until it is sold or comes back, and still ours
    }
)
# Where stock lies between two pieces of work; there may be several of each.
AWAY = frozenset({LocationKind.STALL, LocationKind.SHOP})
SHELVES = INSIDE - AWAY - {LocationKind.BENCH, LocationKind.KILN}


class StockLocation(models.Model):
    """Somewhere stock can be, inside the walls or outside."""

    kind = models.CharField(_("kind"), max_length=10, choices=LocationKind)
    name = models.CharField(_("name"), max_length=60)
    inside = models.BooleanField(_("inside the walls"), editable=False)
    # The places every workshop has are found by it, whatever they are called; "" for all others.
    code = models.CharField(max_length=20, blank=True, editable=False)

    class Meta:
        db_table = "stock_place"
        ordering = ["kind", "name"]
        verbose_name = _("place")
        verbose_name_plural = _("places")
        constraints = [
            models.UniqueConstraint(
                fields=["kind", "name"],
                name="place_once",
                violation_error_message=_(
                    "There is a place of this kind and name already; give this one another name."
                ),
            ),
            models.UniqueConstraint(
                fields=["code"], condition=~Q(code=""), name="place_built_in_once"
            ),
            models.CheckConstraint(
                condition=Q(code="") | Q(code=F("kind")) | Q(kind="bench"),
                name="place_built_in_keeps_its_kind",
            ),
            models.CheckConstraint(
                condition=Q(inside=True, kind__in=sorted(INSIDE))
                | (Q(inside=False) & ~Q(kind__in=sorted(INSIDE))),
                name="place_inside_by_its_kind",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @classmethod
    def keys_of(cls, *kinds: str) -> list[int]:
        """The places of some kinds (1 query)."""
        return list(cls.objects.filter(kind__in=kinds).values_list("pk", flat=True))

    @property
    def is_work(self) -> bool:
        """No shelf: the place through which one thing becomes another."""
        return self.kind == LocationKind.IN_WORK

    @property
    def spot(self) -> str:
        """Which step the beads here wait for: a spot of the bench by its code, else the kind."""
        return self.code if self.kind == LocationKind.BENCH else self.kind

    @property
    def is_used(self) -> bool:
        """Whether the book ever spoke of it (1 query)."""
        return self.pk is not None and Balance.objects.filter(place=self.pk).exists()

    def save(self, *args, **kwargs) -> None:
        self.inside = self.kind in INSIDE
        super().save(*args, **kwargs)


class ItemKind(models.TextChoices):
    GLASS = "glass", _("glass")
    BEADS = "beads", _("beads")
    STRANDS = "strands", _("strands")
    SUPPLY = "supply", _("supplies")


class Item(models.Model):
    """What the book counts: glass of a colour, form and mark, beads of a batch, strands, supplies.

    use  what is bought in and used up as what (clasp, cord, paint, wash, fuel …), which also says
         how it is measured
    """

    kind = models.CharField(_("kind"), max_length=8, choices=ItemKind)
    name = models.CharField(_("name"), max_length=120)
    colour = models.ForeignKey(
        GlassColour, models.PROTECT, null=True, blank=True, related_name="items"
    )
    form = models.CharField(_("form"), max_length=8, choices=GlassForm, blank=True)
    # Glass of a lot or maker, on a heap of its own; it counts for its colour like any other.
    mark = models.CharField(_("mark"), max_length=MARK_LENGTH, blank=True)
    use = models.CharField(max_length=20, blank=True, editable=False)
    batch = models.OneToOneField(
        BeadBatch, models.PROTECT, null=True, blank=True, related_name="item"
    )

    class Meta:
        ordering = ["kind", "name"]
        verbose_name = _("item")
        verbose_name_plural = _("items")
        # Few things are bought in; batches come by the thousand.
        indexes = [models.Index(fields=["use", "name"], name="item_by_use")]
        constraints = [
            models.UniqueConstraint(
                fields=["colour", "form", "mark"],
                condition=Q(kind="glass"),
                name="item_glass_once",
            ),
            models.UniqueConstraint(
                fields=["form", "mark"],
                condition=Q(kind="glass", colour__isnull=True),
                name="item_mixed_glass_once",
            ),
            models.CheckConstraint(
                condition=(Q(kind="glass") & ~Q(form="") & Q(batch__isnull=True))
                | (Q(kind="beads") & Q(batch__isnull=False) & Q(form=""))
                | (Q(kind="strands") & Q(batch__isnull=True) & Q(form=""))
                | (Q(kind="supply") & Q(batch__isnull=True) & Q(form="") & ~Q(use="")),
                name="item_is_one_thing",
            ),
        ]

    @property
    def name_for_reader(self) -> str:
        """What strands of a design are called in the reader's language (1 query)."""
        of = getattr(self, "design", None)  # the design's own key leads here
        return self.name if of is None else str(of.name_for_reader)

    def __str__(self) -> str:
        return self.name


class PostingKind(models.TextChoices):
    SACK = "sack", _("sack in")
    SORTING = "sorting", _("sorting")
    PREPARATION = "preparation", _("preparation")
    MOULDING = "moulding", _("moulding")
    LOADING = "loading", _("into the kiln")
    FIRING = "firing", _("firing")
    FINISHING = "finishing", _("finishing")
    STRINGING = "stringing", _("stringing")
    TAKING_APART = "apart", _("taken apart")
    COLLECTION = "collection", _("collected")
    RETURN = "return", _("came back")
    COUNT = "count", _("count")
    OPENING = "opening", _("opening stock")
    REVERSAL = "reversal", _("reversal")
    CLEARING = "clearing", _("cleared for melting")
    MOVE = "move", _("moved")
    PAINTING = "painting", _("painting")
    PURCHASE = "purchase", _("bought")
    USE = "use", _("used up")
    ANEW = "anew", _("valued anew")


class LossName(models.TextChoices):
    """What glass that is gone was lost as."""

    DIRT = "dirt", _("dirt")
    DUST = "dust", _("dust")
    SPILL = "spill", _("spill")
    PIERCING = "piercing", _("piercing")
    POLISHING = "polishing", _("polishing")
    BREAKAGE = "breakage", _("breakage")
    UNWEIGHED = "unweighed", _("lost, not weighed apart")
    ACCIDENT = "accident", _("accident")


class Posting(models.Model):
    """One event in the book: who, when, why, what it belongs to. Never edited, never deleted."""

    key = models.UUIDField(default=uuid.uuid4, unique=True)
    kind = models.CharField(_("what"), max_length=12, choices=PostingKind)
    on = models.DateField(_("day"), db_index=True)
    posted_at = models.DateTimeField(auto_now_add=True)
    person = models.ForeignKey(
        Person, models.PROTECT, related_name="postings", verbose_name=_("who")
    )
    why = models.CharField(_("why"), max_length=200)
    belongs_kind = models.CharField(max_length=20, blank=True)
    belongs_ref = models.CharField(_("belongs to"), max_length=40, blank=True)
    reverses = models.OneToOneField(
        "self", models.PROTECT, null=True, blank=True, related_name="reversed_by"
    )

    class Meta:
        ordering = ["-id"]
        verbose_name = _("posting")
        verbose_name_plural = _("postings")
        indexes = [models.Index(fields=["belongs_kind", "belongs_ref"], name="posting_belongs")]
        constraints = [
            models.CheckConstraint(condition=~Q(why=""), name="posting_says_why"),
            models.CheckConstraint(
                condition=Q(kind="reversal", reverses__isnull=False)
                | (~Q(kind="reversal") & Q(reverses__isnull=True)),
                name="posting_reversal_names_its_mistake",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.pk}"


class MovementQuerySet(models.QuerySet):
    def since(self, day: date):
        """Movements of a day and later, found by their day (1 query, asked at once).

        They begin with the first posting that bears such a day: what was posted before it is
        not read, in whatever order the database goes about it.
        `leaves`, `reaches` and `thing` are their places and item under names that no index has:
        asked for by those, a database that keeps no count of rows would read all that ever went
        through a place, or was done with an item.
        """
        # By the index of days; of the bare key it would be sought from the first posting on.
        first = Posting.objects.filter(on__gte=day).aggregate(key=Min(F("pk") + 0))["key"]
        found = self.filter(posting_id__gte=first or 0, posting__on__gte=day)
        places = found.alias(leaves=F("from_place_id") + 0, reaches=F("to_place_id") + 0)
        return places.annotate(thing=F("item_id") + 0)


class Movement(models.Model):
    """A quantity of one item from one place to another, with its glass and its value.

    `quantity` is in the item's smallest unit: milligrams of glass, pieces of beads or strands.

    cumulative_out  of the item, all that had ever left the place this comes from
    cumulative_in  of the item, all that had ever come to the place this goes to
    undoing      it takes another movement back
    The two running sums say which layer of a heap was taken, without reading the heap's life.
    """

    posting = models.ForeignKey(Posting, models.PROTECT, related_name="movements")
    # Both indexes of the trails begin with the item, so it needs none of its own.
    item = models.ForeignKey(Item, models.PROTECT, related_name="movements", db_index=False)
    from_place = models.ForeignKey(StockLocation, models.PROTECT, related_name="movements_out")
    to_place = models.ForeignKey(StockLocation, models.PROTECT, related_name="movements_in")
    quantity = models.BigIntegerField(_("quantity"))
    glass_mg = models.BigIntegerField(_("glass, mg"), default=0)
    value = MoneyField(_("value"), default=0)
    loss = models.CharField(_("named loss"), max_length=20, blank=True)
    cumulative_out = models.BigIntegerField(default=0, editable=False)
    cumulative_in = models.BigIntegerField(default=0, editable=False)
    undoing = models.BooleanField(default=False, editable=False)

    objects = MovementQuerySet.as_manager()

    class Meta:
        ordering = ["id"]
        verbose_name = _("movement")
        verbose_name_plural = _("movements")
        indexes = [
            models.Index(fields=["item", "to_place", "cumulative_in"], name="movement_into_heap"),
            models.Index(
                fields=["item", "from_place", "cumulative_out"], name="movement_out_of_heap"
            ),
            models.Index(fields=["item"], name="movement_undoing", condition=Q(undoing=True)),
        ]
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gt=0), name="movement_moves_something"),
            models.CheckConstraint(
                condition=~Q(from_place=F("to_place")), name="movement_goes_elsewhere"
            ),
            models.CheckConstraint(
                condition=Q(glass_mg__gte=0), name="movement_glass_not_negative"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} {self.item_id} {self.from_place_id}→{self.to_place_id}"

    @property
    def loss_label(self) -> str:
        return str(LossName(self.loss).label) if self.loss in LossName.values else self.loss


class BalanceQuerySet(models.QuerySet):
    def inside(self):
        return self.filter(inside=True)

    def at(self, *kinds: str):
        return self.filter(place__kind__in=kinds)

    def free(self):
        """Balances of which something is not held for an order."""
        return self.filter(quantity__gt=F("reserved"))

    def of_glass(self):
        return self.filter(item__kind=ItemKind.GLASS)

    def of_beads(self):
        return self.filter(item__kind=ItemKind.BEADS)


class Balance(models.Model):
    """What is in a place of an item now, and how much of that is held for orders.

    come  all that ever came there; less the quantity, it is all that ever left
    """

    item = models.ForeignKey(Item, models.PROTECT, related_name="balances")
    place = models.ForeignKey(StockLocation, models.PROTECT, related_name="balances")
    inside = models.BooleanField(editable=False)
    quantity = models.BigIntegerField(_("quantity"), default=0)
    reserved = models.BigIntegerField(_("held"), default=0)
    come = models.BigIntegerField(default=0, editable=False)
    glass_mg = models.BigIntegerField(_("glass, mg"), default=0)
    value = MoneyField(_("value"), default=0)

    objects = BalanceQuerySet.as_manager()

    class Meta:
        ordering = ["item_id", "place_id"]
        indexes = [
            # What lies somewhere now, among all that ever lay there.
            models.Index(
                fields=["place", "item"], name="balance_not_empty", condition=Q(quantity__gt=0)
            ),
            models.Index(
                fields=["value"], name="balance_worth", condition=Q(inside=True) & ~Q(value=0)
            ),
        ]
        verbose_name = _("balance")
        verbose_name_plural = _("balances")
        constraints = [
            models.UniqueConstraint(fields=["item", "place"], name="balance_once"),
            models.CheckConstraint(
                condition=Q(inside=False) | Q(quantity__gte=0),
                name="balance_shelf_never_below_nothing",
            ),
            models.CheckConstraint(
                condition=Q(reserved=0)
                | (Q(inside=True) & Q(reserved__gte=0) & Q(reserved__lte=F("quantity"))),
                name="balance_holds_no_more_than_there_is",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} {self.item_id} @ {self.place_id}"

    @property
    def free_quantity(self) -> int:
        return self.quantity - self.reserved
