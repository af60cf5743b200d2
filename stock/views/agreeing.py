"""Will these two agree? What was tested together, and a new test written down."""

from django.db.models import Q
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.utils.translation import gettext as _

from stock.agreement import Glass, agreement, tests_between
from stock.forms import GlassTestForm, TwoGlassesForm
from stock.models import GlassTest
from stock.services.apart import write_test
from workshop.doors import may
from workshop.views.edit import edit_page
from workshop.views.idempotent import idempotent


def agree(request):
    """Two glasses asked about, what is known of them, and every test there is."""
    form = TwoGlassesForm(request.GET if "one" in request.GET else None)
    asked = form.is_bound and form.is_valid()
    tests = GlassTest.objects.select_related("one", "other", "person")
    context = {"form": form, "may_write": may(request, "stock:glass_test_add", "POST")}
    if asked:
        one, other = form.pair()
        advice = agreement(one, other, tests_between([one.colour, other.colour]))
        context |= {"advice": advice, "sentence": advice.said(_)}
        context["write_query"] = urlencode(_asked(form))
        tests = tests.filter(_between(one, other))
    context["tests"] = tests[:60]
    return render(request, "stock/agree.html", context)


def _asked(form: TwoGlassesForm) -> dict[str, str]:
    return {name: form.cleaned_data[name] for name in ("one", "other")}


def _between(one: Glass, other: Glass) -> Q:
    there = Q(one=one.colour, other=other.colour)
    return there | Q(one=other.colour, other=one.colour)


@idempotent
def write(request):
    """A test piece of two glasses was looked at."""
    form = GlassTestForm(
        request.POST or None,
        initial={
            "one": request.GET.get("one"),
            "other": request.GET.get("other"),
            "tested_on": timezone.localdate(),
        },
    )

    return edit_page(
        request,
        form,
        heading=_("A test of two glasses"),
        lead=_(
            "Fuse a chip of each side by side, cool them as you cool beads, and look the next day: "
            "a crack along the joint, or light across it under crossed films, and they do not "
            "agree."
        ),
        submit_label=_("Write it down"),
        save=lambda form: write_test(form.test(), person=request.user),
        saved=_("The test is written down."),
        done_url=lambda test: reverse("stock:glass_agree", query=_asked(form)),
        back_url=reverse("stock:glass_agree"),
    )
