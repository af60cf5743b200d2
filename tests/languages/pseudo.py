"""Two languages that nobody speaks, made while a test runs: what a page does to any other tongue.

`LONG` writes every message with accents and a third longer, as a translation may be; words on a
page without an accent went past the translators. `RIGHT_TO_LEFT` is the same, written from the
right, as Arabic and Hebrew are. Placeholders, marks of HTML and patterns of days stay as they are.
"""

import re
from collections.abc import Iterator
from contextlib import contextmanager

from django.conf import settings
from django.utils.translation import trans_real

LONG, RIGHT_TO_LEFT = "xl", "xr"
KEPT = re.compile(r"%\(\w+\)[-#0 +]*\d*(?:\.\d+)?[a-zA-Z]|%[a-zA-Z%]|\{[^{}]*\}|<[^<>]*>|&\w+;")
PLAIN = "aceinosuyAEINOUCSYgGdDlLtTrRzZ"
ACCENTED = "áçéíñóšúýÁÉÍÑÓÚÇŠÝğĞďĎĺĹťŤřŘžŽ"
MARKED = str.maketrans(PLAIN, ACCENTED)
LONGER_BY = 0.33
LONG_WORD = 12
NOT_WORDS = ("day pattern",)  # contexts of what no reader reads


def said(text: str) -> str:
    """A message as the pseudo-language says it.

    >>> said("Weigh %(kg)s of <b>glass</b>")
    'Wéíğh %(kg)s óf <b>ğĺášš</b> ééééé'
    """
    pieces, at, letters = [], 0, 0
    for found in KEPT.finditer(text):
        pieces += [text[at : found.start()].translate(MARKED), found[0]]
        letters += found.start() - at
        at = found.end()
    letters += len(text) - at
    pieces.append(text[at:].translate(MARKED))
    if text.strip():
        # Words as long as German's long ones, before what comes at a text's end.
        last = pieces[-1]
        kept = last.rstrip()
        whole, rest = divmod(max(1, round(letters * LONGER_BY)), LONG_WORD)
        more = " ".join(["é" * LONG_WORD] * whole + ["é" * rest] * bool(rest))
        pieces[-1] = f"{kept} {more}{last[len(kept) :]}"
    return "".join(pieces)


class Pseudo:
    """What Django asks of a language that is in force."""

    def __init__(self, code: str) -> None:
        self.code = code

    def to_language(self) -> str:
        return self.code

    def language(self) -> str:
        return self.code

    def gettext(self, message: str) -> str:
        context, mark, text = message.rpartition(trans_real.CONTEXT_SEPARATOR)
        return text if mark and context in NOT_WORDS else said(text)

    def ngettext(self, one: str, many: str, number: int) -> str:
        return self.gettext(one if number == 1 else many)


@contextmanager
def spoken() -> Iterator[None]:
    """Within it, both may be chosen like any other language."""
    before = settings.LANGUAGES_BIDI
    settings.LANGUAGES_BIDI = [*before, RIGHT_TO_LEFT]
    for code in (LONG, RIGHT_TO_LEFT):
        trans_real._translations[code] = Pseudo(code)
    try:
        yield
    finally:
        settings.LANGUAGES_BIDI = before
        for code in (LONG, RIGHT_TO_LEFT):
            del trans_real._translations[code]
