"""The message files of the apps: gathered from the sources, kept as they were translated.

`<app>/locale/<language>/LC_MESSAGES/django.po`, one an app. A message stands in the lowest app that
says it, so that nothing is translated twice; a template of no app's own belongs to the workshop.
No positions are kept and messages stand in the order of their words, so that two hands who add
messages meet only where they add the same one. Babel reads and writes; gettext is not needed.
"""

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from babel.core import Locale
from babel.messages.catalog import Catalog
from babel.messages.extract import extract
from babel.messages.plurals import get_plural
from babel.messages.pofile import read_po, write_po
from django.utils.translation.template import templatize

from workshop.languages import APPS, ROOT, message_file

# What marks a message, and which of its arguments are words ("c": the context).
MARKS: dict[str, Any] = {
    **dict.fromkeys(("_", "gettext", "gettext_lazy", "gettext_noop"), None),
    **dict.fromkeys(("ngettext", "ngettext_lazy"), (1, 2)),
    **dict.fromkeys(("pgettext", "pgettext_lazy"), ((1, "c"), 2)),
    **dict.fromkeys(("npgettext", "npgettext_lazy"), ((1, "c"), 2, 3)),
}
_TEXT = r"""u?('(?:[^'\\]|\\.)*'|"(?:[^"\\]|\\.)*")"""
_CALL = re.compile(rf"\b(n?p?gettext|_)\({_TEXT}(?:, {_TEXT})?(?:, {_TEXT})?")
_HEADER = """\
msgid ""
msgstr ""
"Language: {language}\\n"
"MIME-Version: 1.0\\n"
"Content-Type: text/plain; charset=utf-8\\n"
"Content-Transfer-Encoding: 8bit\\n"
"Plural-Forms: {plurals}\\n"

"""


@dataclass(frozen=True)
class Said:
    """One message of the sources: its words (one and many, where it counts) and their context."""

    words: str | tuple[str, str]
    context: str | None = None
    notes: tuple[str, ...] = ()
    where: str = ""

    @property
    def key(self) -> tuple[str, str]:
        """By which a catalogue finds it."""
        first = self.words if isinstance(self.words, str) else self.words[0]
        return self.context or "", first


def gathered() -> dict[str, dict[tuple[str, str], Said]]:
    """Every message of the sources by app and key."""
    found: dict[str, dict[tuple[str, str], Said]] = {app: {} for app in APPS}
    for app, said in sorted(said_in_sources(), key=lambda row: (APPS.index(row[0]), row[1].where)):
        holder = next((each for each in APPS if said.key in found[each]), app)
        known = found[holder].get(said.key)
        # One that counts somewhere is kept with both its forms.
        if known is None or (isinstance(known.words, str) and not isinstance(said.words, str)):
            found[holder][said.key] = said
    return found


def said_in_sources() -> Iterator[tuple[str, Said]]:
    """Every place that says a message, with its app."""
    for app in APPS:
        for path in sorted((ROOT / app).rglob("*.py")):
            if "migrations" not in path.parts:
                yield from ((app, said) for said in _said_in_python(path))
    for path in sorted((ROOT / "templates").rglob("*")):
        if path.is_file():
            subject = path.relative_to(ROOT / "templates").parts[0]
            app = subject if subject in APPS else APPS[0]
            yield from ((app, said) for said in _said_in_template(path))


def _said_in_python(path: Path) -> Iterator[Said]:
    with path.open("rb") as source:
        for row in extract("python", source, keywords=MARKS, comment_tags=["Translators:"]):
            _line, words, notes, context = row
            both = words if isinstance(words, str) else (words[0], words[1])
            yield Said(both, context, tuple(notes), str(path.relative_to(ROOT)))


def _said_in_template(path: Path) -> Iterator[Said]:
    """By Django's own reading, which trims what the template trims."""
    for call in _CALL.finditer(templatize(path.read_text(encoding="utf-8"), origin=str(path))):
        texts = [ast.literal_eval(text) for text in call.groups()[1:] if text]
        context = texts.pop(0) if "p" in call[1].removesuffix("gettext") else None
        counts = call[1].startswith("n")
        words = (texts[0], texts[1]) if counts else texts[0]
        yield Said(words, context, (), str(path.relative_to(ROOT)))


def read(app: str, language: str) -> Catalog:
    """What is translated of an app so far."""
    path = message_file(app, language)
    if not path.exists():
        return Catalog(locale=language)
    with path.open("rb") as source:
        return read_po(source, locale=language)


def write(app: str, language: str, catalogue: Catalog) -> None:
    path = message_file(app, language)
    path.parent.mkdir(parents=True, exist_ok=True)
    plurals = get_plural(Locale.parse(language))
    with path.open("wb") as target:
        target.write(_HEADER.format(language=language, plurals=plurals).encode())
        write_po(target, catalogue, width=100, no_location=True, omit_header=True,
                 sort_output=True, ignore_obsolete=True)  # fmt: skip


def bring_up_to_date(language: str) -> int:
    """Write the message files of a language anew from the sources; how many await translation.

    What was translated is kept, wherever it stands now; what no source says any more is left out.
    """
    known = {}
    for app in APPS:
        for message in read(app, language):
            if message.id and message.string:
                first = message.id if isinstance(message.id, str) else message.id[0]
                known[(message.context or "", first)] = message
    waiting = 0
    for app, messages in gathered().items():
        catalogue = Catalog(locale=language)
        for key, said in messages.items():
            before = known.get(key)
            string, flags = _kept(said, before)
            catalogue.add(
                said.words, string, context=said.context, auto_comments=said.notes, flags=flags
            )
            waiting += not string
        write(app, language, catalogue)
    return waiting


def _kept(said: Said, before: Any) -> tuple[Any, set[str]]:
    """The translation there was, if it has the forms that are wanted now, and its marks."""
    if before is None or isinstance(said.words, str) != isinstance(before.string, str):
        return "", set()
    if not all([before.string] if isinstance(before.string, str) else before.string):
        return "", set()
    return before.string, set(before.flags) & {"fuzzy"}
