"""Taking back a mistake, and what was counted along with it."""

from collections.abc import Iterable

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F, Max, Sum
from django.utils.translation import gettext as _

from stock.models import (
    Balance,
    BeadBatch,
    Collector,
    LocationKind,
    Movement,
    Posting,
    PostingKind,
    Sack,
)
from stock.services.book import reverse_posting
from stock.services.followers import FOLLOWERS
from stock.services.moves import say_quantity
from stock.services.places import TO_PAINT
from stock.services.tickets import untell
from stock.trail import standing
from workshop import formats
from workshop.models import Person, exact
from workshop.services.acts import record_act


@transaction.atomic
def take_back(posting: Posting, *, person: Person, why: str) -> Posting:
    """Reverse a posting and bring the counts beside the book along (sacks, batches, orders).

    What was written as one (all that came out of a load) is taken back as one. Refused, with what
    to take back first, when its goods have gone on. Gives the reversal of the posting asked for.
    """
    # Of two people who take the same posting back, the second waits and is told.
    posting = Posting.objects.select_for_update().get(pk=posting.pk)
    _refuse_twice(posting)
    postings = next(
        (found for follower in FOLLOWERS if (found := follower.together(posting))), [posting]
    )
    _refuse_gone_on(postings)
    for follower in FOLLOWERS:
        follower.before(postings, person)
    undone = {}
    for each in sorted(postings, key=lambda each: -each.pk):
        undone[each.pk] = reverse_posting(each, person=person, why=why)
        _uncount(each)
        record_act(person, "take back", each, after={"why": why})
    untell(postings)
    for follower in FOLLOWERS:
        follower.after(postings, person)
    return undone[posting.pk]


def _refuse_twice(posting: Posting) -> None:
    if posting.kind == PostingKind.REVERSAL:
        raise ValidationError(_("A reversal cannot be reversed; post what is right instead."))
    if Posting.objects.filter(reverses=posting).exists():
        raise ValidationError(_("This posting was reversed already."))


def _refuse_gone_on(postings: Iterable[Posting]) -> None:
    """What a posting put on a shelf must still lie there; else say what took it on."""
    keys = [posting.pk for posting in postings]
    inside = {"to_place__inside": True}
    put = (
        Movement.objects.filter(posting__in=keys, **inside)
        .values("item", "to_place")
        .annotate(n=Sum("quantity"))
    )
    taken = Movement.objects.filter(posting__in=keys, from_place__inside=True)
    back = {
        (row["item"], row["from_place"]): row["n"]
        for row in taken.values("item", "from_place").annotate(n=Sum("quantity"))
    }
    for row in put:
        item, place = row["item"], row["to_place"]
        leaves = row["n"] - back.get((item, place), 0)
        there = Balance.objects.select_related("item", "place").get(item=item, place=place)
        if there.quantity < leaves:
            _say_what_took_it(there, leaves, max(keys))


def _say_what_took_it(there: Balance, leaves: int, since: int) -> None:
    later = (
        standing()
        .filter(item=there.item, from_place=there.place, posting_id__gt=since)
        .select_related("posting")
        .order_by("-pk")
        .first()
    )
    words = {
        "item": there.item,
        "put": say_quantity(there.item, leaves),
        "left": say_quantity(there.item, there.quantity),
        "place": there.place,
    }
    if later is None:
        raise ValidationError(
            _("%(item)s: %(put)s came to %(place)s and %(left)s is there. Count the shelf instead.")
            % words
        )
    words |= {
        "number": later.posting_id,
        "kind": later.posting.get_kind_display(),
        "day": formats.date_short(later.posting.on),
    }
    raise ValidationError(
        _(
            "%(item)s has gone on: %(put)s came to %(place)s and %(left)s is there. The last to "
            "take some was posting %(number)s, %(kind)s, on %(day)s; take that back first."
        )
        % words
    )


def _uncount(posting: Posting) -> None:
    {
        PostingKind.SACK: _forget_sack,
        PostingKind.CLEARING: _hold_apart_again,
        PostingKind.FINISHING: _uncount_batch,
        PostingKind.MOULDING: _unstart_batch,
        PostingKind.OPENING: _unopen_batch,
    }.get(PostingKind(posting.kind), lambda _posting: None)(posting)


def _forget_sack(posting: Posting) -> None:
    sack = Sack.objects.filter(posting=posting).first()
    if sack is None:
        return
    if sack.paid_on is not None and sack.amount:
        raise ValidationError(
            _("%(sack)s is paid already; weigh in what is right and settle the difference.")
            % {"sack": sack}
        )
    came = Sack.objects.filter(collector=sack.collector_id, posting__reversed_by__isnull=True)
    last = came.exclude(pk=sack.pk).aggregate(day=Max("received_on"))["day"]
    Collector.objects.filter(pk=sack.collector_id).update(
        brought=F("brought") - 1, owed=F("owed") - exact(sack.amount), last_on=last
    )
    # Nothing is owed for a sack that was never there; its line stays to be read.
    sack.amount, sack.held_apart = 0, False
    sack.save(update_fields=["amount", "held_apart"])


def _hold_apart_again(posting: Posting) -> None:
    apart = posting.movements.filter(from_place__kind=LocationKind.APART).exists()
    Sack.objects.filter(number=posting.belongs_ref).update(
        held_apart=apart, cleared_by=None, cleared_why="", with_bottles=False
    )


def _unstart_batch(posting: Posting) -> None:
    BeadBatch.objects.filter(item__movements__posting=posting).update(started=0)


def _unopen_batch(posting: Posting) -> None:
    BeadBatch.objects.filter(item__movements__posting=posting).update(started=0, good=0)


def _uncount_batch(posting: Posting) -> None:
    movements = posting.movements.filter(item__batch__isnull=False)
    taken = movements.filter(to_place__kind=LocationKind.IN_WORK).values("item__batch")
    for row in taken.annotate(n=Sum("quantity")):
        made = movements.filter(
            item__batch=row["item__batch"], from_place__kind=LocationKind.IN_WORK
        ).select_related("to_place")
        good = sum(m.quantity for m in made)
        final = all(m.to_place.spot != TO_PAINT for m in made)
        BeadBatch.objects.filter(pk=row["item__batch"]).update(
            good=F("good") - (good if final else 0), rejected=F("rejected") - (row["n"] - good)
        )
