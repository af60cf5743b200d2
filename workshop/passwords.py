"""Passwords that are among the first to be guessed, however long they are."""

from typing import Any

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from zxcvbn import zxcvbn

from workshop.models import Business

# NIST SP 800-63B rev. 4, 3.1.1.2: compare with words that are common, expected or known to be
# stolen. The estimate counts how many guesses come before this one; below 10^8 is "somewhat
# guessable" by its makers' own scale (D. L. Wheeler, USENIX Security 2016). Ours asks for ten
# times as many, or two dates in a row would do.
FEWEST_GUESSES = 10**9
# It reads no further, which bounds the time it takes.
READ_CHARACTERS = 72
OWN_WORDS = ("strandwork", "workshop", "beads")


class NotSoonGuessed:
    """Refuses common words, repeats, rows of keys, dates, and the workshop's and one's own name."""

    def validate(self, password: str, user: Any = None) -> None:
        estimate = zxcvbn(password[:READ_CHARACTERS], user_inputs=_known_words(user))
        if estimate["guesses"] < FEWEST_GUESSES:
            raise ValidationError(
                _(
                    "This is among the first that are guessed: a common word, a repeat, a row of "
                    "keys, a date, or a name that belongs here. Put three or four words together "
                    "that have nothing to do with one another."
                ),
                code="soon_guessed",
            )

    def get_help_text(self) -> str:
        return _(
            "No common word, repeat, row of keys or name of this workshop; three or four unlikely "
            "words together are easy to remember."
        )


def _known_words(user: Any) -> list[str]:
    """Names that anybody who knows the workshop would try first, whole and in their words."""
    business = Business.current()
    names = [business.name, *(getattr(user, each, "") for each in ("username", "full_name"))]
    names.append(str(getattr(user, "email", "")).partition("@")[0])
    words = [word for name in names for word in (name, name.replace(" ", ""), *name.split())]
    return [*OWN_WORDS, *(word.lower() for word in words if len(word) > 2)]
