"""Clasps, cord, spacers, paint and wash of the invented workshop: counted, bought, run short."""

from datetime import date, timedelta
from decimal import Decimal

from django.db.models import Sum
from django.utils import timezone

from orders.demo.story import Story
from orders.drawn.strands import Draughtsman
from orders.making.queries.findings import findings_to_buy, purchases_due
from orders.models import Finding, FindingNeed, Purchase, StrandDesign
from orders.supplies.services import count_finding, note_purchase, take_in
from stock.measures import METRE, SMALLEST_IN
from stock.models import Balance

# What lay there when the book began, by kind, in pieces, metres or kilograms; invented.
LAY_THERE = {"clasp": 60, "spacer": 500, "cord": 150, "paint": "0.3", "wash": "2.5"}
# Nobody thought of these lately; they are short by now.
ASKED_FOR = timedelta(days=8)  # what comes when it comes comes after about a week
FORGOTTEN, FORGOTTEN_DAYS = "Loop and bead clasp", 24
CENT = Decimal("0.01")


def count_supplies(story: Story) -> None:
    """What lay on the supplies shelf when the book began."""
    for finding in Finding.objects.filter(kind__in=LAY_THERE).order_by("pk"):
        there = Decimal(LAY_THERE[finding.kind]) * SMALLEST_IN[finding.unit]
        count_finding(finding, int(there), person=story.counter)


def supplies_day(story: Story, day: date) -> None:
    """What comes is taken in; on Mondays what runs out is ordered."""
    asked = Purchase.objects.on_their_way().filter(
        expected_on__isnull=True, ordered_on__lte=day - ASKED_FOR
    )
    for purchase in [*purchases_due(), *asked]:
        take_in(purchase, person=story.counter)
    if day.weekday() == 0:
        _order_more(story, day)


def _order_more(story: Story, day: date) -> None:
    for row in findings_to_buy():
        finding = row.finding
        if finding.name == FORGOTTEN and (story.today - day).days < FORGOTTEN_DAYS:
            continue
        _order(story, finding, 2 * row.to_buy, day)


def _order(story: Story, finding: Finding, quantity: int, day: date, *, here: bool = False) -> None:
    """Whole pieces, kilograms or rolls of 50 m, a little under the written price."""
    by = SMALLEST_IN[finding.unit] * (50 if finding.unit == METRE else 1)
    quantity = -(-quantity // by) * by
    worth = finding.price * quantity / SMALLEST_IN[finding.unit]
    note_purchase(
        finding, quantity, max(CENT, (worth * Decimal("0.97")).quantize(CENT)),
        person=story.counter, ordered_on=day, arrived_on=day if here else None,
    )  # fmt: skip


def fetched_for(story: Story, design: StrandDesign, strands: int) -> None:
    """What strands for the shelf take is fetched across the street; orders that wait come first."""
    each = Draughtsman([design]).findings(design.pk)
    for finding in Finding.objects.filter(pk__in=each, kept=True).order_by("pk"):
        shelf = Balance.objects.filter(item=finding.item_id, place__inside=True).free()
        lacking = each[finding.pk] * strands - sum(row.free_quantity for row in shelf)
        if lacking > 0:
            waiting = FindingNeed.objects.filter(finding=finding).aggregate(all=Sum("quantity"))
            wanted = lacking + (waiting["all"] or 0)
            _order(story, finding, wanted, timezone.localdate(), here=True)


def ordered_again(story: Story) -> None:
    """On the last day more hook clasps are on their way."""
    clasp = Finding.objects.get(name="Hook clasp")
    today = timezone.localdate()
    note_purchase(
        clasp, 144, Decimal("38.88"), person=story.counter, ordered_on=today - timedelta(days=1),
        expected_on=today + timedelta(days=3), paper="QM-1177",
    )  # fmt: skip
