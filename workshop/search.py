"""Finding rows by words: parts of names and numbers, without accents, by an index.

`holding` is the one way to look. What a row is found by it names itself (`FOUND_BY`); the ends of
its words stand in `SearchPart`, written whenever the row is saved, in the same transaction. An
index of plain text serves every database alike, where each has full-text tables of its own kind.
"""

import re
from collections.abc import Iterable, Iterator, Sequence
from itertools import islice
from typing import Any

from django.apps import apps
from django.db.models import Model, Q, QuerySet

from workshop.letters import bare
from workshop.models import FoundBy, SearchPart

MOST_WORDS = 5
IN_A_TELEPHONE = " -/().+"
FEWEST_DIGITS = 4
AT_ONCE = 500
APOSTROPHES = re.compile("['’ʼ]")
WORD = re.compile(r"[^\W_]+")


# --- looking -------------------------------------------------------------------------------------


def holding(rows: QuerySet, words: str, *, whose: str = "") -> QuerySet:
    """Those of the rows in which every word stands (no query).

    whose  a key of theirs: a word may as well stand in what it leads to
    """
    if not words.strip():
        return rows
    asked = words_of(words)[:MOST_WORDS]
    found = Q(pk__in=[]) if not asked else _every(rows, asked, whose)
    number = digits(words)
    if number and asked != [number]:
        found |= _every(rows, [number], whose)
    return rows.filter(found)


def _every(rows: QuerySet, words: Iterable[str], whose: str) -> Q:
    found = Q()
    for word in words:
        found &= Q(pk__in=_with(rows.model, word, whose))
    return found


def _with(model: type[Model], word: str, whose: str) -> QuerySet:
    """The keys of rows that hold a word, themselves or in what a key of theirs leads to."""
    own = _things(model, word)
    if not whose:
        return own
    related: Any = model._meta.get_field(whose).related_model
    rows = model._default_manager.order_by()
    other = rows.filter(**{f"{whose}__in": _things(related, word)}).values("pk")
    if not hasattr(model, "FOUND_BY"):
        return other
    return rows.filter(pk__in=own).values("pk").union(other)


def _things(model: type[Model], word: str) -> QuerySet:
    begins = word[: SearchPart.LONGEST]
    rows = SearchPart.objects.filter(kind=_kind(model), text__gte=begins)
    return rows.filter(text__lt=begins + chr(0x10FFFF)).values("thing")


def numbered(rows: QuerySet, number: int) -> QuerySet:
    """Those of the rows in which this whole number stands (no query)."""
    found = SearchPart.objects.filter(kind=_kind(rows.model), text=str(number))
    return rows.filter(pk__in=found.values("thing"))


def digits(words: str) -> str:
    """What of it is a telephone number, without its spaces; "" where there are other letters."""
    left = "".join(letter for letter in words if letter not in IN_A_TELEPHONE)
    return left if left.isdecimal() and len(left) >= FEWEST_DIGITS else ""


def words_of(text: str) -> list[str]:
    """Its words in small letters without accents, each once.

    >>> words_of("Ålesund-Straße, São João’s")
    ['alesund', 'strasse', 'sao', 'joaos']
    """
    return list(dict.fromkeys(WORD.findall(bare(APOSTROPHES.sub("", text)))))


# --- keeping -------------------------------------------------------------------------------------


def keep_found(sender: type[Model], instance: Any, **kwargs: Any) -> None:
    """After a row was saved: it is found by what is written in it now (2 to 4 queries)."""
    found_by: FoundBy | None = getattr(sender, "FOUND_BY", None)
    told = kwargs.get("update_fields")
    if found_by is None or (told is not None and not set(told) & set(found_by.fields)):
        return
    wanted = parts_of([getattr(instance, name) for name in found_by.fields], found_by)
    kept = SearchPart.objects.filter(kind=_kind(sender), thing=instance.pk)
    there = set() if kwargs.get("created") else set(kept.values_list("text", flat=True))
    if gone := there - wanted:
        kept.filter(text__in=gone).delete()
    _write(SearchPart, ((_kind(sender), instance.pk, text) for text in sorted(wanted - there)))


def found_anew(row: Model) -> None:
    """For an act that changed a row by UPDATE."""
    keep_found(type(row), row)


def forget_found(sender: type[Model], instance: Any, **kwargs: Any) -> None:
    """After a row of a findable model was deleted."""
    SearchPart.objects.filter(kind=_kind(sender), thing=instance.pk).delete()


def find_all_anew() -> None:
    """For a book whose rows were written in bulk."""
    SearchPart.objects.all().delete()
    for model in findable():
        write_parts(model, SearchPart, model.FOUND_BY)


def write_parts(model: Any, parts: Any, found_by: FoundBy) -> None:
    """What every row of a model is found by; a change of the book gives its own two models."""
    for rows in _some_at_once(_rows(model, found_by)):
        wanted = ((pk, parts_of(values, found_by)) for pk, *values in rows)
        _write(parts, ((_kind(model), pk, text) for pk, texts in wanted for text in sorted(texts)))


def _write(parts: Any, rows: Iterable[tuple[str, int, str]]) -> None:
    made = [parts(kind=kind, thing=thing, text=text) for kind, thing, text in rows]
    if made:
        parts.objects.bulk_create(made, batch_size=5 * AT_ONCE, ignore_conflicts=True)


def _rows(model: Any, found_by: FoundBy) -> Iterator[tuple]:
    """Key and texts of every row that has any."""
    empty = Q(**dict.fromkeys(found_by.fields, ""))
    rows = model._default_manager.exclude(empty).order_by("pk")
    return rows.values_list("pk", *found_by.fields).iterator(chunk_size=AT_ONCE)


def parts_of(values: Sequence[Any], found_by: FoundBy) -> set[str]:
    """All that a row is found by, from the texts of its fields; names by language are texts too."""
    told = {
        name: value if isinstance(value, str) else " ".join(value.values())
        for name, value in zip(found_by.fields, values, strict=True)
    }
    found = set()
    for name, text in told.items():
        words = words_of(text)
        if name in found_by.words:
            found |= {*words, *(word.lstrip("0") for word in words if word.isdecimal())}
        if name in found_by.parts:
            found |= {end for word in words for end in _ends(word)}
        if name in found_by.digits:
            found |= set(_ends("".join(filter(str.isdecimal, text))))
    return {text[: SearchPart.LONGEST] for text in found if text}


def _ends(word: str) -> Iterator[str]:
    return (word[start:] for start in range(len(word)))


# --- proving -------------------------------------------------------------------------------------


def parts_differ() -> Iterator[str]:
    """Rows that are found by something else than is written in them (2 queries for 500 rows)."""
    for model in findable():
        found_by, kind = model.FOUND_BY, _kind(model)
        every = model._default_manager.order_by("pk").values_list("pk", *found_by.fields)
        for rows in _some_at_once(every.iterator(chunk_size=AT_ONCE)):
            kept: dict[int, set[str]] = {pk: set() for pk, *_values in rows}
            parts = SearchPart.objects.filter(kind=kind, thing__in=kept)
            for thing, text in parts.values_list("thing", "text"):
                kept[thing].add(text)
            for pk, *values in rows:
                if kept[pk] != parts_of(values, found_by):
                    yield f"The {model._meta.verbose_name} {pk} is not found by what it says."


def _some_at_once(rows: Iterator[tuple]) -> Iterator[list[tuple]]:
    while some := list(islice(rows, AT_ONCE)):
        yield some


def findable() -> list[Any]:
    return [model for model in apps.get_models() if hasattr(model, "FOUND_BY")]


def _kind(model: Any) -> str:
    return str(model._meta.model_name)
