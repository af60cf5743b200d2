"""A strand's tag or a load sheet held before the phone's camera, or its number typed."""

from functools import partial

from django.conf import settings
from django.contrib import messages
from django.http import HttpResponse
from django.http.request import validate_host
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from orders.home.queries.codes import page_of_code
from workshop.doors import may

MOST_LETTERS = 500


@require_GET
def scan(request) -> HttpResponse:
    """The camera's picture and a box for the number; with `code`, on to the thing it names."""
    code = request.GET.get("code", "").strip()[:MOST_LETTERS]
    if code:
        is_here = partial(validate_host, allowed_hosts=settings.ALLOWED_HOSTS)
        page = page_of_code(code, partial(may, request), is_here)
        if page is not None:
            return redirect(page)
        if "/" not in code:
            return redirect(f"{reverse('orders:find')}?{urlencode({'q': code.splitlines()[0]})}")
        messages.error(request, _("This code is of nothing here that you may open."))
    answer = render(request, "orders/home/scan.html", {"code": code})
    # The one page that may ask for the camera.
    answer["Permissions-Policy"] = "camera=(self)"
    return answer
