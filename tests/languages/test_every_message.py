"""Every message of the sources is there in every language, and fits into its place.

Gathered anew from the sources by Babel, so that a sentence nobody translated is found here.
"""

import re
from collections import Counter
from collections.abc import Iterator

import pytest
from babel.messages.catalog import Message

from workshop import message_files
from workshop.languages import APPS, TRANSLATED

PLACES = re.compile(
    r"%\(\w+\)[-#0 +]*\d*(?:\.\d+)?[a-zA-Z]|%[a-zA-Z%]|\{\w*(?:![rs])?(?::[^{}]*)?\}"
)
TAGS = re.compile(r"</?\w+[^<>]*>")
HOW_TO = (
    "run `manage.py gather_messages` and translate what is new in */locale/*/LC_MESSAGES/django.po"
)

Key = tuple[str, str]


@pytest.fixture(scope="module")
def sources() -> dict[str, dict[Key, message_files.Said]]:
    return message_files.gathered()


def key_of(message: Message) -> Key:
    return message.context or "", message.id if isinstance(message.id, str) else message.id[0]


def messages(language: str) -> Iterator[tuple[str, Message]]:
    for app in APPS:
        for message in message_files.read(app, language):
            if message.id:
                yield app, message


def forms(message: Message) -> list[tuple[str, str]]:
    """Each form of a message with the English it says."""
    if isinstance(message.id, str):
        return [(message.id, str(message.string))]
    one, many = message.id
    return [(one if place == 0 else many, text) for place, text in enumerate(message.string)]


@pytest.mark.parametrize("language", TRANSLATED)
def test_nothing_is_untranslated_doubtful_or_left_over(sources, language):
    found = {(app, key_of(message)): message for app, message in messages(language)}
    wanted = {(app, key): said for app, kept in sources.items() for key, said in kept.items()}
    missing = [f"{app}: {key}" for app, key in wanted.keys() - found.keys()]
    missing += [
        f"{app}: {key}"
        for (app, key), message in found.items()
        if not all(dict(forms(message)).values())
    ]
    assert not missing, f"{len(missing)} messages wait in {language}; {HOW_TO}:\n" + "\n".join(
        sorted(missing)[:20]
    )
    assert not [key for key, message in found.items() if message.fuzzy]
    assert not found.keys() - wanted.keys(), "no source says them any more"


@pytest.mark.parametrize("language", TRANSLATED)
def test_what_is_put_in_stands_in_every_translation(sources, language):
    """Places for numbers and names, marks of HTML, and blanks at an end are the same ones."""
    wrong = []
    for _app, message in messages(language):
        # A form for one alone may say the number in words, as the English one does.
        either = [set(PLACES.findall(english)) for english, _text in forms(message)]
        for english, text in forms(message):
            if not text:
                continue
            places = set(PLACES.findall(text))
            if places not in either or Counter(TAGS.findall(text)) != Counter(
                TAGS.findall(english)
            ):
                wrong.append(text)
            edges = [(each[:1].isspace(), each[-1:].isspace()) for each in (english, text)]
            if edges[0] != edges[1]:
                wrong.append(text)
    assert not wrong, "\n".join(wrong[:20])


@pytest.mark.parametrize("language", TRANSLATED)
def test_what_counts_has_every_form_of_its_language(language):
    """Two forms in each of the four (CLDR, plural rules of whole numbers below a million)."""
    assert {
        len(message.string)
        for _app, message in messages(language)
        if not isinstance(message.id, str)
    } == {2}


def test_a_message_stands_once_and_counts_always_or_never(sources):
    """Of two translations of one sentence either might be shown, and a number be lost."""
    places = Counter(key for kept in sources.values() for key in kept)
    assert not [key for key, times in places.items() if times > 1]
    kinds: dict[Key, set[bool]] = {}
    for _app, said in message_files.said_in_sources():
        kinds.setdefault(said.key, set()).add(isinstance(said.words, str))
    assert not [key for key, kind in kinds.items() if len(kind) > 1]
