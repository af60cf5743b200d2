"""Putting stock elsewhere within the walls, and writing down what was here before the book."""

from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from stock.forms.moving import MoveForm, OpeningForm
from stock.models import SHELVES, Balance
from stock.services.moves import say_quantity
from stock.services.moving import move_stock, open_stock
from workshop.views.edit import edit_page, leave_to_owner
from workshop.views.idempotent import idempotent


@idempotent
def move(request, pk):
    """Part of what lies in one place goes to another of its kind, a tray or a shelf."""
    balance = get_object_or_404(
        Balance.objects.at(*SHELVES).select_related("item__batch", "place"), pk=pk
    )
    form = MoveForm(request.POST or None, balance=balance)
    batch = balance.item.batch
    back = reverse("stock:batch", args=[batch.pk]) if batch else reverse("stock:count_list")
    return edit_page(
        request,
        form,
        heading=_("Move %(item)s") % {"item": balance.item},
        lead=_("%(there)s free at %(place)s.")
        % {
            "there": say_quantity(balance.item, balance.free_quantity),
            "place": balance.place,
        },
        submit_label=_("Move it"),
        saved=_("Moved."),
        save=lambda form: move_stock(
            balance, form.cleaned_data["place"], form.quantity(), person=request.user
        ),
        done_url=back,
        back_url=back,
    )


@idempotent
def opening(request):
    """What lay on the shelves before the book began, one thing at a time."""
    form = OpeningForm(request.POST or None, initial={"on": timezone.localdate()})
    leave_to_owner(form, request.user)
    return edit_page(
        request,
        form,
        heading=_("What was here before"),
        lead=_(
            "Glass and beads that were on the shelves before the first sack was logged. Glass "
            "written here counts as not recycled, for no sack shows where it came from."
        ),
        submit_label=_("Write it down"),
        saved=_("It is in the book. Write down the next thing, or go back to the glass."),
        save=lambda form: open_stock(form, person=request.user),
        done_url=reverse("stock:glass_opening"),
        back_url=reverse("stock:glass"),
    )
