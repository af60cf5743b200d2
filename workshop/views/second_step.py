"""The second step of signing in: typing a code, setting it up, doing without it again."""

import django_otp
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST

from workshop.forms import CodeForm
from workshop.middleware import SECOND_STEP_ASKED
from workshop.models import Person
from workshop.services.acts import record_act, record_refusal
from workshop.services.second_step import (
    begin_second_step,
    code_letters,
    code_picture,
    confirm_second_step,
    forget_second_step,
    has_second_step,
    must_have_second_step,
    refusal,
)
from workshop.services.sessions import end_sessions
from workshop.views.edit import form_page

NEXT = "after_second_step"
# The telephone that this session began with.
BEGUN = "telephone_begun"


@sensitive_post_parameters()
def second_step(request) -> HttpResponse:
    """The code after the password; a spare code does as well, once."""
    form = CodeForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        # Each try is counted by the telephone's own row, so it must not be rolled back.
        device = django_otp.match_token(request.user, form.cleaned_data["code"])
        if device is not None:
            request.session.cycle_key()
            django_otp.login(request, device)
            request.session.pop(SECOND_STEP_ASKED, None)
            record_act(request.user, "second step", request.user)
            return redirect(_next_page(request))
        record_refusal(request.user, "second step", "person", str(request.user.pk))
        form.add_error("code", refusal())
    return form_page(request, "workshop/second_step.html", {"form": form})


@sensitive_post_parameters()
def begin(request) -> HttpResponse:
    """Pair a telephone: the picture, the first code, then the spare codes, shown once.

    Whoever has a telephone already types a code of it, or a spare one, first.
    """
    verified = request.user.is_verified()
    if has_second_step(request.user) and not verified:
        request.session[NEXT] = request.path
        return redirect("workshop:second_step")
    begun, device = request.session.get(BEGUN), None
    if request.method == "POST":
        device = begin_second_step(request.user, begun=begun, verified=verified)
        begun = request.session[BEGUN] = device.pk
    form = CodeForm(request.POST if "code" in request.POST else None)
    if form.is_bound and form.is_valid():
        code = form.cleaned_data["code"]
        done = confirm_second_step(request.user, code, begun=begun, verified=verified)
        if done is not None:
            trusted, spare_codes = done
            request.session.cycle_key()
            django_otp.login(request, trusted)
            request.session.pop(SECOND_STEP_ASKED, None)
            request.session.pop(BEGUN, None)
            # Sessions that began before know only the password.
            end_sessions(request.user, but=request.session.session_key)
            return render(request, "workshop/spare_codes.html", {"codes": spare_codes})
        form.add_error("code", refusal())
    context = {
        "form": form,
        "device": device,
        "picture": code_picture(device) if device else "",
        "letters": code_letters(device) if device else "",
        "has_one": has_second_step(request.user),
        "must": must_have_second_step(request.business, request.user),
    }
    status = 422 if form.is_bound else 200
    return render(request, "workshop/second_step_begin.html", context, status=status)


@require_POST
def forget(request) -> HttpResponse:
    """Do without one's own second step; asked only of somebody who has just used it."""
    forget_second_step(request.user, person=request.user)
    request.session.pop(django_otp.DEVICE_ID_SESSION_KEY, None)
    messages.success(request, _("From now on the password alone is asked."))
    return redirect("workshop:own_page")


@require_POST
def forget_for(request, pk: int) -> HttpResponse:
    """The owner takes away the second step of somebody whose telephone is lost."""
    person = get_object_or_404(Person, pk=pk)
    forget_second_step(person, person=request.user)
    end_sessions(person, but=request.session.session_key if person == request.user else None)
    messages.success(
        request, _("%(name)s signs in with the password alone now.") % {"name": person}
    )
    return redirect("workshop:person_change", pk=pk)


def _next_page(request) -> str:
    page = request.session.pop(NEXT, "")
    safe = url_has_allowed_host_and_scheme(page, {request.get_host()}, request.is_secure())
    return page if page and safe else "orders:home"
