"""The page that every plain form is: show it, keep what was typed, save it once."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.forms import BaseForm
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import urlencode
from django.utils.translation import gettext as _

from workshop.doors import may
from workshop.services.plain import save_plain
from workshop.views.stale import check_not_stale


def edit_page(
    request,
    form: BaseForm,
    *,
    heading: Any,
    done_url: str | Callable[[Any], str],
    lead: Any = "",
    room: str = "",
    template: str = "pages/form.html",
    act: str = "save",
    save: Callable[[BaseForm], Any] | None = None,
    submit_label: Any = None,
    saved: Any = None,
    **context: Any,
) -> HttpResponse:
    """Show a bound or empty form; when it was sent and is right, save it and go to `done_url`.

    `save(form)` returns the thing saved; a ValidationError it raises is shown in the form, and
    what was typed stays. Wrap the view in `idempotent` so that a second click changes nothing.
    """
    if request.method == "POST" and ready_to_save(form):
        with refusals_in(form):
            thing = save(form) if save else save_plain(form, act=act, person=request.user)
            messages.success(request, saved or _("%(thing)s is saved.") % {"thing": thing})
            return redirect(lead_on(request, done_url(thing) if callable(done_url) else done_url))
    return form_page(
        request,
        template,
        {
            "form": form,
            "heading": heading,
            "lead": lead,
            "room": room,
            "submit_label": submit_label or _("Save"),
            **context,
        },
    )


def form_page(request, template: str, context: dict[str, Any]) -> HttpResponse:
    """A page with its form: as it is opened, or again (422) when what was sent was not taken."""
    return render(request, template, context, status=422 if request.method == "POST" else 200)


@contextmanager
def refusals_in(form: BaseForm) -> Iterator[None]:
    """What a service refuses within is said in the form; the page then comes back as typed."""
    try:
        yield
    except ValidationError as error:
        add_error(form, error)


def lead_on(request, url: str) -> str:
    """Where a page leads when it is done: among the first steps to the next one, else to `url`."""
    if "first" not in request.GET or not may(request, "orders:first_next"):
        return url
    here = urlencode({"after": request.resolver_match.view_name})
    return f"{reverse('orders:first_next')}?{here}"


def leave_to_owner(form: BaseForm, person: Any) -> BaseForm:
    """Take the boxes out that are the owner's alone (`OWNERS` of the form's class)."""
    if not person.is_owner:
        for name in getattr(form, "OWNERS", ()):
            form.fields.pop(name, None)
    return form


def ready_to_save(form: BaseForm, *beside: Any) -> bool:
    """Whether every box is right, here and beside, and nothing there has changed meanwhile.

    Asked before anything that was there is changed by a form; `beside` are further forms or
    formsets of the same page.
    """
    # A list, so that every form is checked and can show its own sentences.
    return all([each.is_valid() for each in (form, *beside)]) and check_not_stale(form)  # noqa: C419


def add_error(form: BaseForm, error: ValidationError) -> None:
    """Put a service's refusal where it belongs: at its field if the form has it, else on top."""
    if hasattr(error, "error_dict"):
        for field, errors in error.error_dict.items():
            form.add_error(field if field in form.fields else None, errors)
    else:
        form.add_error(None, error)
