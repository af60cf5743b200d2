"""Small middlewares: content-security policy, workshop time, how long a session lasts, who may open
what, and what may come in."""

from zoneinfo import ZoneInfo

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import SESSION_KEY, logout
from django.contrib.auth.views import redirect_to_login
from django.http import Http404, HttpResponse, QueryDict
from django.middleware.gzip import GZipMiddleware
from django.shortcuts import redirect
from django.utils import timezone, translation
from django.utils.cache import patch_vary_headers
from django_otp import DEVICE_ID_SESSION_KEY

from workshop.access import may_open
from workshop.formats import written_as
from workshop.languages import keep_in_browser, of_browser
from workshop.models import Business, answering_for
from workshop.probes import PROBES, asked_from_here
from workshop.services.acts import record_refusal
from workshop.services.second_step import must_have_second_step
from workshop.services.sessions import ON_PHONE, note_seen, phone_of_request, why_over
from workshop.typed import LARGEST_WHOLE, plain_text

# Where somebody without their second step may still go.
BEFORE_SECOND_STEP = {
    "workshop:second_step",
    "workshop:second_step_begin",
    "workshop:sign_out",
    "workshop:sign_in",
    "workshop:health",
}
# Set at sign-in for a person who has a telephone that gives codes.
SECOND_STEP_ASKED = "second_step_asked"

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


class ProbesMiddleware:
    """A probe on the machine itself knows the port only, not the name that visitors type."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        if request.path in PROBES and asked_from_here(request) and settings.ALLOWED_HOSTS:
            name = settings.ALLOWED_HOSTS[0].lstrip(".")
            request.META["HTTP_HOST"] = "localhost" if name == "*" else name
        return self.get_response(request)


# No page may ask for these, but for one that says otherwise itself.
PERMISSIONS_POLICY = "camera=(), geolocation=(), microphone=()"


class ContentSecurityPolicyMiddleware:
    """No inline script or style, nothing from elsewhere, no camera, on every answer."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        response = self.get_response(request)
        response.headers.setdefault("Content-Security-Policy", CONTENT_SECURITY_POLICY)
        response.headers.setdefault("Permissions-Policy", PERMISSIONS_POLICY)
        return response


class LanguageMiddleware:
    """Answers in the language of whoever reads them.

    Who that is, is known further in (`WorkshopTimeMiddleware`). Whatever is answered before, and
    what is said while nobody is signed in, follows the browser, which remembers its last reader's.
    """

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request) -> HttpResponse:
        asked = of_browser(request)
        with translation.override(asked or settings.LANGUAGE_CODE):
            response = self.get_response(request)
            response.headers.setdefault("Content-Language", translation.get_language())
        patch_vary_headers(response, ("Accept-Language", "Cookie"))
        own = getattr(request, "own_language", "")
        if own and own != request.COOKIES.get(settings.LANGUAGE_COOKIE_NAME):
            keep_in_browser(response, own)
        return response


class WorkshopTimeMiddleware:
    """Times in the workshop's own zone, numbers and money in its own way of writing, words in the
    reader's language."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        request.business = business = Business.current()
        person = request.user
        request.own_language = person.language if person.is_authenticated else ""
        translation.activate(request.own_language or of_browser(request) or business.language)
        zone = ZoneInfo(business.time_zone)
        with timezone.override(zone), written_as(business), answering_for(business):
            return self.get_response(request)


class SessionLimitsMiddleware:
    """Sign out whoever has been in too long or was away; the server decides, not the cookie."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request) -> HttpResponse:
        request.session.only_looks = request.method in {"GET", "HEAD"}
        if SESSION_KEY in request.session:
            now_s = timezone.now().timestamp()
            if request.session.get(ON_PHONE) != phone_of_request(request):
                # A session of one phone, shown by another browser.
                logout(request)
            elif why := why_over(request.session, now_s):
                logout(request)
                messages.info(request, why)
            else:
                note_seen(request.session, now_s)
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
            record_refusal(request.user, request.method, "address", name)
            raise Http404
        return self.second_step(request, name)

    def second_step(self, request, name: str) -> HttpResponse | None:
        """Where somebody is led whose password was right and whose code is still wanted."""
        if DEVICE_ID_SESSION_KEY in request.session or name in BEFORE_SECOND_STEP:
            return None
        if request.session.get(SECOND_STEP_ASKED):
            return redirect("workshop:second_step")
        person = request.user
        if person.is_authenticated and must_have_second_step(request.business, person):
            return redirect("workshop:second_step_begin")
        return None


class PlainTextMiddleware:
    """What comes in by an address, a question or a form is text that every paper can carry.

    Signs that nobody can see or type are left out before any view or form reads them. An address
    that holds one, or a number beyond every key, leads nowhere.
    """

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request) -> HttpResponse:
        return self.get_response(request)

    def process_view(self, request, view_func, view_args, view_kwargs):
        for piece in view_kwargs.values():
            if isinstance(piece, int) and piece > LARGEST_WHOLE:
                raise Http404
            if isinstance(piece, str) and plain_text(piece) != piece:
                raise Http404
        request.GET = _plain(request.GET)
        if request.method == "POST":
            request.POST = _plain(request.POST)


def _plain(said: QueryDict) -> QueryDict:
    if all(plain_text(text) == text for pair in said.lists() for text in (pair[0], *pair[1])):
        return said
    plain = QueryDict(mutable=True, encoding=said.encoding)
    for name, texts in said.lists():
        plain.setlist(plain_text(name), [plain_text(text) for text in texts])
    plain._mutable = False
    return plain


# Pages that show a secret: an invitation, a word for a phone, the key of a second step.
SHOWS_A_SECRET = {
    "orders:calendar_address",
    "workshop:choose_password",
    "workshop:person_invite",
    "workshop:phone_pair",
    "workshop:phones",
    "workshop:second_step_begin",
}
PRESSED = ("text/", "application/json", "image/svg+xml")


class CompressPagesMiddleware(GZipMiddleware):
    """Pages go out compressed, but those that show a secret.

    How much a page shrinks can tell what stands in it beside what a visitor typed (BREACH). So a
    page with a secret goes out as it is; on all others tokens of forms are masked anew each time,
    keys of forms are new, and Django adds a random length (its guide, "GZip middleware").
    """

    def process_response(self, request, response) -> HttpResponse:
        match = getattr(request, "resolver_match", None)
        kind = response.get("Content-Type", "")
        if not kind.startswith(PRESSED) or (match and match.view_name in SHOWS_A_SECRET):
            return response
        return super().process_response(request, response)
