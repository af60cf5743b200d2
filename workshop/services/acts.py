"""The log of who did what."""

from typing import Any

from workshop.models import Act, Person


def record_act(
    person: Person | None,
    act: str,
    subject: Any,
    *,
    before: dict[str, Any] | None = None,
    after: dict[str, Any] | None = None,
    refused: bool = False,
) -> Act:
    """Write one line of the log, in the transaction of the act itself."""
    return Act.objects.create(
        person=person if person is not None and person.pk else None,
        act=act,
        subject_kind=subject._meta.model_name,
        subject_ref=str(getattr(subject, "number", None) or subject.pk),
        before=before,
        after=after,
        refused=refused,
    )
