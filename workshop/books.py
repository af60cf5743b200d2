"""Which book a desk works in: the one of its own once it has one, and the demo's to practise in.

Standard library only: the settings ask before Django is there.
"""

import os
from pathlib import Path

FIRST, OWN = "strandwork.sqlite3", "own.sqlite3"
# Set by `manage.py open --practice`; everything else works in the workshop's own book.
WHICH = "STRANDWORK_BOOK"


def book_path(var: Path, which: str) -> Path:
    """The book's file in the workshop's folder; `practice` is the one that was there first."""
    own = var / OWN
    return own if which == "own" and own.exists() else var / FIRST


def copies_path(var: Path, which: str) -> Path:
    """Where copies are kept; those of practice never drive out the workshop's own."""
    practising = which == "practice" and (var / OWN).exists()
    return var / ("practice-copies" if practising else "copies")


def can_practise(book: Path, var: Path) -> bool:
    """Whether the demo still lies beside the book of one's own that is open."""
    return is_where_it_belongs(book, var) and book.name == OWN and (var / FIRST).exists()


def is_where_it_belongs(book: Path, var: Path) -> bool:
    """Whether a book is the desk's own file, not one that DATABASE_URL names."""
    return not os.environ.get("DATABASE_URL", "").strip() and book.parent == var
