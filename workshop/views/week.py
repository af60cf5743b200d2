"""Many facts on one page: the hours of a week, the usual steps of the work."""

from django.contrib import messages
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from workshop.forms.work import USUAL_WEEK, UsualRatesForm, WeekForm, week_of, week_rows
from workshop.models import LabourRate, Weekday, WorkingHours
from workshop.services.place import begin_rates, keep_week
from workshop.views.edit import edit_page, form_page, lead_on
from workshop.views.idempotent import idempotent

MOST_STRETCHES = 2  # more than morning and afternoon are changed one by one


@idempotent
def hours_week(request):
    """The working hours of the whole week: days that have the same hours stand together."""
    there = week_of(WorkingHours.objects.all())
    odd = [day for day, stretches in there.items() if len(stretches) > MOST_STRETCHES]
    shown = {day: stretches for day, stretches in there.items() if day not in odd}
    initial = week_rows(shown if there else USUAL_WEEK)
    week = WeekForm(request.POST if request.method == "POST" else None, initial=initial)
    for form in week.forms:
        form.fields["days"].choices = [row for row in Weekday.choices if row[0] not in odd]
    if request.method == "POST" and week.is_valid():
        days = [day for day in Weekday if day not in odd]
        keep_week(week.week(), days=days, person=request.user)
        messages.success(request, _("The week is saved."))
        return redirect(lead_on(request, reverse("workshop:hours_list")))
    return form_page(
        request,
        "workshop/week.html",
        {
            "week": week,
            "formsets": [week],
            "odd": [Weekday(day).label for day in odd],
            "usual": not there,
            "has_errors": week.is_bound,
        },
    )


@idempotent
def usual_rates(request):
    """The usual steps with their minutes, and what an hour is paid."""
    there = set(LabourRate.objects.values_list("step", "kind"))
    form = UsualRatesForm(request.POST if request.method == "POST" else None, there=there)
    return edit_page(
        request,
        form,
        heading=_("The usual steps"),
        lead=_(
            "Minutes are common practice until the bench has timed itself. Untick what is not "
            "done here; what is done otherwise is added to the labour rates one by one."
        ),
        template="workshop/usual_rates.html",
        save=lambda form: begin_rates(form.rates(timezone.localdate()), person=request.user),
        saved=_("The steps are saved."),
        done_url=reverse("workshop:rate_list"),
        back_url=reverse("workshop:rate_list"),
    )
