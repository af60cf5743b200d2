"""The log of who did what."""

import logging
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import datetime
from typing import Any

from workshop.models import AuditEntry, Person

log = logging.getLogger("workshop.acts")


# When the act happened that is being written down, where a phone sends it late.
_happened: ContextVar[datetime | None] = ContextVar("happened", default=None)


@contextmanager
def happened_at(hour: datetime | None) -> Iterator[None]:
    """Within, every line of the log also says when its act happened."""
    mark = _happened.set(hour)
    try:
        yield
    finally:
        _happened.reset(mark)


def record_act(
    person: Person | None,
    act: str,
    subject: Any,
    *,
    before: dict[str, Any] | None = None,
    after: dict[str, Any] | None = None,
) -> AuditEntry:
    """Write one line of the log, in the transaction of the act itself."""
    entry = _entry(person, act, subject, before=before, after=after)
    entry.save()
    return entry


def record_acts(
    person: Person | None, act: str, subjects: Iterable[Any], **told: dict[str, Any]
) -> None:
    """Write the same line for each of several subjects (1 query)."""
    AuditEntry.objects.bulk_create(_entry(person, act, subject, **told) for subject in subjects)


def _entry(person: Person | None, act: str, subject: Any, **told: Any) -> AuditEntry:
    if hour := _happened.get():
        told["after"] = {**(told.get("after") or {}), "happened at": hour.isoformat()}
    return AuditEntry(
        person=person if person is not None and person.pk else None,
        act=act,
        subject_kind=subject._meta.model_name,
        subject_ref=str(getattr(subject, "number", None) or subject.pk),
        **told,
    )


def record_refusal(person: Person | None, act: str, kind: str, ref: str) -> AuditEntry:
    """Write down what somebody wanted to do and may not, in the log and for the machine's own."""
    log.warning("refused: %s, %s %s, person %s", act, kind, ref, getattr(person, "pk", None))
    return AuditEntry.objects.create(
        person=person if person is not None and person.pk else None,
        act=act[:60],
        subject_kind=kind[:40],
        subject_ref=ref[:80],
        refused=True,
    )
