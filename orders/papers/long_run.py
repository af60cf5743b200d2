"""Long papers: asked for, printed piece by piece in a process of their own, joined at the end.

A piece is a few pages, so that memory stays what a few pages take, however long the paper. The
whole is for the printer, not for keeping: an issued paper is archived by itself.
"""

import hashlib
import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.models import LongPaper
from orders.papers.press import PressMissing, to_pdf
from workshop.models import Person
from workshop.services.acts import record_act
from workshop.services.beside import start_beside

KEPT_FOR = timedelta(days=2)  # it tells the book as it stood; after that it is printed anew
Asked = dict[str, Any]


@dataclass(frozen=True)
class Kind:
    """A paper that may grow long.

    read   what a form asked for, as it is kept
    count  how many pieces it takes, and `pages` those pieces one after the other
    list   where its rows are ticked, if they are
    """

    name: Any
    read: Callable[[Mapping[str, str]], Asked]
    count: Callable[[Asked], int]
    pages: Callable[[Asked], Iterator[str]]
    list: str = "orders:home"


KINDS: dict[str, Kind] = {}
MOST_CHOSEN = 200  # rows of a list printed together: our choice, above any page of a list


def chosen_rows(said: Mapping[str, str]) -> Asked:
    """The rows ticked in a list, as `read` of a kind that prints them one after the other."""
    rows = sorted({int(row) for row in said.get("rows", "").split(",") if row.isdecimal()})
    if not rows:
        raise ValidationError(_("Tick the rows that are to be printed first."))
    if len(rows) > MOST_CHOSEN:
        raise ValidationError(_("Print at most %(n)s at a time.") % {"n": MOST_CHOSEN})
    return {"rows": rows}


def count_chosen(asked: Asked) -> int:
    return len(asked["rows"])


def in_pieces(rows: Sequence[Any], size: int) -> Iterator[Sequence[Any]]:
    """The rows so many at a time."""
    for start in range(0, len(rows), size):
        yield rows[start : start + size]


def printed_before(kind: str, asked: Asked) -> LongPaper | None:
    """The same paper, being printed or printed today (1 query)."""
    found = LongPaper.objects.filter(mark=_mark(kind, asked)).defer("pdf").first()
    if found is None or found.is_running:
        return found
    today = (
        found.ended_at is not None and timezone.localdate(found.ended_at) == timezone.localdate()
    )
    return found if found.is_there and today else None


def ask_for(kind: str, asked: Asked, name: str, *, person: Person) -> LongPaper:
    """Ask for a paper; printing starts when the transaction is over. One that is being printed is
    not begun a second time."""
    mark = _mark(kind, asked)
    with transaction.atomic():
        LongPaper.objects.filter(asked_at__lt=timezone.now() - KEPT_FOR).delete()
        running = LongPaper.objects.filter(mark=mark, ended_at=None).defer("pdf").first()
        if running is not None and running.is_running:
            return running
        if running is not None:
            _end(running, said=_("It was cut off."))
        try:
            with transaction.atomic():
                paper = LongPaper.objects.create(
                    kind=kind, asked=asked, mark=mark, name=name, asked_by=person
                )
        except IntegrityError:  # somebody else asked in the same moment
            return LongPaper.objects.defer("pdf").get(mark=mark, ended_at=None)
        record_act(person, "print long paper", paper, after={"name": name})
        transaction.on_commit(lambda: _start(paper))
    return paper


def stop(paper: LongPaper, *, person: Person) -> None:
    """Print no more of it; the process sees that before its next piece."""
    ended = LongPaper.objects.filter(pk=paper.pk, ended_at=None)
    if ended.update(stopped=True, ended_at=timezone.now()):
        record_act(person, "stop long paper", paper)


def print_long(paper: LongPaper) -> bool:
    """Print a paper that was asked for; False where it was stopped or could not be printed."""
    kind = KINDS[paper.kind]
    with TemporaryDirectory(prefix="strandwork-") as folder:
        pieces: list[Path] = []
        try:
            _say(paper, pieces=kind.count(paper.asked))
            for html in kind.pages(paper.asked):
                if not _say(paper, done=len(pieces)):
                    return False
                pieces.append(Path(folder) / f"{len(pieces)}.pdf")
                pieces[-1].write_bytes(to_pdf(html, boxes=True, kept=False))
            _say(paper, done=len(pieces))
            whole = Path(folder) / "whole.pdf"
            _join(pieces, whole)
        except PressMissing as error:
            _end(paper, said=str(error))
            return False
        rows = LongPaper.objects.filter(pk=paper.pk, ended_at=None)
        return bool(rows.update(pdf=whole.read_bytes(), ended_at=timezone.now()))


def _join(pieces: list[Path], whole: Path) -> None:
    import pikepdf

    with ExitStack() as opened, pikepdf.new() as joined:
        for piece in pieces:
            joined.pages.extend(opened.enter_context(pikepdf.open(piece)).pages)
        joined.save(whole)


def _say(paper: LongPaper, **told: int) -> int:
    """Write down how far it has come; 0 where it was stopped."""
    rows = LongPaper.objects.filter(pk=paper.pk, ended_at=None)
    return rows.update(seen_at=timezone.now(), **told)


def _end(paper: LongPaper, *, said: str) -> None:
    LongPaper.objects.filter(pk=paper.pk).update(ended_at=timezone.now(), said=said[:400])


def _start(paper: LongPaper) -> None:
    if not start_beside("print_long", str(paper.pk)):
        _end(paper, said=_("Printing could not be started on this machine."))


def _mark(kind: str, asked: Asked) -> str:
    return hashlib.sha256(json.dumps([kind, asked], sort_keys=True).encode()).hexdigest()
