"""Moulds that break or wear out: fewer are owned from then on, and their life is learned."""

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from stock.models import KilnLoad, MouldGone
from workshop.models import Mould, Person
from workshop.services.acts import record_act

Why = MouldGone.Why


@transaction.atomic
def mould_gone(
    mould: Mould,
    count: int = 1,
    *,
    person: Person,
    why: str = Why.BROKEN,
    load: KilnLoad | None = None,
) -> MouldGone:
    """So many moulds of a kind are no more; plans count with those that are left.

    load  the one they were in, if it was seen there
    """
    fewer = Mould.objects.filter(pk=mould.pk, owned__gte=count) if count >= 1 else None
    if fewer is None or not fewer.update(owned=F("owned") - count):
        mould.refresh_from_db(fields=["owned"])
        raise ValidationError({"count": too_many_gone(mould, count)})
    row = MouldGone.objects.create(
        mould=mould, on=timezone.localdate(), count=count, why=why, load=load, told_by=person
    )
    mould.refresh_from_db(fields=["owned"])
    record_act(
        person, "moulds gone", mould, before={"owned": mould.owned + count},
        after={"owned": mould.owned, "why": row.get_why_display()},
    )  # fmt: skip
    return row


def too_many_gone(mould: Mould, count: int) -> str:
    """Why so many moulds cannot have gone."""
    if count < 1:
        return _("Write how many moulds have gone, 1 or more.")
    words = {"mould": mould, "owned": mould.owned, "count": count}
    return (
        ngettext(
            "%(owned)s mould of %(mould)s is owned, so %(count)s cannot have gone. If more were "
            "bought, the owner writes that on its page first.",
            "%(owned)s moulds of %(mould)s are owned, so %(count)s cannot have gone. If more were "
            "bought, the owner writes that on its page first.",
            mould.owned,
        )
        % words
    )


@transaction.atomic
def mould_not_gone(row: MouldGone, *, person: Person) -> Mould:
    """It was told by mistake: the moulds are owned again."""
    row = MouldGone.objects.select_for_update(of=("self",)).select_related("mould").get(pk=row.pk)
    mould, count = row.mould, row.count
    row.delete()
    Mould.objects.filter(pk=mould.pk).update(owned=F("owned") + count)
    mould.refresh_from_db(fields=["owned"])
    record_act(
        person, "moulds there after all", mould, before={"owned": mould.owned - count},
        after={"owned": mould.owned},
    )  # fmt: skip
    return mould
