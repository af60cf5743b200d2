"""People who sign in: invited by a link that works once, sent away with all their sessions."""

import secrets

from django.contrib.auth.tokens import default_token_generator
from django.db import transaction
from django.urls import reverse
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode
from django.utils.translation import gettext as _

from workshop.models import Business, Person
from workshop.services.acts import record_act
from workshop.services.second_look import ask
from workshop.services.sessions import end_sessions

# Letters and digits that nobody mixes up when copying them from a screen.
COPYABLE = "abcdefghjkmnpqrstuvwxyz23456789"


def new_password() -> str:
    """A fresh random password, 79 bits, in four groups easy to copy."""
    return "-".join("".join(secrets.choice(COPYABLE) for _ in range(4)) for _ in range(4))


@transaction.atomic
def keep_person(whom: Person, *, person: Person) -> Person:
    """Save somebody's name, role and right to sign in; without the right, every session ends.

    Where the owner wants two people to look, the right stays until another agrees.
    """
    new = whom.pk is None
    if new:
        whom.set_unusable_password()
    elif not whom.is_active and _two_look_at(whom):
        told = _("%(name)s may not sign in any more") % {"name": whom}
        ask("person", told, {"person": whom.pk}, person=person)
        whom.is_active = True
    whom.save()
    record_act(
        person,
        "add person" if new else "change person",
        whom,
        after={"role": whom.role, "may sign in": whom.is_active},
    )
    if not whom.is_active:
        end_sessions(whom)
    return whom


def _two_look_at(person: Person) -> bool:
    """Whether another has to agree before somebody who may sign in is shut out."""
    may_still = Person.objects.filter(pk=person.pk, is_active=True)
    return Business.in_force().two_for_people and may_still.exists()


def invitation_path(person: Person) -> str:
    """The address at which somebody chooses a password; it dies when used or after its time."""
    return reverse(
        "workshop:choose_password",
        kwargs={
            "uidb64": urlsafe_base64_encode(force_bytes(person.pk)),
            "token": default_token_generator.make_token(person),
        },
    )
