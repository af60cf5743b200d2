"""Paying the hands: who has unpaid work, one hand's pay, the slip."""

from decimal import Decimal

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db.models import Count, Max, Min, Sum
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET

from orders.models import PayFloor, PaySlip
from orders.money.forms.money import DayInput
from orders.money.papers.files import payout_pdf, slip_pdf
from orders.money.services.pay import pay_due, pay_hand
from orders.papers.respond import print_out
from stock.models import Payout
from workshop.form_fields import MoneyBox
from workshop.formats import money
from workshop.models import Person
from workshop.services.acts import record_act
from workshop.views.edit import add_error, form_page
from workshop.views.idempotent import idempotent


class PayForm(forms.Form):
    first_day = forms.DateField(label=gettext_lazy("From"), widget=DayInput)
    last_day = forms.DateField(label=gettext_lazy("To"), widget=DayInput)
    in_cash = forms.BooleanField(
        label=gettext_lazy("in cash, out of the drawer"), required=False, initial=True
    )
    drawer = forms.CharField(label=gettext_lazy("Drawer"), max_length=40, required=False)

    def clean(self):
        said = super().clean()
        first, last = said.get("first_day"), said.get("last_day")
        if first and last and first > last:
            raise forms.ValidationError(
                _("The first day lies after the last; write them the other way round.")
            )
        return said


class FloorForm(forms.ModelForm):
    hourly = MoneyBox(label=gettext_lazy("At least, an hour"), min_value=Decimal(0))

    class Meta:
        model = PayFloor
        fields = ("hand", "hourly", "valid_from")
        widgets = {"valid_from": DayInput()}


@idempotent
def pay(request):
    """Hands with unpaid work; slips written before; the agreed least."""
    form = FloorForm(request.POST or None, initial={"valid_from": timezone.localdate()})
    if request.method == "POST" and form.is_valid():
        floor = form.save()
        record_act(request.user, "agree least pay", floor, after={"hourly": str(floor.hourly)})
        messages.success(request, _("The least pay is written down."))
        return redirect("orders:pay")
    context = {
        "hands": Person.objects.filter(tickets__paid=False).annotate(
            unpaid=Count("tickets"),
            minutes=Sum("tickets__minutes"),
            since=Min("tickets__on"),
            until=Max("tickets__on"),
        ),
        "slips": PaySlip.objects.select_related("hand").defer("content")[:20],
        "floors": PayFloor.objects.select_related("hand")[:10],
        "form": form,
    }
    return form_page(request, "orders/money/pay.html", context)


@idempotent
def pay_one(request, pk):
    """What one hand is owed for some days, then pay it."""
    hand = get_object_or_404(Person, pk=pk)
    days = hand.tickets.filter(paid=False).aggregate(since=Min("on"), until=Max("on"))
    today = timezone.localdate()
    initial = {"first_day": days["since"] or today, "last_day": days["until"] or today}
    form = PayForm(request.POST or request.GET or None, initial=initial)
    due, problem = None, ""
    said = form.cleaned_data if form.is_bound and form.is_valid() else initial
    try:
        if request.method == "POST" and form.is_valid():
            slip = pay_hand(
                hand,
                said["first_day"],
                said["last_day"],
                person=request.user,
                in_cash=said["in_cash"],
                drawer=said["drawer"],
            )
            messages.success(
                request,
                _("%(name)s is paid %(sum)s.") % {"name": hand, "sum": money(slip.total)},
            )
            return redirect("orders:pay_slip", slip.pk)
        due = pay_due(hand, said["first_day"], said["last_day"])
    except ValidationError as error:
        problem = " ".join(error.messages)
        if request.method == "POST":
            add_error(form, error)
    context = {"hand": hand, "form": form, "due": due, "problem": problem}
    return form_page(request, "orders/money/pay_one.html", context)


@require_GET
def pay_slip(request, pk):
    """One slip as it was written."""
    slip = get_object_or_404(PaySlip.objects.select_related("hand"), pk=pk)
    return render(request, "orders/money/pay_slip.html", {"slip": slip})


@require_GET
def pay_slip_pdf(request, pk):
    """The slip on paper, for the hand."""
    slip = get_object_or_404(PaySlip, pk=pk)
    return _kept(request, slip_pdf, slip)


@require_GET
def collector_slip_pdf(request, pk):
    """What a collector was paid, on paper."""
    return _kept(request, payout_pdf, get_object_or_404(Payout, pk=pk))


def _kept(request, print_slip, slip):
    return print_out(request, lambda boxes: print_slip(slip, boxes=boxes), slip.number)
