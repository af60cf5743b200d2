"""What `manage.py doctor` finds."""

from dataclasses import dataclass

GOOD, CARE, BAD = "good", "care", "bad"


@dataclass(frozen=True)
class Found:
    """One thing looked at: how it stands, and what to do if it is not good."""

    how: str
    sentence: str
