"""What a paired phone needs for the hours without a signal: the worker between it and the desk."""

import json
import time
from pathlib import Path

from django.http import HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import render
from django.templatetags.static import static
from django.urls import reverse

from workshop import phone_door
from workshop.bundles import HERE
from workshop.phone_door.middleware import only_by_phone

WORKER = (HERE / "js" / "phone_store.js", Path(phone_door.__file__).with_name("service_worker.js"))


@only_by_phone
def worker(request) -> HttpResponse:
    """The service worker; the browser asks for a newer one at each visit."""
    text = "\n".join(f"(() => {{\n{each.read_text(encoding='utf-8')}\n}})();" for each in WORKER)
    answer = HttpResponse(text, content_type="text/javascript; charset=utf-8")
    # It stands between the phone and every page, not only those beside it.
    answer["Service-Worker-Allowed"] = "/"
    answer["Cache-Control"] = "no-cache"
    return answer


@only_by_phone
def manifest(request) -> HttpResponse:
    """By which a phone puts the workshop among its apps (W3C Web Application Manifest)."""
    said = {
        "name": request.business.name,
        "short_name": request.business.name[:12],
        "start_url": reverse("orders:home"),
        "scope": "/",
        "display": "standalone",
        "background_color": "#f7f2e8",
        "theme_color": "#f7f2e8",
        "icons": [
            {"src": static("workshop/bead.svg"), "sizes": "any", "type": "image/svg+xml"},
        ],
    }
    return HttpResponse(json.dumps(said), content_type="application/manifest+json")


@only_by_phone
def token(request) -> HttpResponse:
    """Whether the desk answers, to whom, and the token with which forms are sent."""
    return JsonResponse(
        {
            "token": get_token(request),
            "person": str(request.user.pk),
            # By which the phone corrects hours of a clock of its own that is wrong.
            "now": round(time.time() * 1000),
        }
    )


@only_by_phone
def waiting(request) -> HttpResponse:
    """What this phone wrote down and has not sent; the phone itself fills the list."""
    return render(request, "workshop/phones/waiting.html", {})
