"""A book whose disk is full: looked at in memory until there is room again, and not written.

SQLite wants a little room even to read a book (its index of the log). So the book is copied into
memory, with the log beside it, and whatever would be written there is refused: it would be lost.
"""

import os
import shutil
import tempfile
from collections.abc import Callable
from pathlib import Path

from django.conf import settings
from django.core.exceptions import MiddlewareNotUsed
from django.http import HttpRequest, HttpResponse
from django.template import loader
from django.urls import resolve

from workshop.metrics_folder import IN_MEMORY

FOLDER = "strandwork-look-"
# Signing in writes too, but only who is there; without it nobody could look.
MAY_BE_SENT = {"workshop:sign_in", "workshop:sign_out", "workshop:second_step"}


def copy_into_memory(book: Path) -> Path:
    """The book and its log as they stand, in a folder of their own; raises OSError without room."""
    home = IN_MEMORY if IN_MEMORY.is_dir() and os.access(IN_MEMORY, os.W_OK) else None
    folder = Path(tempfile.mkdtemp(prefix=FOLDER, dir=home))
    try:
        for end in ("", "-wal"):
            if (beside := book.with_name(book.name + end)).exists():
                shutil.copyfile(beside, folder / beside.name)
    except OSError:
        shutil.rmtree(folder, ignore_errors=True)
        raise
    return folder / book.name


def forget_the_copy(copy: Path) -> None:
    """Take the folder of a copy in memory away again."""
    if copy.parent.name.startswith(FOLDER):
        shutil.rmtree(copy.parent, ignore_errors=True)


class LookOnlyMiddleware:
    """Refuse what would be written, in the words for a book that cannot be written."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        if not settings.LOOK_ONLY:
            raise MiddlewareNotUsed
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.method in {"GET", "HEAD"} or resolve(request.path).view_name in MAY_BE_SENT:
            return self.get_response(request)
        return HttpResponse(loader.render_to_string("503.html"), status=503)
