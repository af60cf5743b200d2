"""Three small middlewares: content-security policy, workshop time, and who may open what."""

from zoneinfo import ZoneInfo

from django.contrib.auth.views import redirect_to_login
from django.http import Http404, HttpResponse
from django.utils import timezone

from workshop.access import may_open
from workshop.formats import written_as
from workshop.models import Business

CONTENT_SECURITY_POLICY = "; ".join(
    [
        "default-src 'self'",
        "img-src 'self' data:",
        "object-src 'none'",
        "base-uri 'none'",
        "form-action 'self'",
        "frame-ancestors 'none'",
    ]
)


class ContentSecurityPolicyMiddleware:
    """No inline script or style, nothing from elsewhere, on every answer."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        response = self.get_response(request)
        response.headers.setdefault("Content-Security-Policy", CONTENT_SECURITY_POLICY)
        return response


class WorkshopTimeMiddleware:
    """Times in the workshop's own zone, numbers and money in its own way of writing."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        request.business = Business.current()
        with timezone.override(ZoneInfo(request.business.time_zone)), written_as(request.business):
            return self.get_response(request)


class AccessMiddleware:
    """Ask the access table before a view runs; an address the table lacks is closed to all."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request) -> HttpResponse:
        response = self.get_response(request)
        if request.user.is_authenticated:
            # Shared phones and counters: pages must not come back from the cache after signing out.
            response.headers.setdefault("Cache-Control", "no-store")
        return response

    def process_view(self, request, view_func, view_args, view_kwargs):
        name = request.resolver_match.view_name
        verdict = may_open(name, request.method, request.user)
        if verdict == "sign in":
            return redirect_to_login(request.get_full_path())
        if verdict == "no":
            # 404 rather than 403: a closed room should not tell that it exists.
            raise Http404
        return None
