"""A PDF as the answer to a request, or the page that says why there is none."""

import logging
from collections.abc import Callable, Mapping

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from orders.models import Document
from orders.papers.long_run import KINDS, printed_before
from orders.papers.press import FileChanged, LettersMissing, PressMissing, to_pdf, to_roll

log = logging.getLogger("orders.papers")


def print_out(
    request, make: Callable[[bool], bytes], name: str, paper: Document | None = None
) -> HttpResponse:
    """Whatever `make` prints; it is told whether boxes may stand for letters no font here has."""
    boxes = "boxes" in request.GET
    try:
        return pdf_response(make(boxes), name)
    except PressMissing as error:
        letters, status = isinstance(error, LettersMissing), 503
        said = str(error)
    except FileChanged as error:
        letters, status = False, 500
        said = str(error)
    log.error("%s is not printed: %s", name, said)
    context = {"paper": paper, "sentence": said, "letters": letters}
    return render(request, "orders/money/cannot_print.html", context, status=status)


def printed(request, html: str, name: str) -> HttpResponse:
    """A paper that is printed from the book as it stands, and not kept."""
    return print_out(request, lambda boxes: to_pdf(html, boxes=boxes), name)


def printed_roll(request, html: str, name: str, paper: Document | None = None) -> HttpResponse:
    """The same for the 80 mm roll."""
    return print_out(request, lambda boxes: to_roll(html, boxes=boxes), f"{name}-roll", paper)


def printed_or_asked(
    request, kind: str, asked: Mapping[str, str], html: Callable[[], str], *, short: int = 1
) -> HttpResponse:
    """A paper that may grow long: printed at once while it is short, else asked for on a page.

    What is being printed already, or was printed today, is shown instead.
    """
    paper_kind = KINDS[kind]
    kept = paper_kind.read(asked)
    pieces = paper_kind.count(kept)
    if pieces <= short:
        return printed(request, html(), f"{kind}-{timezone.localdate():%Y-%m-%d}")
    if paper := printed_before(kind, kept):
        return redirect("orders:long_paper", paper.pk)
    context = {"kind": kind, "said": asked, "name": paper_kind.name, "pieces": pieces}
    return render(request, "orders/counter/long_ask.html", context)


def pdf_response(pdf: bytes, name: str) -> HttpResponse:
    """A PDF shown in the browser, named as its paper."""
    response = HttpResponse(pdf, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{name}.pdf"'
    response["X-Content-Type-Options"] = "nosniff"
    return response
