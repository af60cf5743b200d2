"""Phones: let in by a word, come back by a PIN, sent away by a tap."""

import os
import signal
import threading

import django_otp
from django.conf import settings
from django.contrib import messages
from django.contrib.auth import login
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme, urlencode
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST

from workshop.drawing.codes import code_picture_of
from workshop.forms import BackForm, PhoneOfForm, PinForm, WordForm
from workshop.phone_door.folder import Door, door_here, is_open, set_open
from workshop.phone_door.middleware import only_by_phone, remember_phone
from workshop.services.acts import record_act
from workshop.services.phones import (
    IN_FULL,
    end_phone,
    new_word,
    pair,
    people_with_pin,
    phones_of,
    set_pin,
    sign_in_by_pin,
    tries_left,
)
from workshop.services.second_step import second_step_of
from workshop.views.edit import form_page, refusals_in

BACKEND = "django.contrib.auth.backends.ModelBackend"


def phones(request) -> HttpResponse:
    """Every phone that is let in, and at the desk a word for the next one."""
    form = PhoneOfForm(request.POST or None, asked_by=request.user)
    door, word = _door(), ""
    if request.method == "POST" and door and not request.by_phone and form.is_valid():
        word = new_word(form.cleaned_data["person"], person=request.user)
    context = {
        "form": form,
        "phones": phones_of(request.user),
        "door": door,
        "word": word,
        "pairing": _pairing(door, word) if door and word else [],
        "certificate_code": code_picture_of(door.certificate_address) if door and word else "",
        "desk": settings.DESK,
        "may_open": settings.OPENS_AGAIN and request.user.is_owner and not request.by_phone,
    }
    return render(request, "workshop/phones/phones.html", context)


def _door() -> Door | None:
    return door_here(settings.PHONES_DIR, settings.PHONES) if settings.PHONES else None


def _pairing(door: Door, word: str) -> list[tuple[str, str]]:
    """(address, its code) by the name and by the first address, the word within."""
    shown = [door.address(place) + reverse("workshop:phone_pair") for place in door.places[:2]]
    return [(each, code_picture_of(f"{each}?{urlencode({'word': word})}")) for each in shown]


@require_POST
def let_in(request) -> HttpResponse:
    """Open or shut the door for phones; the desk closes for a moment and opens again."""
    if not settings.DESK or not settings.OPENS_AGAIN or request.by_phone:
        messages.error(request, _("The door is opened and shut at the desk itself."))
        return redirect("workshop:phones")
    wanted = not is_open(settings.PHONES_DIR)
    set_open(settings.PHONES_DIR, wanted)
    record_act(request.user, "open to phones" if wanted else "close to phones", request.user)
    answer = render(request, "workshop/phones/switched.html", {"open": wanted})
    threading.Timer(1, os.kill, (os.getppid(), signal.SIGTERM)).start()
    return answer


@require_POST
def end(request, pk: int) -> HttpResponse:
    """A phone that is lost or given away is let in no more."""
    phone = get_object_or_404(phones_of(request.user), pk=pk)
    end_phone(phone, person=request.user)
    messages.success(request, _("%(phone)s is let in no more.") % {"phone": phone})
    return redirect("workshop:phones")


@only_by_phone
def pair_here(request) -> HttpResponse:
    """On the phone itself: show the desk's word once, and be known from then on."""
    if request.phone is not None:
        return redirect("orders:home")
    form = WordForm(request.POST or None, initial={"word": request.GET.get("word", "")})
    if request.method == "POST" and form.is_valid():
        agent = request.META.get("HTTP_USER_AGENT", "")
        done = pair(form.cleaned_data["word"], user_agent=agent)
        if done is not None:
            phone, secret = done
            messages.success(
                request,
                _("This phone is let in for %(name)s. Sign in with name and password this once.")
                % {"name": phone.person},
            )
            response = redirect("workshop:sign_in")
            remember_phone(response, secret)
            return response
        form.add_error(
            "word", _("That word is no more, or was never one. Let the desk show a new one.")
        )
    return form_page(request, "workshop/phones/pair.html", {"form": form})


@only_by_phone
@sensitive_post_parameters()
def come_back(request) -> HttpResponse:
    """By name and PIN, for those who signed in on this phone in full before."""
    if request.phone is None:
        return redirect("workshop:phone_pair")
    people = people_with_pin(request.phone)
    if not people:
        return redirect(f"{reverse('workshop:sign_in')}?{urlencode({'full': 1})}")
    form = BackForm(request.POST or None, people=people)
    if request.method == "POST" and form.is_valid():
        person = form.cleaned_data["person"]
        if sign_in_by_pin(request.phone, person, form.cleaned_data["pin"]):
            login(request, person, backend=BACKEND)
            if device := second_step_of(person):
                django_otp.login(request, device)
            return redirect(_next_page(request))
        left = tries_left(request.phone)
        if not left:
            # The pairing has ended; the next page is that of a phone that nobody knows.
            return redirect("workshop:phone_pair")
        form.add_error("pin", _wrong_pin(left))
    context = {"form": form, "next": request.GET.get("next") or request.POST.get("next", "")}
    return form_page(request, "workshop/phones/back.html", context)


def _wrong_pin(left: int) -> str:
    return ngettext(
        "That is not the PIN. After one more wrong one this phone is let in no more.",
        "That is not the PIN, or the password is another since. "
        "After %d more wrong ones this phone is let in no more.",
        left,
    ) % ({} if left == 1 else left)


@only_by_phone
@sensitive_post_parameters()
def choose_pin(request) -> HttpResponse:
    """A PIN for this phone, after a sign-in with the password."""
    if not request.session.get(IN_FULL):
        messages.info(
            request, _("Sign out and in again with the password first, then choose the PIN.")
        )
        return redirect("workshop:own_page")
    form = PinForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            set_pin(request.phone, request.user, form.cleaned_data["pin"])
            messages.success(request, _("From now on this PIN lets you in on this phone."))
            return redirect("orders:home")
    return form_page(
        request,
        "pages/form.html",
        {
            "form": form,
            "heading": _("A PIN for this phone"),
            "lead": _(
                "With it you come back on this phone without the password. It is worth nothing on "
                "any other, and five wrong ones in a row end the pairing."
            ),
            "submit_label": _("Keep this PIN"),
            "back_url": reverse("workshop:own_page"),
        },
    )


def _next_page(request) -> str:
    page = request.POST.get("next", "")
    safe = url_has_allowed_host_and_scheme(page, {request.get_host()}, request.is_secure())
    return page if page and safe else reverse("orders:home")
