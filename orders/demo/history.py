"""Half a year at the invented workshop, day by day, through the same services as real days."""

from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db.models import Sum
from django.utils import timezone

from orders.counter.services.collecting import collect_order
from orders.counter.services.ordering import cancel_order, confirm_order, draft_order
from orders.demo.firing import Waiting, fire_todays_loads, sort_beads
from orders.demo.money import money_day, pay_at_the_counter
from orders.demo.odd_days import odd_day, on_the_last_day
from orders.demo.story import Story
from orders.demo.supplies import count_supplies, supplies_day
from orders.firing.services.plan import accept_plan, propose_plan
from orders.making.services.progress import (
    glass_came_in,
    job_finished,
    job_moulded,
    job_painted,
    string_for,
)
from orders.models import Customer, Order, Stage, StrandDesign, WantedLine, WorkOrder
from orders.money.services.invoices import issue_invoice
from orders.money.services.payments import PaymentDetails, record_payment
from orders.money.services.quotes import issue_quote
from stock.models import (
    Balance,
    Collector,
    GlassColour,
    GlassForm,
    LocationKind,
    PostingKind,
    Sack,
)
from stock.services.beads import mould_beads
from stock.services.book import Move, post
from stock.services.payouts import pay_collector
from stock.services.places import glass_item, usual_place
from stock.services.preparation import prepare_glass, raw_of, ready
from stock.services.sacks import weigh_in_sack
from workshop.days import soonest

Tell = Callable[[int, int], None]  # so many of so many days
KG = 1_000_000  # milligrams
STOCK_KG = {GlassForm.POWDER: Decimal("3.5"), GlassForm.CHUNKS: Decimal(3)}
# What little of these is kept ready runs out in the last week; the grinder stands still then.
SCARCE_KG = {"cobalt": Decimal("0.7"), "red": Decimal("0.4")}
REJECTS_KG = {"green": "0.9", "amber": "0.7", "cobalt": "0.7", "aqua": "0.8", "clear": "0.6"}
# How often a colour turns up among a hundred sacks; invented.
SACKS = {
    "green": 24,
    "clear": 24,
    "amber": 20,
    "cobalt": 5,
    "aqua": 10,
    "black": 6,
    "milk": 4,
    "red": 1,
}


def live_days(story: Story, first: date, last: date, *, tell: Tell | None = None) -> None:
    """Write every working day from `first` up to and with `last`, telling how far it is."""
    days = (last - first).days + 1
    for offset in range(days):
        day = first + timedelta(days=offset)
        if day.weekday() < 6:
            _live(story, day)
        odd_day(story, day)
        if tell is not None:
            tell(offset + 1, days)


def finish(story: Story) -> None:
    """What the last day leaves behind for those who look at it."""
    # Planned from this very moment, so that no load lies behind the person who looks at it.
    plan = propose_plan(person=story.kiln, seconds=0.5)
    accept_plan(plan, person=story.kiln, knows_it_breaks=True)
    # Somebody has just come in: the room kept for them stands beside the plan.
    _take_order(story, story.today, customer=story.dice.choice(story.customers))
    on_the_last_day(story)


def lay_in_stock(story: Story, first: date) -> None:
    """A workshop that was there before the book: a few sacks of everything."""
    with story.at(first, 8):
        for colour in story.colours.values():
            for _sack in range(2):
                _bring_sack(story, colour, grams=story.dice.randint(3_000, 6_000), paid=True)
        _prepare(story)
        _old_rejects(story)
        count_supplies(story)


def _old_rejects(story: Story) -> None:
    """A crate of rejects from before the book: what remade beads are made of."""
    moves = [
        Move(
            item=glass_item(story.colours[name], GlassForm.REJECTS),
            from_place=usual_place(LocationKind.OPENING),
            to_place=usual_place(LocationKind.GLASS_SHELF),
            quantity=int(Decimal(kg) * KG),
        )
        for name, kg in REJECTS_KG.items()
    ]
    post(
        PostingKind.OPENING,
        moves,
        on=timezone.localdate(),
        person=story.owner,
        why="rejects in the crate when the book began",
    )


def _live(story: Story, day: date) -> None:
    with story.at(day, 9):
        _take_in_sacks(story, day)
        if day.weekday() in (0, 3):
            _prepare(story)
        glass_came_in(person=story.bench)
        supplies_day(story, day)
    with story.at(day, 11):
        _paint(story)
        _finish(story)
        _mould(story, day)
        if day != story.today:  # today's beads still wait, for a load or for the cord
            _string(story)
            fire_todays_loads(story)
    with story.at(day, 15):
        _hand_over(story, day)
        _take_orders(story, day)


# --- the yard ---------------------------------------------------------------------------------


def _take_in_sacks(story: Story, day: date) -> None:
    for _sack in range(story.dice.choice((0, 0, 1, 1, 0))):
        name = story.dice.choices(list(SACKS), weights=list(SACKS.values()))[0]
        _bring_sack(
            story,
            story.colours[name],
            grams=story.dice.randint(1_800, 6_400),
            paid=(story.today - day).days > 20 or story.dice.random() < 0.6,
        )


def _bring_sack(story: Story, colour: GlassColour, *, grams: int, paid: bool) -> Sack:
    return weigh_in_sack(
        story.dice.choice(story.collectors),
        colour=colour,
        gross_g=grams,
        tare_g=story.dice.choice((180, 220, 260)),
        dirt_share=Decimal(story.dice.randint(2, 7)) / 100,
        paid=paid,
        person=story.yard,
    )


def _prepare(story: Story) -> None:
    """Bring every colour and form up to its usual stock, as far as the yard has raw glass."""
    on_shelf = {
        (row["item__colour"], row["item__form"]): row["sum"]
        for row in Balance.objects.inside()
        .of_glass()
        .filter(place__kind__in=[LocationKind.YARD, LocationKind.GLASS_SHELF])
        .values("item__colour", "item__form")
        .annotate(sum=Sum("quantity"))
        .order_by()
    }
    for colour in story.colours.values():
        raw = on_shelf.get((colour.pk, GlassForm.RAW), 0)
        scarce = SCARCE_KG.get(colour.name)
        if scarce and (story.today - timezone.localdate()).days < 9:
            continue
        for form, usual in STOCK_KG.items():
            wanted = int((scarce or usual) * KG) - on_shelf.get((colour.pk, form), 0)
            if wanted < KG // 5:
                continue
            share = Decimal(colour.yield_for(form))
            taken = min(raw, int(wanted / share))
            if taken < KG // 4:
                continue
            raw -= taken
            _grind(story, colour, form, taken, share)


def _grind(story: Story, colour: GlassColour, form: str, taken: int, share: Decimal) -> None:
    real = share * Decimal(story.dice.uniform(0.975, 1.01))
    made = min(int(taken * real), taken)
    dirt = (taken - made) // 3
    prepare_glass(
        [raw_of(colour, taken)],
        [ready(colour, form, made)],
        form=form,
        person=story.bench,
        losses={"dirt": dirt, "dust": taken - made - dirt},
        sieve_mm=Decimal("0.15") if form == GlassForm.POWDER else Decimal("4"),
        minutes=int(Decimal(taken) / KG * 33),
    )


# --- bench and kiln ---------------------------------------------------------------------------


def _mould(story: Story, day: date) -> None:
    """Fill moulds for the orders that have their glass, then a batch for the shelf now and then."""
    jobs = WorkOrder.objects.filter(
        order__state=Order.State.CONFIRMED, step=WorkOrder.Step.MOULDING
    ).select_related("order", "bead__mould")
    for job in jobs.order_by(soonest("order__due_on"), "pk")[:12]:
        try:
            batch = mould_beads(
                job.bead,
                job.to_start,
                person=story.bench,
                belongs=("order", str(job.order.number)),
            )
        except ValidationError:
            continue  # the rejects for remade beads have to come first
        job_moulded(job, batch, person=story.bench)
    if day.weekday() == 1:
        bead = story.dice.choice(story.beads[:18])
        fills = story.dice.randint(2, 5)
        try:
            batch = mould_beads(bead, fills * bead.mould.cavities, person=story.bench)
        except ValidationError:
            return
        story.drying.append(Waiting(batch, 1, batch.started, timezone.now()))


def _paint(story: Story) -> None:
    for job in WorkOrder.objects.filter(step=WorkOrder.Step.PAINTING).select_related(
        "order", "bead"
    ):
        job_painted(job, person=story.bench)


def _finish(story: Story) -> None:
    """Sort what has cooled; an order's good beads are held for it in the same breath."""
    jobs = WorkOrder.objects.filter(step=WorkOrder.Step.FINISHING).select_related(
        "order", "bead__mould", "batch__bead"
    )
    for job in jobs:
        good = sort_beads(story, job.batch, job.bead.firings)
        job_finished(job, good=good, person=story.bench)


def _string(story: Story) -> None:
    for order in Order.objects.filter(state=Order.State.CONFIRMED, stage=Stage.FINISHED):
        for line in order.lines.select_related("design__item", "order"):
            if line.strung < line.strands:
                try:
                    string_for(line, line.strands - line.strung, person=story.bench)
                except ValidationError:
                    continue  # a spacer is missing; it is on its way


# --- counter ----------------------------------------------------------------------------------


def _take_orders(story: Story, day: date) -> None:
    # The last week before the winter market is a busy one.
    rush = (story.today - day).days < 7
    for _asked in range(3 if rush else 1):
        if story.dice.random() < (0.8 if rush else 0.3):
            _take_order(story, day, customer=story.dice.choice(story.customers))


def _take_order(story: Story, day: date, *, customer: Customer) -> None:
    few = customer.group == "walk-in"
    how_many = story.dice.choice((1, 1, 2) if few else (1, 1, 2, 3))
    lines = [
        WantedLine(design.pk, _strands(story, design, few))
        for design in story.dice.sample(story.designs, how_many)
    ]
    order = draft_order(customer, lines, person=story.counter)
    if story.dice.random() < 0.1:
        if not few:
            issue_quote(order, person=story.counter)
        return  # asked for a price and thinks about it
    confirm_order(order, person=story.owner, owner_word="agreed at the counter")
    order.refresh_from_db()
    if not few and story.dice.random() < 0.6:
        deposit = (order.total * Decimal("0.3")).quantize(Decimal("0.05"))
        record_payment(
            customer, deposit, person=story.counter, way=PaymentDetails("cash"), order=order, on=day
        )
    if story.dice.random() < 0.04:
        cancel_order(order, person=story.counter, why="changed their mind")


def _strands(story: Story, design: StrandDesign, few: bool) -> int:
    # Rejects are few, so strands of remade beads are never many.
    if few or design.pk in story.remade:
        return story.dice.choice((1, 1, 2))
    return story.dice.choice((3, 4, 6, 6, 8, 12))


def _hand_over(story: Story, day: date) -> None:
    for order in Order.objects.filter(
        state=Order.State.CONFIRMED, stage=Stage.STRUNG
    ).select_related("customer"):
        # Lately nobody came by; some strands hang ready at the counter.
        if story.dice.random() < (0.8 if (story.today - day).days < 5 else 0.35):
            continue  # not here yet
        collect_order(order, person=story.counter)
        paper = issue_invoice(order, person=story.counter)
        age = (story.today - day).days
        if age > 45 or story.dice.random() < 0.55:
            way = PaymentDetails(story.dice.choice(("cash", "cash", "bank", "card")))
            pay_at_the_counter(paper, day=day, way=way, person=story.counter)
    if day.weekday() == 4:
        money_day(day=day, today=story.today, counter=story.counter, owner=story.owner)
        for collector in story.collectors:
            if story.dice.random() < 0.5:
                _pay(story, collector)


def _pay(story: Story, collector: Collector) -> None:
    owed = collector.sacks.filter(paid_on__isnull=True, amount__gt=0)
    if owed.exists():
        pay_collector(collector, person=story.owner)
