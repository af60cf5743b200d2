"""The end of the day: cash in the drawer against the book."""

from decimal import Decimal

from django import forms
from django.contrib import messages
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from orders.models import DrawerCount
from orders.money.forms.money import DayInput
from orders.money.services.drawers import count_drawer, drawers_used, through_drawer
from workshop.form_fields import MoneyBox
from workshop.formats import money
from workshop.views.edit import form_page, refusals_in
from workshop.views.idempotent import idempotent


class DrawerForm(forms.Form):
    drawer = forms.ChoiceField(label=gettext_lazy("Drawer"), required=False)
    on = forms.DateField(label=gettext_lazy("Day"), widget=DayInput)
    float_left = MoneyBox(
        label=gettext_lazy("In the drawer at the start"), required=False, min_value=Decimal(0)
    )
    counted = MoneyBox(label=gettext_lazy("Counted now"), min_value=Decimal(0))
    note = forms.CharField(label=gettext_lazy("Note"), max_length=200, required=False)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        names = drawers_used(timezone.localdate())
        self.fields["drawer"].choices = [(name, name or _("the one drawer")) for name in names]
        self.initial.setdefault("on", timezone.localdate())
        if len(names) == 1:
            self.fields["drawer"].widget = forms.HiddenInput()


@idempotent
def drawer(request):
    """What should be in each drawer today; write down what is."""
    form = DrawerForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        with refusals_in(form):
            count = count_drawer(
                said["drawer"],
                said["counted"],
                person=request.user,
                float_left=said["float_left"] or Decimal(0),
                on=said["on"],
                note=said["note"],
            )
            messages.success(request, _counted(count))
            return redirect("orders:drawer")
    today = timezone.localdate()
    through = [(name, *through_drawer(name, today)) for name in drawers_used(today)]
    context = {
        "form": form,
        "through": [(name, came, paid, came - paid) for name, came, paid in through],
        "counts": DrawerCount.objects.select_related("counted_by")[:20],
        "today": today,
    }
    return form_page(request, "orders/money/drawer.html", context)


def _counted(count: DrawerCount) -> str:
    if not count.difference:
        return _("Counted: %(sum)s, exactly as the book says.") % {"sum": money(count.counted)}
    if count.difference > 0:
        return _("Counted: %(more)s more than the book says. It is written down.") % {
            "more": money(count.difference)
        }
    return _("Counted: %(less)s less than the book says. It is written down.") % {
        "less": money(-count.difference)
    }
