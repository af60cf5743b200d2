"""Photographs of things: taken, looked at, put on papers, taken away."""

import json
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from workshop.access import may_open
from workshop.forms import PhotoForm
from workshop.models import Photo
from workshop.phone_door.middleware import only_by_phone
from workshop.photos import KINDS, Pictured
from workshop.services.photos import add_photo, show_on_papers, take_away
from workshop.views.edit import edit_page
from workshop.views.idempotent import idempotent


def _pictured(request, kind: str, key: int) -> tuple[Pictured, Any]:
    """A thing whose page this person may open; anything else is a missing page (1 query)."""
    found = KINDS.get(kind)
    if found is None or may_open(found.page, "GET", request.user) != "yes":
        raise Http404
    thing = found.get(key)
    if thing is None:
        raise Http404
    return found, thing


def photo_and_thing(request, pk: int, *without: str) -> tuple[Photo, Pictured, Any]:
    """A photograph and what it shows, for whoever may open that page (2 queries)."""
    photo = Photo.objects.filter(pk=pk).defer(*without).first()
    if photo is None:
        raise Http404
    return photo, *_pictured(request, photo.kind, photo.subject)


@idempotent
def photo_add(request, pictured: str, pk: int) -> HttpResponse:
    """Keep a photograph with a thing: its kind, and the key in the address of its page."""
    kind, thing = _pictured(request, pictured, pk)

    def save(form) -> Photo:
        said = form.cleaned_data
        return add_photo(pictured, thing, pk, said["file"], person=request.user, note=said["note"])

    return edit_page(
        request,
        PhotoForm(request.POST or None, request.FILES or None),
        heading=kind.heading,
        lead=str(thing),
        done_url=kind.url(pk),
        save=save,
        template="workshop/phones/photo.html",
        submit_label=_("Keep the photograph"),
        saved=_("The photograph is kept."),
        back_url=kind.url(pk),
    )


@require_GET
@only_by_phone
def photo_phone(request) -> HttpResponse:
    """The page that a phone shows in place of `photo_add` for any thing, without a signal."""
    context = {
        "form": PhotoForm(),
        "heading": _("Take a photograph"),
        "lead": " ",
        "submit_label": _("Keep the photograph"),
        "pictured": json.dumps({kind: str(each.heading) for kind, each in KINDS.items()}),
    }
    return render(request, "workshop/phones/photo.html", context)


@require_GET
def photo(request, pk: int) -> HttpResponse:
    """The picture itself."""
    found, *_rest = photo_and_thing(request, pk, "small")
    return _picture(found.picture)


@require_GET
def photo_small(request, pk: int) -> HttpResponse:
    """The same, as a page shows it among others."""
    found, *_rest = photo_and_thing(request, pk, "picture")
    return _picture(found.small)


def _picture(data: bytes) -> HttpResponse:
    # Kept by nobody's browser: the next to sign in there may not open the page of the thing.
    return HttpResponse(
        bytes(data), content_type="image/jpeg", headers={"Cache-Control": "private, no-store"}
    )


@require_POST
def photo_change(request, pk: int) -> HttpResponse:
    """Put one on papers or off them (the owner), or take it away (the owner, or who took it)."""
    found, pictured, thing = photo_and_thing(request, pk, "picture", "small")
    act = request.POST.get("do")
    if act == "away" and (request.user.is_owner or found.taken_by_id == request.user.pk):
        take_away(found, thing, person=request.user)
        messages.success(request, _("The photograph is taken away."))
    elif act in {"show", "hide"} and pictured.on_papers and request.user.is_owner:
        show_on_papers(found, thing, person=request.user, shown=act == "show")
        messages.success(
            request,
            _("It stands on the price list and order slips.")
            if act == "show"
            else _("It stands on no paper any more."),
        )
    else:
        raise Http404
    return redirect(pictured.url(found.subject))
