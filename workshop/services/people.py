"""People who sign in: invited by a link that works once, sent away with all their sessions."""

import secrets

from django.contrib.auth.tokens import default_token_generator
from django.db import transaction
from django.urls import reverse
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode

from workshop.models import Person
from workshop.services.acts import record_act
from workshop.services.sessions import end_sessions

# Letters and digits that nobody mixes up when copying them from a screen.
COPYABLE = "abcdefghjkmnpqrstuvwxyz23456789"


def new_password() -> str:
    """A fresh random password, 79 bits, in four groups easy to copy."""
    return "-".join("".join(secrets.choice(COPYABLE) for _ in range(4)) for _ in range(4))


@transaction.atomic
def keep_person(person: Person, *, by: Person) -> Person:
    """Save somebody's name, role and right to sign in; without the right, every session ends."""
    new = person.pk is None
    if new:
        person.set_unusable_password()
    person.save()
    record_act(
        by,
        "add person" if new else "change person",
        person,
        after={"role": person.role, "may sign in": person.is_active},
    )
    if not person.is_active:
        end_sessions(person)
    return person


def invitation_path(person: Person) -> str:
    """The address at which somebody chooses a password; it dies when used or after its time."""
    return reverse(
        "workshop:choose_password",
        kwargs={
            "uidb64": urlsafe_base64_encode(force_bytes(person.pk)),
            "token": default_token_generator.make_token(person),
        },
    )
