"""The owner's page of copies: make one, check it, take it away, bring it back."""

from datetime import datetime
from pathlib import Path

from django import forms
from django.conf import settings
from django.contrib import messages
from django.http import FileResponse, Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from workshop.services.acts import record_refusal
from workshop.services.copies import NAME, back_up, check_copy, kept_copies
from workshop.services.copy_file import Copy, CopyRefused
from workshop.services.restoring import put_back
from workshop.views.edit import form_page


class BringBackForm(forms.Form):
    """The word that shows that somebody means it."""

    sure = forms.BooleanField(
        label=gettext_lazy("Replace today’s book by this copy"),
        error_messages={"required": gettext_lazy("Tick the box if you mean it.")},
    )


def copy_list(request) -> HttpResponse:
    """Every copy kept here; POST makes another."""
    error = ""
    if request.method == "POST":
        try:
            made = back_up(
                settings.COPIES_DIR,
                keep=settings.COPIES_KEPT,
                phrase=settings.COPY_PASSPHRASE,
                person=request.user,
            )
        except CopyRefused as refused:
            error = str(refused)
        else:
            messages.success(request, _("The copy %(name)s is made.") % {"name": made.name})
            return redirect("workshop:copy_list")
    context = {
        "copies": kept_copies(settings.COPIES_DIR),
        "kept": settings.COPIES_KEPT,
        "locks": bool(settings.COPY_PASSPHRASE),
        "second": bool(settings.SECOND_PLACE),
        "error": error,
        "has_errors": bool(error),
    }
    return render(request, "workshop/copies.html", context, status=422 if error else 200)


@require_safe
def copy_file(request, name: str) -> FileResponse:
    """One copy, to be carried off to another place."""
    return FileResponse(
        _path_of(name).open("rb"),
        as_attachment=True,
        filename=name,
        content_type="application/octet-stream",
    )


def copy_check(request, name: str) -> HttpResponse:
    """Read one copy from end to end and say what is in it; POST brings it back."""
    path = _path_of(name)
    form = BringBackForm(request.POST or None)
    copy, error = None, ""
    try:
        if request.method == "POST" and form.is_valid():
            put_back(path, phrase=settings.COPY_PASSPHRASE, person=request.user)
            return redirect("workshop:sign_in")
        copy = check_copy(path, phrase=settings.COPY_PASSPHRASE)
    except CopyRefused as refused:
        error = str(refused)
        record_refusal(request.user, "check copy", "copy", name)
    context = {"name": name, "copy": copy, "error": error, "form": form}
    return form_page(
        request,
        "workshop/copy.html",
        context | _told(copy),
    )


def _told(copy: Copy | None) -> dict:
    """When a copy was made and how much it holds, for reading."""
    if copy is None:
        return {"rows": 0, "made_at": None}
    return {"rows": sum(copy.rows.values()), "made_at": datetime.fromisoformat(copy.made_at)}


def _path_of(name: str) -> Path:
    if not NAME.fullmatch(name):
        raise Http404
    path = settings.COPIES_DIR / name
    if not path.is_file():
        raise Http404
    return path
