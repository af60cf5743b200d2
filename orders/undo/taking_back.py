"""Orders kept in step when a posting of the glass book is taken back.

The book gives back what it moved; here the order follows: its holds, the strands it has, where its
beads stand, the load they were fired in, and the stage it has reached.
"""

from collections.abc import Iterable, Mapping, Sequence

from django.core.exceptions import ValidationError
from django.db.models import F, Q
from django.db.models.functions import Greatest
from django.utils.translation import gettext as _

from orders.firing.queries.trays import trays_of
from orders.firing.services.log import parts_by_share
from orders.making.services.findings import (
    cease_to_keep,
    let_findings_go,
    share_out_findings,
)
from orders.making.services.holds import hold_for, release
from orders.making.services.progress import Step, bring_up, glass_came_in, glass_went_away, move_job
from orders.making.services.refit import fit_glass_needs, refit
from orders.models import (
    GlassNeed,
    Order,
    OrderLine,
    Purchase,
    StockReservation,
    StrandDesign,
    WorkOrder,
)
from stock.models import (
    Balance,
    BeadBatch,
    Item,
    ItemKind,
    KilnLoad,
    LoadTray,
    LocationKind,
    Movement,
    Posting,
    PostingKind,
    StockLocation,
)
from stock.services.followers import FOLLOWERS, Follower
from stock.services.moulds import mould_not_gone
from stock.services.moves import say_quantity
from workshop import formats
from workshop.models import Person
from workshop.services.acts import record_act

CAME_OUT = (PostingKind.FIRING, PostingKind.FINISHING, PostingKind.USE)


class OrdersFollow(Follower):
    """The orders' part in taking a posting back."""

    def together(self, posting: Posting) -> list[Posting]:
        """All that came out of a load was logged at once, and is taken back at once."""
        if posting.belongs_kind != "load" or posting.kind not in CAME_OUT:
            return []
        return list(
            Posting.objects.filter(
                belongs_kind="load", belongs_ref=posting.belongs_ref, kind__in=CAME_OUT,
                reversed_by__isnull=True,
            ).order_by("pk")
        )  # fmt: skip

    def before(self, postings: Iterable[Posting], person: Person) -> None:
        postings = list(postings)
        first = postings[0]
        if first.belongs_kind == "load" and first.kind in CAME_OUT:
            _check_load(_load_of(first), person)
        for posting in postings:
            _check_order(posting)
            _free_own_holds(posting)
            _free_findings(posting)
        for posting in postings:
            _refuse_held(posting)

    def after(self, postings: Iterable[Posting], person: Person) -> None:
        postings = list(postings)
        first = postings[0]
        if first.belongs_kind == "load" and first.kind in CAME_OUT:
            _burn_again(_load_of(first), person)
        for posting in postings:
            follow = AFTER.get(PostingKind(posting.kind))
            if follow is not None:
                follow(posting, person)
            _glass_changed(posting, person)
        if any(posting.movements.filter(item__kind=ItemKind.SUPPLY) for posting in postings):
            cease_to_keep(postings)
            share_out_findings()

    def before_count(self, place: StockLocation, found: Mapping[Item, int]) -> None:
        """Clasps that are not there are held for nobody any more."""
        for item, counted in found.items():
            if item.kind == ItemKind.SUPPLY:
                row = Balance.objects.filter(item=item, place=place).first()
                if row is not None and counted < row.reserved:
                    let_findings_go(item, row.quantity - counted, place.pk)

    def after_count(self, place: StockLocation, found: Mapping[Item, int]) -> None:
        if any(item.kind == ItemKind.SUPPLY for item in found):
            share_out_findings()


def follow_the_book() -> None:
    """Called once when the program starts."""
    if not any(isinstance(each, OrdersFollow) for each in FOLLOWERS):
        FOLLOWERS.append(OrdersFollow())


# --- before: what stands in the way -------------------------------------------------------------


def _order_of(posting: Posting) -> Order | None:
    if posting.belongs_kind != "order":
        return None
    return Order.objects.select_for_update().filter(number=posting.belongs_ref).first()


def _batches_in(posting: Posting) -> list[BeadBatch]:
    return list(
        BeadBatch.objects.filter(item__movements__posting=posting).distinct().order_by("pk")
    )


def _check_order(posting: Posting) -> None:
    if posting.belongs_kind == "sale":
        raise ValidationError(
            _(
                "This is sale %(number)s. Take the sale back on its own page: its paper and its "
                "money go with it."
            )
            % {"number": posting.belongs_ref}
        )
    order = _order_of(posting)
    if order is not None and posting.kind == PostingKind.COLLECTION:
        _refuse_came_back(order)
    elif order is not None and posting.kind != PostingKind.RETURN:
        _refuse_handed_over(order)
    if posting.kind in {PostingKind.MOULDING, PostingKind.FINISHING}:
        for job, batch in _jobs_behind(posting):
            _refuse_handed_over(job.order)
            _refuse_moulded_anew(job.order, batch)


def _jobs_behind(posting: Posting) -> list[tuple[WorkOrder, BeadBatch]]:
    """Jobs that the beads of a posting were made for, each with the batch it moved."""
    number = posting.belongs_ref if posting.belongs_kind == "order" else None
    return [(job, batch) for batch in _batches_in(posting) for job in _jobs_of(batch, number)]


def _jobs_of(batch: BeadBatch, number: str | None) -> list[WorkOrder]:
    """Those that stand with a batch; where the rest was begun anew since, those of the order."""
    jobs = WorkOrder.objects.filter(bead=batch.bead_id).select_related("order", "bead__mould")
    own = jobs.filter(Q(batch=batch) | Q(shares__tray__batch=batch)).distinct().order_by("pk")
    if number is None or own:
        return list(own)
    return list(jobs.filter(order__number=number).order_by("pk"))


def _refuse_handed_over(order: Order) -> None:
    if order.state == Order.State.COLLECTED:
        raise ValidationError(
            _("Order %(number)s was handed over on %(day)s; take the hand-over back first.")
            % {"number": order.number, "day": formats.date_short(order.collected_on)}
        )


def _refuse_came_back(order: Order) -> None:
    back = sum(order.lines.values_list("came_back", flat=True))
    if back:
        raise ValidationError(
            _("%(n)s strands of order %(number)s came back since. Take that back first.")
            % {"n": back, "number": order.number}
        )


def _refuse_moulded_anew(order: Order, batch: BeadBatch) -> None:
    """When too few came good the rest was begun anew, and that stands on what is taken back."""
    if order.jobs.filter(batch=batch).exists():
        return  # another of its jobs, for beads wanted since
    anew = order.jobs.filter(bead=batch.bead_id, batch__isnull=False).first()
    if anew is not None:
        raise ValidationError(
            _(
                "For order %(number)s more %(bead)s were moulded since, %(batch)s. Take their "
                "moulding back first."
            )
            % {"number": order.number, "bead": batch.bead, "batch": anew.batch}
        )


def _put_inside(posting: Posting) -> list[tuple[Balance, int]]:
    """Balances that a posting filled, with how much it put there."""
    found = []
    for movement in posting.movements.filter(to_place__inside=True):
        row = Balance.objects.select_related("item__batch", "place").get(
            item=movement.item_id, place=movement.to_place_id
        )
        found.append((row, movement.quantity))
    return found


def _owners(posting: Posting) -> Q:
    """Holds of the orders that a posting was made for."""
    orders = {job.order_id for job, _batch in _jobs_behind(posting)}
    whose = Q(order__in=orders)
    if posting.belongs_kind == "order":
        whose |= Q(order__number=posting.belongs_ref)
    return whose


def _free_own_holds(posting: Posting) -> None:
    """What the posting made is held for its own order; the hold goes with it."""
    for row, quantity in _put_inside(posting):
        left = quantity
        own = StockReservation.objects.filter(_owners(posting), balance=row).select_related(
            "balance"
        )
        for hold in own.order_by("-pk"):
            piece = min(left, hold.quantity)
            if piece:
                if hold.line_id is not None:
                    strung = OrderLine.objects.filter(pk=hold.line_id)
                    strung.update(strung=F("strung") - piece)
                release(hold, piece)
                left -= piece


def _free_findings(posting: Posting) -> None:
    """What a purchase brought goes back, whoever it was held for by now."""
    for row, quantity in _put_inside(posting):
        if row.item.kind == ItemKind.SUPPLY:
            let_findings_go(row.item, quantity, row.place_id)


def _refuse_held(posting: Posting) -> None:
    for row, quantity in _put_inside(posting):
        row.refresh_from_db()
        if row.free_quantity >= quantity or row.quantity < quantity:
            continue
        numbers = StockReservation.objects.filter(balance=row).values_list(
            "order__number", flat=True
        )
        raise ValidationError(
            _(
                "Held for order %(orders)s: %(held)s of %(item)s at %(place)s. Let go of it on the "
                "order's page first."
            )
            % {
                "held": say_quantity(row.item, row.reserved),
                "item": row.item,
                "place": row.place,
                "orders": ", ".join(str(number) for number in sorted(set(numbers))),
            }
        )


# --- after: each kind of posting ----------------------------------------------------------------


def _after_collection(posting: Posting, person: Person) -> None:
    """The strands lie on the shelf again, held for the order, which waits to be collected."""
    order = _order_of(posting)
    if order is None or not order.was_confirmed:
        return
    order.state, order.collected_on = Order.State.CONFIRMED, None
    order.version += 1
    order.save(update_fields=["state", "collected_on", "version"])
    lines = {line.design.item_id: line for line in order.lines.select_related("design")}
    for movement in posting.movements.filter(item__kind=ItemKind.STRANDS):
        line = lines[movement.item_id]
        hold_for(order, _balance(movement), movement.quantity, line=line)
        line.handed -= movement.quantity
        line.save(update_fields=["handed"])
    # Work on a piece lies in no book; it waits to be fetched with the rest.
    order.lines.filter(design__sort=StrandDesign.Sort.WORK).update(handed=0)
    bring_up(order)
    record_act(person, "take back hand-over", order)


def _after_return(posting: Posting, person: Person) -> None:
    """The strands are with the customer again."""
    order = _order_of(posting)
    if order is None:
        return
    for movement in posting.movements.filter(from_place__kind=LocationKind.SOLD):
        line = order.lines.filter(design__item=movement.item_id)
        line.update(came_back=F("came_back") - movement.quantity)
    record_act(person, "take back return", order)


def _after_stringing(posting: Posting, person: Person) -> None:
    """The beads are off the cord and held for the order again."""
    order = _order_of(posting)
    if order is None or order.state != Order.State.CONFIRMED:
        return
    beads = posting.movements.filter(item__kind=ItemKind.BEADS, to_place__kind=LocationKind.IN_WORK)
    for movement in beads:
        hold_for(order, _balance(movement), movement.quantity)
    refit(order, person=person)


def _after_moulding(posting: Posting, person: Person) -> None:
    """The beads are to be moulded again; their glass is claimed again."""
    for job, batch in _jobs_behind(posting):
        if job.batch_id != batch.pk or job.order.state != Order.State.CONFIRMED:
            continue
        job.batch = None
        move_job(job, Step.MOULDING, person=person)
        _claim_again(posting, job.order)
        fit_glass_needs(job.order)


def _claim_again(posting: Posting, order: Order) -> None:
    glass = posting.movements.filter(item__kind=ItemKind.GLASS, from_place__inside=True)
    for movement in glass.select_related("item"):
        needs = GlassNeed.objects.filter(
            order=order, colour=movement.item.colour_id, form=movement.item.form
        )
        needs.update(used_mg=Greatest(0, F("used_mg") - movement.quantity))


def _after_finishing(posting: Posting, person: Person) -> None:
    """The beads stand on the bench again, to be finished; those of a load are fired first."""
    if posting.belongs_kind == "load":
        return
    for batch in _batches_in(posting):
        good = _good_in(posting, batch)
        for job, of_job in _jobs_behind(posting):
            if of_job == batch and job.order.state == Order.State.CONFIRMED:
                counted = min(good, job.good)
                _stand_at(job, batch, Step.FINISHING, counted, person)
                fit_glass_needs(job.order)
                good -= counted


def _after_painting(posting: Posting, person: Person) -> None:
    """The beads wait for their paint again."""
    if posting.belongs_kind != "order":
        return
    # Older books moved nothing when beads were painted; there the charges name the batch.
    batches = {batch.pk for batch in _batches_in(posting)}
    batches |= set(posting.charges.values_list("item__batch", flat=True))
    jobs = WorkOrder.objects.filter(
        batch__in=batches, step=Step.SECOND, order__state=Order.State.CONFIRMED
    )
    for job in jobs.select_related("order").order_by("pk"):
        move_job(job, Step.PAINTING, person=person)


def _after_loading(posting: Posting, person: Person) -> None:
    """The tray stands on the bench again; a load without any other waits to be lit."""
    load = _load_of(posting)
    if load is None or load.state != KilnLoad.State.FIRING:
        return
    tray = load.trays.filter(batch__in=_batches_in(posting)).order_by("pk").first()
    if tray is None:
        return
    if load.trays.exclude(pk=tray.pk).exists():
        tray.delete()
        KilnLoad.objects.filter(pk=load.pk).update(version=F("version") + 1)
    else:
        KilnLoad.objects.filter(pk=load.pk).update(
            state=KilnLoad.State.PLANNED, in_kiln=False, started_at=None, version=F("version") + 1
        )
    record_act(person, "take out of kiln", load, after={"tray": str(tray)})


def _after_purchase(posting: Posting, person: Person) -> None:
    """It has not come after all; it is on its way again until it is called off."""
    Purchase.objects.filter(posting=posting).update(posting=None, arrived_on=None)


AFTER = {
    PostingKind.PURCHASE: _after_purchase,
    PostingKind.COLLECTION: _after_collection,
    PostingKind.STRINGING: _after_stringing,
    PostingKind.RETURN: _after_return,
    PostingKind.MOULDING: _after_moulding,
    PostingKind.FINISHING: _after_finishing,
    PostingKind.LOADING: _after_loading,
    PostingKind.PAINTING: _after_painting,
}


def _balance(movement: Movement) -> Balance:
    return Balance.objects.get(item=movement.item_id, place=movement.from_place_id)


def _good_in(posting: Posting, batch: BeadBatch) -> int:
    """Good beads of a batch that a posting brought to the bead shelf."""
    made = posting.movements.filter(item__batch=batch, to_place__kind=LocationKind.BEAD_SHELF)
    return sum(made.values_list("quantity", flat=True))


def _stand_at(job: WorkOrder, batch: BeadBatch, step: str, less_good: int, person: Person) -> None:
    """The beads of a job stand at an earlier step, so many fewer of them good."""
    job.good = max(0, job.good - less_good)
    job.batch = batch
    job.to_start = max(batch.started, job.needed - job.good)
    job.moulds = -(-job.to_start // job.bead.mould.cavities)
    job.save(update_fields=["good", "batch", "to_start", "moulds"])
    move_job(job, step, person=person)


# --- a whole load -------------------------------------------------------------------------------


def _load_of(posting: Posting) -> KilnLoad | None:
    if posting.belongs_kind != "load":
        return None
    loads = KilnLoad.objects.select_for_update(of=("self",)).select_related("kiln")
    return loads.filter(number=posting.belongs_ref).first()


def _check_load(load: KilnLoad | None, person: Person) -> None:
    if load is None:
        return
    burning = KilnLoad.objects.filter(kiln=load.kiln, in_kiln=True).first()
    if burning is not None:
        raise ValidationError(
            _("%(kiln)s burns load %(number)s now. Log what came out of it first.")
            % {"kiln": load.kiln, "number": burning.number}
        )
    for tray in trays_of(load):
        for share in tray.shares.all():
            if share.job.order.state == Order.State.COLLECTED:
                raise ValidationError(
                    _("Order %(number)s, fired in this load, is handed over already.")
                    % {"number": share.job.order.number}
                )
            if tray.batch is not None:
                _refuse_moulded_anew(share.job.order, tray.batch)


def _burn_again(load: KilnLoad | None, person: Person) -> None:
    """A load whose log was taken back is in the kiln, to be logged again."""
    if load is None:
        return
    for tray in trays_of(load):
        _jobs_burn_again(tray, person)
    for row in load.moulds_gone.all():  # they were told with the log, and are told anew with it
        mould_not_gone(row, person=person)
    load.trays.update(good=None, rejected=None, breakage="")
    KilnLoad.objects.filter(pk=load.pk).update(
        state=KilnLoad.State.FIRING, in_kiln=load.pierced_until is None, ended_at=None, peak_c=None,
        held_min=None, fuel_used=None, version=F("version") + 1,
    )  # fmt: skip
    record_act(person, "take back firing", load)


def _jobs_burn_again(tray: LoadTray, person: Person) -> None:
    if tray.batch is None:
        return
    # Good beads of a last firing were counted for the order when they came to the shelf.
    counted = tray.firing == tray.bead.firings
    for share, part in parts_by_share(tray, tray.good or 0):
        job = WorkOrder.objects.select_related("order", "bead__mould").get(pk=share.job_id)
        if job.order.state != Order.State.CONFIRMED:
            continue
        on_shelf = part if counted and _went_to_shelf(tray) else 0
        step = Step.SECOND if tray.is_second_firing else Step.FIRING
        _stand_at(job, tray.batch, step, on_shelf, person)
        fit_glass_needs(job.order)


def _went_to_shelf(tray: LoadTray) -> bool:
    """Whether the load's log brought this tray's good beads straight to the bead shelf."""
    return Movement.objects.filter(
        posting__belongs_kind="load",
        posting__belongs_ref=str(tray.load.number),
        posting__kind=PostingKind.FINISHING,
        item__batch=tray.batch,
        to_place__kind=LocationKind.BEAD_SHELF,
    ).exists()


# --- glass --------------------------------------------------------------------------------------


def _glass_changed(posting: Posting, person: Person) -> None:
    """Beads whose glass is gone wait for glass again; others may have theirs now."""
    colours: Sequence[int] = list(
        posting.movements.filter(item__kind=ItemKind.GLASS, item__colour__isnull=False)
        .values_list("item__colour", flat=True)
        .distinct()
    )
    if colours:
        glass_went_away(colours, person=person)
        glass_came_in(person=person)
