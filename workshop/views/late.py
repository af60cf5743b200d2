"""Acts that a phone wrote down without a signal, and what it may do where one is refused."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from django.utils import timezone


@dataclass(frozen=True)
class Choice:
    """One way on with an act that came back as a question.

    boxes  what would stand in the boxes of the act instead; the rest stays as it was written
    path   where it goes then, if elsewhere
    look   it is opened filled in, to be looked at, rather than sent
    """

    label: str
    boxes: Mapping[str, str] = field(default_factory=dict)
    path: str = ""
    look: bool = False

    @property
    def boxes_json(self) -> str:
        return json.dumps(self.boxes)


def is_late(request) -> bool:
    """Whether this act was written down on a phone before; only then choices are of use."""
    return getattr(request, "is_late", False)


def day_of_act(request) -> date:
    """The day on which an act happened: today, or what a phone says that sends it late."""
    hour = getattr(request, "happened", None)
    return timezone.localdate(hour) if hour is not None else timezone.localdate()
