"""From the demo to a book of one's own, by one page."""

import os
import signal
import threading

from django.conf import settings
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import render

from orders.home.forms import OwnBookForm
from orders.home.services import begin_own_book, why_not_own
from workshop.views.edit import form_page, refusals_in


@transaction.non_atomic_requests
def own_book(request) -> HttpResponse:
    """Tick what is kept of the demo, and begin. Done twice, the second finds the book there."""
    form = OwnBookForm(request.POST if request.method == "POST" else None)
    context = {"form": form, "why_not": why_not_own()}
    if request.method == "POST" and not context["why_not"] and form.is_valid():
        with refusals_in(form):
            kept = begin_own_book(form.cleaned_data["keep"], person=request.user)
            return _begun(request, kept)
    return form_page(request, "orders/home/own_book.html", context)


def _begun(request, kept: list[str]) -> HttpResponse:
    context = {"kept": kept, "opens_again": settings.OPENS_AGAIN}
    answer = render(request, "orders/home/own_book_begun.html", context)
    if settings.OPENS_AGAIN:
        # The desk closes once this answer is out, and opens again with the new book.
        threading.Timer(1, os.kill, (os.getppid(), signal.SIGTERM)).start()
    return answer
