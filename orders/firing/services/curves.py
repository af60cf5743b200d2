"""Keeping the temperature curve of a firing with its load."""

from collections.abc import Sequence

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from orders.models import FiringCurve
from stock.models import KilnLoad
from workshop.models import Person
from workshop.services.acts import record_act


@transaction.atomic
def write_curve(
    load: KilnLoad, readings: Sequence[tuple[float, float]], *, person: Person
) -> FiringCurve:
    """Keep the readings with the load, in place of what was kept; a load not lit has none."""
    load = KilnLoad.objects.select_for_update().get(pk=load.pk)
    if load.state == KilnLoad.State.PLANNED:
        raise ValidationError(
            _("Load %(number)s is not lit yet, so there is nothing to read off.")
            % {"number": load.number}
        )
    before = FiringCurve.objects.filter(load=load).first()
    curve, _made = FiringCurve.objects.update_or_create(
        load=load,
        defaults={"readings": [list(pair) for pair in readings], "written_by": person},
    )
    record_act(
        person,
        "write firing curve",
        load,
        before={"readings": len(before.readings)} if before else None,
        after={"readings": len(curve.readings)},
    )
    return curve


@transaction.atomic
def drop_curve(load: KilnLoad, *, person: Person) -> None:
    """Take the readings off the load again, as when they belong to another."""
    for curve in FiringCurve.objects.select_for_update().filter(load=load):
        record_act(
            person, "drop firing curve", load, before={"readings": len(curve.readings)}, after=None
        )
        curve.delete()
