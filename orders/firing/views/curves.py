"""The temperature curve of a load: pasted or from a file, drawn and judged."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orders.firing.forms.curves import CELSIUS, CurveForm, as_text, text_of_file
from orders.firing.queries.load_curve import curve_of
from orders.firing.queries.trays import trays_of
from orders.firing.services.curves import drop_curve, write_curve
from orders.firing.views.loads import get_load
from workshop import formats
from workshop.doors import may
from workshop.views.edit import add_error, refusals_in
from workshop.views.idempotent import idempotent


@idempotent
def curve(request, number: int) -> HttpResponse:
    """The curve kept with the load; writing again puts the new readings in its place."""
    load = get_load(number)
    form = _form(request)
    if request.method == "POST":
        if request.POST.get("do") == "drop":
            drop_curve(load, person=request.user)
            messages.success(request, _("Load %(n)s has no curve any more.") % {"n": number})
            return redirect("orders:load_curve", number)
        if form.is_valid():
            with refusals_in(form):
                kept = write_curve(load, form.cleaned_data["readings"], person=request.user)
                _tell(request, number, len(kept.readings))
                return redirect("orders:load", number)
    told = curve_of(load, trays_of(load))
    if told is not None and not form.is_bound:
        form = CurveForm(initial={"readings": as_text(told.curve.readings), "degrees": CELSIUS})
    context = {
        "load": load,
        "form": form,
        "curve": told,
        "may_write": may(request, "orders:load_curve", "POST"),
    }
    status = 422 if form.is_bound else 200
    return render(request, "orders/firing/curve.html", context, status=status)


def _form(request) -> CurveForm:
    """What was sent; the text of a file stands in the box, where it can be put right."""
    if request.method != "POST":
        return CurveForm()
    sent = request.FILES.get("file")
    if sent is None:
        return CurveForm(request.POST)
    data = request.POST.copy()
    try:
        data["readings"] = text_of_file(sent)
    except ValidationError as error:
        form = CurveForm(data)
        form.full_clean()
        form.errors.pop("readings", None)
        add_error(form, error)
        return form
    return CurveForm(data)


def _tell(request, number: int, count: int) -> None:
    messages.success(
        request,
        ngettext(
            "%(count)s reading is kept with load %(n)s.",
            "%(count)s readings are kept with load %(n)s.",
            count,
        )
        % {"count": formats.count(count), "n": number},
    )
