"""A programme that can be followed: the same firing, with the soak its thickest bead asks for."""

from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from stock.models import Bead
from workshop.models import Person, Programme
from workshop.physics.sentences import PhysicsError
from workshop.physics.shapes import ShapeError
from workshop.physics.soaking import soak_for
from workshop.services.acts import record_act


@transaction.atomic
def with_a_soak(programme: Programme, bead: Bead, *, person: Person) -> Programme:
    """The programme again under a name of its own, with soak and slow cooling for one bead.

    The programme as it was stays; a second asking gives the one that was made.
    """
    try:
        soak = soak_for([bead.measure().thickest()])
    except (PhysicsError, ShapeError) as error:
        raise ValidationError(str(error)) from error
    if soak.soak_c >= programme.hold_c:
        raise ValidationError(
            _("%(programme)s is held at %(hold)s °C and a soak needs more than %(soak)s °C.")
            % {"programme": programme, "hold": programme.hold_c, "soak": round(soak.soak_c)}
        )
    name = (_("%(programme)s, soaked for %(bead)s") % {"programme": programme, "bead": bead})[:60]
    known = Programme.objects.filter(name=name).first()
    if known is not None:
        return known
    made = Programme.objects.get(pk=programme.pk)
    made.pk, made.name = None, name
    made._state.adding = True
    made.soak_c, made.soak_min = round(soak.soak_c), round(soak.soak_min)
    made.slow_to_c = round(soak.slow_to_c)
    made.slow_c_per_min = Decimal(str(soak.slow_c_per_min))
    made.save()
    record_act(person, "add programme", made, after={"soak_c": made.soak_c})
    return made
