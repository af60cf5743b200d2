"""Taking back a mistake, and what was counted along with it."""

from datetime import date

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F, Sum
from django.utils.translation import gettext as _

from stock.models import BeadBatch, Posting, PostingKind, Sack
from stock.services.book import reverse_posting
from stock.services.places import TO_PAINT
from workshop.models import Person
from workshop.services.acts import record_act


@transaction.atomic
def take_back(posting: Posting, *, person: Person, why: str, on: date | None = None) -> Posting:
    """Reverse a posting and bring the counts beside the book along (sacks, batches)."""
    undone = reverse_posting(posting, person=person, why=why, on=on)
    if posting.kind == PostingKind.SACK:
        _forget_sack(posting)
    if posting.kind == PostingKind.FINISHING:
        _uncount_batch(posting)
    if posting.kind == PostingKind.MOULDING:
        BeadBatch.objects.filter(item__movements__posting=posting).update(started=0)
    record_act(person, "take back", posting, after={"why": why})
    return undone


def _forget_sack(posting: Posting) -> None:
    sack = Sack.objects.filter(posting=posting).first()
    if sack is None:
        return
    if sack.paid_on is not None and sack.amount:
        raise ValidationError(
            _("%(sack)s is paid already; weigh in what is right and settle the difference.")
            % {"sack": sack}
        )
    # Nothing is owed for a sack that was never there; its line stays to be read.
    sack.amount = 0
    sack.save(update_fields=["amount"])


def _uncount_batch(posting: Posting) -> None:
    movements = posting.movements.filter(item__batch__isnull=False)
    taken = movements.filter(to_place__kind="work").values("item__batch")
    taken = taken.annotate(n=Sum("quantity"))
    for row in taken:
        made = movements.filter(item__batch=row["item__batch"], from_place__kind="work")
        good = sum(m.quantity for m in made.select_related("to_place"))
        final = all(m.to_place.name != TO_PAINT for m in made.select_related("to_place"))
        BeadBatch.objects.filter(pk=row["item__batch"]).update(
            good=F("good") - (good if final else 0), rejected=F("rejected") - (row["n"] - good)
        )
