"""Rejects told by what is wrong with them, as they are sorted out."""

from collections.abc import Mapping

from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext as _

from stock.models import BeadBatch, KilnLoad, Posting, RejectCause, RejectTally


def tally_rejects(
    batch: BeadBatch, causes: Mapping[str, int], *, posting: Posting, rejected: int
) -> None:
    """Keep how many of the rejects of a batch were of which cause; call in the act's transaction.

    posting  of the sorting they were told at; where the batch was in one load, they are that load's
    """
    named = {cause: beads for cause, beads in causes.items() if beads}
    if sum(named.values()) > rejected:
        raise ValidationError(too_many_causes(sum(named.values()), rejected))
    if not named:
        return
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


def too_many_causes(named: int, rejected: int) -> str:
    """Why causes that are more than the rejects cannot be right."""
    return _(
        "%(named)s beads have a cause and %(rejected)s were sorted out. Count the causes again."
    ) % {"named": named, "rejected": rejected}
