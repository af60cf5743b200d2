"""After an act that was written into the book, its message offers to take it back."""

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.html import format_html
from django.utils.translation import gettext as _

from stock.models import PostingKind
from stock.services.book import noted_postings
from workshop.doors import may


class TakeBackOfferMiddleware:
    """Beside what an act says of itself stands *Take it back*, for whoever may."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.method != "POST":
            return self.get_response(request)
        with noted_postings() as posted:
            response = self.get_response(request)
        left = [each for each in posted if each.kind != PostingKind.REVERSAL]
        done = response.status_code == 302 and len(left) == len(posted) > 0
        if done and may(request, "stock:posting_back", "POST"):
            url = reverse("stock:posting_back", args=[left[-1].pk])
            words = format_html('<a href="{}">{}</a>', url, _("Take it back"))
            messages.info(request, words, extra_tags="back")
        return response
