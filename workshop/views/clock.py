"""What day it is: asked when the clock stands far ahead of the book."""

from django.contrib import messages
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from workshop.services.clock import clock_doubt, confirm_day
from workshop.views.idempotent import idempotent


@idempotent
def clock(request):
    """The day by the clock and the last one by the book; one tap says that the clock is right."""
    if request.method == "POST":
        confirm_day(person=request.user)
        messages.success(request, _("Good: papers are numbered by that day."))
        return redirect("orders:home")
    context = {"doubt": clock_doubt(), "now": timezone.localtime()}
    return render(request, "workshop/clock.html", context)
