"""An act tried: done in full, looked at, and nothing of it kept."""

from collections.abc import Callable
from typing import TypeVar

from django.db import transaction

T = TypeVar("T")


class _LetGo(Exception):
    """Ends the trial; never leaves this module."""


def tried(act: Callable[[], T]) -> T:
    """What an act would come to. It is done by its own code, so that what is shown is what will
    be; then all that it wrote is let go of, numbers and log among it.

    A refusal of the act is raised as ever.
    """
    found: list[T] = []
    try:
        with transaction.atomic():
            found.append(act())
            raise _LetGo
    except _LetGo:
        return found[0]
