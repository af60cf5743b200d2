"""What a paired phone fetches beforehand."""

from django.http import HttpResponse, JsonResponse

from orders.home.queries.phone_pages import phone_pages as pages_for
from workshop.phone_door.middleware import only_by_phone


@only_by_phone
def phone_pages(request) -> HttpResponse:
    """Addresses that this person's phone keeps, as JSON."""
    return JsonResponse({"pages": pages_for(request.user)})
