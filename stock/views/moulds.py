"""One mould: how often it was filled, how many have gone, and the tap that tells of one more."""

from datetime import timedelta

from django import forms
from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_POST

from stock.models import MouldGone
from stock.mould_life import MouldUse, mould_uses
from stock.services.moulds import mould_gone, mould_not_gone
from workshop import formats
from workshop.costs.minutes import ENOUGH_GONE, USUAL_LIFE
from workshop.doors import may
from workshop.form_fields import CountField
from workshop.models import Mould
from workshop.views.edit import form_page, refusals_in
from workshop.views.idempotent import idempotent

A_YEAR = timedelta(days=365)
LATEST = 30


class GoneForm(forms.Form):
    """How many, and whether they broke or wore out."""

    count = CountField(label=gettext_lazy("Moulds gone"), smallest=1, largest=1000, initial="1")
    why = forms.ChoiceField(choices=MouldGone.Why, widget=forms.HiddenInput)


@idempotent
def detail(request, pk: int):
    """Look at a mould; a tap says that one broke or is worn out."""
    mould = get_object_or_404(Mould, pk=pk)
    form = GoneForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            count, why = form.cleaned_data["count"], form.cleaned_data["why"]
            mould_gone(mould, count, why=why, person=request.user)
            messages.success(request, _gone_words(mould))
            return redirect("stock:mould", pk=pk)
    use = mould_uses(timezone.localdate() - A_YEAR, mould=pk).get(pk, MouldUse())
    return form_page(
        request,
        "stock/mould.html",
        {
            "mould": mould,
            "form": form,
            "use": use,
            "life": mould.usual_life or USUAL_LIFE,
            "missing": max(0, ENOUGH_GONE - use.gone),
            "gone": mould.gone.select_related("told_by", "load")[:LATEST],
            "reasons": MouldGone.Why.choices,
            "may_tell": may(request, "stock:mould", "POST"),
            "may_change": may(request, "workshop:mould_change", "POST"),
        },
    )


def _gone_words(mould: Mould) -> str:
    return ngettext(
        "%(mould)s: %(left)s is left. Plans count with it from now on.",
        "%(mould)s: %(left)s are left. Plans count with them from now on.",
        mould.owned,
    ) % {"mould": mould, "left": formats.count(mould.owned)}


@require_POST
@idempotent
def back(request, pk: int):
    """It was told by mistake."""
    row = get_object_or_404(MouldGone, pk=pk)
    mould = mould_not_gone(row, person=request.user)
    messages.success(
        request,
        _("%(mould)s: %(owned)s owned again.")
        % {"mould": mould, "owned": formats.count(mould.owned)},
    )
    return redirect("stock:mould", pk=mould.pk)
