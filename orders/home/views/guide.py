"""The guide as a PDF: a person's own, and for the owner that of every role."""

from django.http import HttpResponse

from orders.home.papers import guide_html
from orders.papers.respond import printed
from workshop.help import money
from workshop.models import Role

GUIDES = {*Role.values, money.CHAPTER.key}


def guide(request) -> HttpResponse:
    """In the reader's language. The owner may ask for that of another role: `?for=yard`."""
    asked = request.GET.get("for", "")
    role = asked if request.user.is_owner and asked in GUIDES else request.user.role
    return printed(request, guide_html(role, request.business), f"guide-{role}")
