"""A sheet that was looked at is kept for its person a short while, so that it is chosen once."""

from datetime import timedelta

from django.utils import timezone

from orders.models import KeptSheet
from orders.money.services.bring_in import Brought
from workshop.models import Person

KEPT_FOR = timedelta(hours=1)


def keep_sheet(brought: Brought, name: str, data: bytes, *, person: Person) -> KeptSheet:
    """Keep a clean sheet for its person in the place of any before; old ones of anybody go."""
    forget_old_sheets()
    forget_sheet(person)
    return KeptSheet.objects.create(
        person=person, kind=brought.kind, name=name[:200], data=data, rows=len(brought.rows)
    )


def kept_sheet(person: Person) -> KeptSheet | None:
    """The sheet this person looked at within the hour; nobody else ever gets it."""
    return KeptSheet.objects.filter(person=person, kept_at__gt=timezone.now() - KEPT_FOR).first()


def forget_sheet(person: Person) -> None:
    """Put a person's sheet away."""
    KeptSheet.objects.filter(person=person).delete()


def forget_old_sheets() -> None:
    """Put away whatever nobody brought in within the hour."""
    KeptSheet.objects.filter(kept_at__lte=timezone.now() - KEPT_FOR).delete()
