"""What two people look at: what waits, and what was answered."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.html import format_html
from django.utils.translation import gettext as _

from workshop.models import SecondLook
from workshop.services.second_look import answer
from workshop.typed import whole_number
from workshop.views.idempotent import idempotent

SHOWN = 30


@idempotent
def second_look_list(request):
    """What waits for another person, with yes and no beside it (2 queries)."""
    if request.method == "POST":
        agreed = request.POST.get("agreed") == "yes"
        try:
            look = answer(
                whole_number(request.POST.get("look")) or 0, agreed=agreed, person=request.user
            )
        except ValidationError as error:
            messages.error(request, " ".join(error.messages))
        else:
            words = {"what": look.told}
            messages.success(
                request,
                _("Done: %(what)s.") % words if agreed else _("Not done: %(what)s.") % words,
            )
        return redirect("workshop:second_look_list")
    looks = SecondLook.objects.select_related("asked_by", "answered_by")
    context = {
        "waiting": looks.filter(answered_by__isnull=True),
        "answered": looks.filter(answered_by__isnull=False)[:SHOWN],
    }
    return render(request, "workshop/second_look_list.html", context)


def waits_sentence() -> str:
    """What is said to whoever asked for something that another has to look at."""
    return format_html(
        '{} <a href="{}">{}</a>',
        _("This is not done yet: another person has to agree."),
        reverse("workshop:second_look_list"),
        _("What two people look at"),
    )
