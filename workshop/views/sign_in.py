"""Coming in and going out."""

import logging
from datetime import timedelta

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import views as auth_views
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone, translation
from django.utils.translation import gettext as _

from workshop.doors import open_to
from workshop.forms import SignInForm
from workshop.languages import CODES, NAMES, keep_in_browser
from workshop.middleware import SECOND_STEP_ASKED
from workshop.models import AuditEntry, Person
from workshop.services.acts import record_act, record_refusal
from workshop.services.clock import clock_doubt, runs_behind
from workshop.services.phones import IN_FULL, people_with_pin
from workshop.services.second_step import has_second_step, second_step_news
from workshop.sign_in_limits import client_address, remember_browser

log = logging.getLogger("workshop.sign_in")


# Wrong passwords of names that are nobody's fill no disk; the machine's own log has them all.
UNKNOWN_WRITTEN, WRITTEN_WITHIN = 100, timedelta(minutes=15)


class SignIn(auth_views.LoginView):
    template_name = "workshop/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def dispatch(self, request, *args, **kwargs):
        """In the language that was chosen on this page, which the browser then remembers."""
        self.chosen = (request.POST or request.GET).get("language", "")
        if self.chosen not in CODES:
            self.chosen = ""
            return super().dispatch(request, *args, **kwargs)
        translation.activate(self.chosen)
        response = super().dispatch(request, *args, **kwargs)
        keep_in_browser(response, self.chosen)
        return response

    def get_context_data(self, **kwargs):
        asked = self.request.GET.copy()
        offered = []
        for code, name in NAMES:
            asked["language"] = code
            offered.append((code, name, f"?{asked.urlencode()}"))
        return super().get_context_data(**kwargs) | {"languages": offered, "chosen": self.chosen}

    def get(self, request, *args, **kwargs):
        """On a phone that knows somebody's PIN, the shorter way first."""
        if request.phone and "full" not in request.GET and people_with_pin(request.phone):
            return redirect(f"{reverse('workshop:phone_back')}?{request.GET.urlencode()}")
        return super().get(request, *args, **kwargs)

    def form_valid(self, form):
        last_time, runs_behind_before = form.get_user().last_login, runs_behind()
        response = super().form_valid(form)
        person = self.request.user
        if self.chosen:
            Person.objects.filter(pk=person.pk).exclude(language=self.chosen).update(
                language=self.chosen
            )
        self.request.session[IN_FULL] = True
        for news in second_step_news(person, last_time):
            messages.warning(self.request, news)
        remember_browser(self.request, response, person.username)
        if has_second_step(person):
            self.request.session[SECOND_STEP_ASKED] = True
            self.request.session["after_second_step"] = response.url
        record_act(person, "sign in", person, after={"address": client_address(self.request)})
        if runs_behind_before:
            self._warn_of_the_clock()
        if clock_doubt() and open_to(person, "workshop:clock"):
            self.request.session["after_second_step"] = reverse("workshop:clock")
            return redirect("workshop:clock")
        return response

    def form_invalid(self, form):
        typed = form.data.get("username", "")
        # What was typed is written down only if it names somebody: people type passwords there.
        person = Person.objects.filter(username=typed).first() if "\0" not in typed else None
        log.warning(
            "sign-in refused for person %s from %s",
            person.pk if person else "unknown",
            client_address(self.request),
        )
        self._write_down(person)
        response = super().form_invalid(form)
        response.status_code = 422
        return response

    def _write_down(self, person: Person | None) -> None:
        """In the log of acts, so many of each: trying on while shut out fills no disk."""
        ref = str(person.pk) if person else "unknown"
        lately = AuditEntry.objects.filter(at__gt=timezone.now() - WRITTEN_WITHIN, subject_ref=ref)
        written = lately.filter(act="sign in", refused=True).count()
        if written < (2 * settings.AXES_FAILURE_LIMIT if person else UNKNOWN_WRITTEN):
            record_refusal(person, "sign in", "person", ref)

    def _warn_of_the_clock(self) -> None:
        """The log is in order of time: a last line still to come means the clock went back."""
        messages.warning(
            self.request,
            _(
                "This computer’s clock stands earlier than the last thing written in the book. "
                "Put it right before you go on, or days and dates will be wrong. If it is right "
                "now, it ran ahead before."
            ),
        )


class SignOut(auth_views.LogoutView):
    def post(self, request, *args, **kwargs):
        if request.user.is_authenticated:
            record_act(request.user, "sign out", request.user)
        return super().post(request, *args, **kwargs)


sign_in = SignIn.as_view()
sign_out = SignOut.as_view()
