"""A long paper: asked for, watched, stopped, opened."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from orders.models import LongPaper
from orders.papers.long_run import KINDS, ask_for, stop
from orders.papers.respond import pdf_response
from workshop.views.idempotent import idempotent


@require_POST
@idempotent
def long_paper_ask(request) -> HttpResponse:
    """Ask for a long paper; the page of the paper itself is where its words come from."""
    said = {name: ",".join(request.POST.getlist(name)) for name in request.POST}
    kind = KINDS.get(said.get("kind", ""))
    if kind is None:
        raise Http404
    try:
        asked = kind.read(said)
    except ValidationError as error:
        messages.warning(request, " ".join(error.messages))
        return redirect(kind.list)
    name = f"{kind.name} {timezone.localdate():%Y-%m-%d}"
    paper = ask_for(said["kind"], asked, name, person=request.user)
    return redirect("orders:long_paper", paper.pk)


@idempotent
def long_paper(request, pk: int) -> HttpResponse:
    """How far it is printed; a press stops it, and once it is there it can be opened."""
    paper = get_object_or_404(LongPaper.objects.defer("pdf").select_related("asked_by"), pk=pk)
    if request.method == "POST":
        stop(paper, person=request.user)
        return redirect("orders:long_paper", pk)
    template = "_long_paper.html" if request.htmx else "long_paper.html"
    return render(request, f"orders/counter/{template}", {"paper": paper})


@require_GET
def long_paper_file(request, pk: int) -> HttpResponse:
    """The file, once it is printed."""
    paper = get_object_or_404(LongPaper, pk=pk)
    if not paper.is_there or paper.pdf is None:
        return redirect("orders:long_paper", pk)
    return pdf_response(bytes(paper.pdf), paper.name.replace(" ", "-").lower())
