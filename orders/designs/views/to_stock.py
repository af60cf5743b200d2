"""Stringing a design to stock."""

from django.core.exceptions import ValidationError
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils.translation import gettext as _

from orders.designs.forms.to_stock import ToStockForm
from orders.making.services.to_stock import beads_each, string_to_stock
from orders.models import StrandDesign
from stock.queries import BeadStock, bead_stock
from workshop.views.edit import edit_page
from workshop.views.idempotent import idempotent


@idempotent
def design_string(request, pk):
    """Free beads become ready strands on the shelf, for nobody's order yet."""
    found = StrandDesign.objects.with_findings().exclude(sort=StrandDesign.Sort.WORK)
    design = get_object_or_404(found, pk=pk)
    form = ToStockForm(request.POST or None)
    rows, enough = _beads(design)
    return edit_page(
        request,
        form,
        heading=_("String %(design)s to stock") % {"design": design},
        template="orders/designs/to_stock.html",
        design=design,
        rows=rows,
        enough=enough,
        submit_label=_("They are strung"),
        save=lambda form: string_to_stock(
            design,
            form.cleaned_data["strands"],
            on=form.cleaned_data["on"],
            minutes=form.cleaned_data["minutes"] or 0,
            person=request.user,
        ),
        saved=_("Strung; they lie on the strand shelf."),
        done_url=reverse("stock:strand_list"),
        back_url=reverse("orders:design_detail", args=[pk]),
    )


def _beads(design: StrandDesign) -> tuple[list[dict], int]:
    """Each bead of a strand with how many are free, and how many strands that is enough for."""
    try:
        each = beads_each(design)
    except ValidationError:
        return [], 0
    stock = bead_stock()
    rows = [
        {"bead": bead, "each": count, "free": stock.get(bead.pk, BeadStock()).free}
        for bead, count in each.items()
    ]
    return rows, min((row["free"] // row["each"] for row in rows), default=0)
