"""Goods that were made before their making was counted, brought to what they cost at standard."""

from collections.abc import Callable
from datetime import datetime
from decimal import Decimal

from django.db import transaction
from django.db.migrations.recorder import MigrationRecorder
from django.utils import timezone
from django.utils.translation import gettext as _

from stock.models import Balance, Bead, Charge, ChargeName, Item, ItemKind, LocationKind, Posting
from stock.models import PostingKind as Kind
from stock.services.book import post
from stock.services.moves import Cost
from stock.services.places import COOLED, PAINTED, TO_PAINT
from stock.services.standard_beads import StandardBeads
from stock.services.stringing import beads_on
from workshop.costs.amounts import ONE, ZERO, six
from workshop.models import Person, Role, Skill
from workshop.rates import Amount
from workshop.services.acts import record_act

COUNTED_FROM = ("stock", "0011_name_old_values")


def is_to_be_valued() -> bool:
    """Whether the book was begun before making was counted, and its goods are not valued yet."""
    since = _counted_since()
    if since is None:  # the book itself may be older than charges are
        return False
    if Charge.objects.filter(name=ChargeName.ANEW).exists():
        return False
    older = Posting.objects.filter(posted_at__lt=since)
    # A book lived through on past days, such as the demo's, bears its making though it looks older.
    if older.filter(kind=Kind.MOULDING, charges__isnull=False).exists():
        return False
    return older.exists()


def _counted_since() -> datetime | None:
    done = MigrationRecorder.Migration.objects.filter(app=COUNTED_FROM[0], name=COUNTED_FROM[1])
    return done.values_list("applied", flat=True).first()


@transaction.atomic
def value_anew(*, person: Person, findings: Callable[[Item], Decimal]) -> Posting | None:
    """Bring every batch and strand within the walls to its standard cost, in one posting.

    findings  what clasp, spacers and cord of one strand of an item cost
    Gives None where everything is worth that already.
    """
    day = timezone.localdate()
    standard = StandardBeads(day)
    known: dict[tuple[int, str], Decimal] = {}
    rows = (
        Balance.objects.inside()
        .filter(quantity__gt=0, item__kind__in=[ItemKind.BEADS, ItemKind.STRANDS])
        .select_related("item__batch__bead__mould", "item__batch__bead__programme", "place")
        .select_related("item__batch__bead__second_programme")
        .order_by("pk")
    )
    costs = []
    for row in rows:
        if row.item.kind == ItemKind.BEADS:
            assert row.item.batch is not None
            each = _bead_so_far(standard, row.item.batch.bead, _step(row), known)
            worth = six(each * row.quantity)
        else:
            worth = six(_strands(standard, row, known) + findings(row.item) * row.quantity)
        if worth != row.value:
            gained = worth - row.value
            costs.append(Cost(ChargeName.ANEW, gained, item=row.item, place=row.place))
    if not costs:
        return None
    posting = post(
        Kind.ANEW, [], on=day, person=person, charges=costs,
        why=str(_("goods made before their making was counted, at standard cost")),
    )  # fmt: skip
    record_act(person, "value anew", posting, after={"shelves": len(costs)})
    return posting


def somebody_who_may() -> Person | None:
    """The owner who has been here longest; None in a book without people."""
    return Person.objects.filter(role=Role.OWNER, is_active=True).order_by("pk").first()


def _step(row: Balance) -> str:
    if row.place.kind in {LocationKind.BEAD_SHELF, LocationKind.STRAND_SHELF}:
        return "good"
    return row.place.code


def _bead_so_far(
    standard: StandardBeads, bead: Bead, step: str, known: dict[tuple[int, str], Decimal]
) -> Decimal:
    """What one bead has cost by the step it stands at."""
    if (bead.pk, step) not in known:
        known[bead.pk, step] = _worked_out(standard, bead, step)
    return known[bead.pk, step]


def _worked_out(standard: StandardBeads, bead: Bead, step: str) -> Decimal:
    if step == "good":
        return standard.cost(bead)
    steps = standard.steps(bead)
    first = steps.firings[0]
    glass = steps.fill_g * sum(
        (
            part.share * (part.raw_per_g / part.yields + part.preparing_per_g)
            for part in steps.glass
        ),
        ZERO,
    )
    cost = glass + steps.pigment + steps.moulding + first.fill_cost / first.cavities
    if step in {COOLED, TO_PAINT, PAINTED}:
        cost += first.places * first.place_cost / first.cavities
    if step in {TO_PAINT, PAINTED}:
        cost /= ONE - first.reject_rate
    return cost + steps.painting if step == PAINTED else cost


def _strands(
    standard: StandardBeads, row: Balance, known: dict[tuple[int, str], Decimal]
) -> Decimal:
    """Beads and stringing of the strands on a shelf."""
    beads, pieces = ZERO, 0
    for part in beads_on(row.item, row.quantity):
        assert part.item.batch is not None
        beads += part.pieces * _bead_so_far(standard, part.item.batch.bead, "good", known)
        pieces += part.pieces
    amount = Amount(beads=pieces, strands=row.quantity)
    strung = standard.standards.steps(Skill.STRINGING, amount, bare=True)
    return beads + sum((cost.amount for cost in strung), ZERO)


__all__ = ["is_to_be_valued", "somebody_who_may", "value_anew"]
