"""People who sign in: the list, the form, the invitation, one's own page."""

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.contrib.auth.forms import PasswordChangeForm
from django.contrib.auth.views import PasswordResetConfirmView
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse, reverse_lazy
from django.utils import translation
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_POST

from workshop.forms import LanguageForm, PersonForm
from workshop.help import money
from workshop.languages import of_browser
from workshop.models import Person, Role
from workshop.services.acts import record_act
from workshop.services.people import invitation_path, keep_person
from workshop.services.second_step import has_second_step, must_have_second_step
from workshop.services.sessions import end_sessions, signed_in_places
from workshop.tables import PersonTable
from workshop.views.edit import edit_page, form_page
from workshop.views.idempotent import idempotent
from workshop.views.lists import ListPage
from workshop.views.second_look import waits_sentence


class PersonList(ListPage):
    queryset = Person.objects.all()
    table_class = PersonTable
    heading = gettext_lazy("People who sign in")
    filterset_fields = ["role", "is_active"]
    add_url_name = "workshop:person_add"
    add_label = gettext_lazy("Add a person")


@idempotent
def edit_person(request, pk=None):
    """Add or change somebody; a new person is led to their invitation."""
    person = get_object_or_404(Person, pk=pk) if pk is not None else None
    form = PersonForm(request.POST or None, instance=person, asked_by=request.user)

    def keep(form: PersonForm) -> Person:
        kept = keep_person(form.save(commit=False), person=request.user)
        if kept.is_active != form.cleaned_data["is_active"]:
            messages.warning(request, waits_sentence())
        return kept

    return edit_page(
        request,
        form,
        heading=str(person) if person else _("New person"),
        done_url=lambda made: (
            reverse("workshop:person_invite", args=[made.pk])
            if person is None
            else reverse("workshop:person_list")
        ),
        save=keep,
        template="workshop/person.html",
        back_url=reverse("workshop:person_list"),
        person=person,
        has_second_step=bool(person) and has_second_step(person),
    )


def invite(request, pk):
    """Show a one-time link, made when asked for, with which somebody chooses a password."""
    person = get_object_or_404(Person, pk=pk, is_active=True)
    link = ""
    if request.method == "POST":
        record_act(request.user, "invite person", person)
        link = request.build_absolute_uri(invitation_path(person))
    return render(request, "workshop/invite.html", {"person": person, "link": link})


class ChoosePassword(PasswordResetConfirmView):
    template_name = "workshop/choose_password.html"
    success_url = reverse_lazy("workshop:sign_in")

    def form_valid(self, form):
        response = super().form_valid(form)
        # Whoever knew the old password is out, wherever they are.
        end_sessions(form.user)
        record_act(form.user, "choose password", form.user)
        messages.success(self.request, _("The password is set. Sign in with it."))
        return response


@idempotent
def own_page(request):
    """One's own name, role and password."""
    form = PasswordChangeForm(request.user, request.POST or None)
    if request.method == "POST" and form.is_valid():
        form.save()
        update_session_auth_hash(request, form.user)
        record_act(request.user, "change own password", request.user)
        messages.success(request, _("The new password holds from now on."))
        return redirect("workshop:own_page")
    return form_page(
        request,
        "workshop/own_page.html",
        {
            "form": form,
            "heading": str(request.user),
            "lead": request.user.get_role_display(),
            "submit_label": _("Change the password"),
            "guides": [*Role.choices[1:], (money.CHAPTER.key, money.CHAPTER.title)]
            if request.user.is_owner
            else [],
            "language_form": LanguageForm(instance=request.user),
            "places": signed_in_places(request.user, request.session.session_key),
            "has_second_step": has_second_step(request.user),
            "must_have_second_step": must_have_second_step(request.business, request.user),
        },
    )


@require_POST
def choose_own_language(request):
    """The language in which one is spoken to, from the next page on."""
    form = LanguageForm(request.POST, instance=Person.objects.get(pk=request.user.pk))
    if form.is_valid():
        person = form.save()
        record_act(person, "choose language", person, after={"language": person.language})
        with translation.override(person.language or of_browser(request) or None):
            messages.success(request, _("This is how the pages speak to you from now on."))
    answer = redirect("workshop:own_page")
    if form.is_valid() and not form.instance.language:
        answer.delete_cookie(settings.LANGUAGE_COOKIE_NAME)
    return answer


@require_POST
@idempotent
def end_own_session(request):
    """Sign oneself out on another device, or on all the others."""
    mark = request.POST.get("mark") or None
    ended = end_sessions(request.user, but=request.session.session_key, mark=mark)
    record_act(request.user, "end own sessions", request.user, after={"ended": ended})
    if ended:
        messages.success(
            request,
            ngettext("%d device is signed out.", "%d devices are signed out.", ended) % ended,
        )
    else:
        messages.info(request, _("Nobody was signed in there any more."))
    return redirect("workshop:own_page")
