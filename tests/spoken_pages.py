"""A browser whose reader knows no English: the walks of `plain_pages.py`, in another language.

A walk names labels, buttons and sentences in English, or how they begin. Each is looked up among
the messages, and the page must say what its language says there.
"""

import re
from collections.abc import Iterator
from functools import cache
from typing import Any

from django.conf import settings
from django.test import Client
from django.utils import translation

from tests.plain_pages import PlainPages
from workshop import message_files
from workshop.languages import APPS

HOLE = re.compile(r"%\((\w+)\)[-#0 +]*\d*(?:\.\d+)?[a-zA-Z]|\{(\w+)\}")
NUMBER = re.compile(r"(.+) (\d+)")

# Its English and how another language says it: texts with the names of holes between them.
Pieces = tuple[str, ...]


class SpokenPages(PlainPages):
    """What one person does who speaks a language, chosen in the browser at the door."""

    def __init__(self, client: Client, language: str) -> None:
        super().__init__(client)
        self.language = language
        client.cookies[settings.LANGUAGE_COOKIE_NAME] = language

    def patterns(self, english: str) -> list[str]:
        found = list(_patterns(self.language, english))
        before, colon, after = english.partition(": ")
        if colon:
            found += [f"{one}: {two}" for one in _patterns(self.language, before)[:3]
                      for two in _patterns(self.language, after)[:9]]  # fmt: skip
        if number := NUMBER.fullmatch(english):
            found += [rf"{one} {number[2]}\b" for one in _patterns(self.language, number[1])]
        return found


@cache
def _patterns(language: str, english: str) -> list[str]:
    """Patterns of what is said for it, the most literal first; itself where nothing is."""
    with translation.override(language):
        django = [translation.gettext(english), translation.gettext(english.lower())]
    found = [re.escape(each) for each in django if each.lower() != english.lower()]
    fitting = []
    for length, pieces, said in _messages(language):
        for at_start, rest in _beginnings(pieces, english):
            filled = _fits(rest, english)
            if filled is not None and english not in filled.values():
                literal = len(english) - sum(map(len, filled.values()))
                fitting.append((not at_start, -literal, length, _pattern(language, said, filled)))
    found += [pattern for *_order, pattern in sorted(fitting)]
    return [*dict.fromkeys(found), re.escape(english)]


def _beginnings(pieces: Pieces, words: str) -> Iterator[tuple[bool, Pieces]]:
    """A message from its beginning, and from each word on that the words may begin with."""
    yield True, pieces
    for place in range(0, len(pieces), 2):
        for blank in re.finditer(r"\s", pieces[place]):
            rest = pieces[place][blank.end() :]
            if rest[:2].lower() == words[:2].lower():
                yield False, (rest, *pieces[place + 1 :])


def _fits(pieces: Pieces, words: str) -> dict[str, str] | None:
    """What stands in the holes of a message that these words begin, or None.

    Every other piece is a hole; one that the words do not reach is left open.
    """
    if not words:
        return {}
    text = pieces[0]
    if text.lower().startswith(words.lower()):
        return {}
    if not words.lower().startswith(text.lower()) or len(pieces) == 1:
        return None
    rest = words[len(text) :]
    for end in range(1, len(rest) + 1):
        further = _fits(pieces[2:], rest[end:])
        if further is not None:
            return {pieces[1]: rest[:end]} | further
    return None


def _pattern(language: str, said: Pieces, filled: dict[str, str]) -> str:
    told = [
        re.escape(piece) if place % 2 == 0 else _hole(language, filled.get(piece))
        for place, piece in enumerate(said)
    ]
    return "".join(told).strip()


def _hole(language: str, value: str | None) -> str:
    if value is None:
        return ".+?"
    told = {said for _n, english, said in _messages(language) if english == (value,)}
    return f"(?:{'|'.join(re.escape(each) for each in (*(one for one, *_more in told), value))})"


@cache
def _messages(language: str) -> list[tuple[int, Pieces, Pieces]]:
    """Every message and its translation in pieces, the shortest first."""
    found: list[tuple[int, Pieces, Pieces]] = []
    for app in APPS:
        for message in message_files.read(app, language):
            one: Any = message.id
            forms = (
                [(one, message.string)]
                if isinstance(one, str)
                else zip(one, message.string, strict=True)
            )
            found += [
                (len(english), _in_pieces(english), _in_pieces(said))
                for english, said in forms
                if english
            ]
    return sorted(found)


def _in_pieces(text: str) -> Pieces:
    plain = " ".join(text.replace("%%", "%").split())
    pieces, at = [], 0
    for hole in HOLE.finditer(plain):
        pieces += [plain[at : hole.start()], hole[1] or hole[2]]
        at = hole.end()
    return (*pieces, plain[at:])
