"""Rejects told by what is wrong with them, as they are sorted out."""

from collections.abc import Mapping

from django.core.exceptions import ValidationError
from django.db.models import Sum
from django.utils import timezone
from django.utils.translation import gettext as _

from stock.models import BeadBatch, KilnLoad, Posting, PostingKind, RejectCause, RejectTally


def tally_rejects(
    batch: BeadBatch,
    causes: Mapping[str, int],
    *,
    posting: Posting,
    rejected: int,
    load: KilnLoad | None = None,
) -> None:
    """Keep how many of the rejects of a batch were of which cause; call in the act's transaction.

    posting  of the sorting they were told at, or of the load as it came out
    load     it came out of; left out, the batch's load where it was in one alone
    """
    named = {cause: beads for cause, beads in causes.items() if beads}
    if sum(named.values()) > rejected:
        raise ValidationError(too_many_causes(sum(named.values()), rejected))
    if not named:
        return
    if load is None:
        loads = list(KilnLoad.objects.filter(trays__batch=batch).distinct()[:2])
        load = loads[0] if len(loads) == 1 else None
    RejectTally.objects.bulk_create(
        RejectTally(
            batch=batch,
            load=load,
            posting=posting,
            cause=RejectCause(cause),
            beads=beads,
            on=timezone.localdate(),
        )
        for cause, beads in named.items()
    )


def told_at_the_kiln(batch: BeadBatch) -> dict[str, int]:
    """Rejects of a batch whose cause was tapped as its load came out, not sorted yet (1 query)."""
    rows = RejectTally.objects.filter(
        batch=batch, posting__kind=PostingKind.FIRING, posting__reversed_by__isnull=True
    )
    return dict(rows.order_by().values_list("cause").annotate(n=Sum("beads")))


def too_many_causes(named: int, rejected: int) -> str:
    """Why causes that are more than the rejects cannot be right."""
    return _(
        "%(named)s beads have a cause and %(rejected)s were sorted out. Count the causes again."
    ) % {"named": named, "rejected": rejected}
