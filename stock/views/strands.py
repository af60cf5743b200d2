"""Ready strands on the shelf, and taking some apart."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from stock.forms import ApartForm
from stock.models import Balance, Item, ItemKind, LocationKind, Movement, PostingKind
from stock.queries import strand_stock, strung_under
from stock.services.stringing import beads_on, take_apart
from stock.strand_codes import read_code, strand_code
from workshop.doors import may
from workshop.views.edit import edit_page
from workshop.views.idempotent import idempotent


def strand_list(request):
    """Ready strands by design, and what was strung lately (2 queries and the room's)."""
    strung = (
        Movement.objects.filter(
            posting__kind=PostingKind.STRINGING, item__kind=ItemKind.STRANDS,
            posting__reversed_by__isnull=True,
        )
        .select_related("item", "posting__person")
        .order_by("-pk")[:30]
    )  # fmt: skip
    return render(
        request,
        "stock/strand_list.html",
        {
            "strands": strand_stock(),
            "strung": strung,
            "may_take_apart": may(request, "stock:strand_apart", "POST"),
            "may_trace": may(request, "stock:trail_strand"),
            "may_tag": may(request, "orders:strung_tags"),
        },
    )


@require_GET
def by_code(request):
    """From the code on a tag to where that very strand came from."""
    typed = request.GET.get("code", "")
    found = read_code(typed)
    if found is None or not strung_under(found):
        messages.error(
            request,
            _("“%(code)s” is on none of our tags. Write all of it, such as %(example)s.")
            % {"code": typed[:40], "example": strand_code(1042, 3)},
        )
        return redirect("stock:strand_list")
    return redirect(f"{reverse('stock:trail_strand', args=[found[0]])}?strand={found[1]}")


@idempotent
def apart(request, pk):
    """Strands cut open; their beads go back under their batches, the oldest strands first."""
    item = get_object_or_404(Item, pk=pk, kind=ItemKind.STRANDS)
    rows = Balance.objects.at(LocationKind.STRAND_SHELF).filter(item=item)
    there = sum(row.free_quantity for row in rows)
    form = ApartForm(request.POST or None, initial={"strands": "1"})
    return edit_page(
        request,
        form,
        heading=_("Take %(strand)s apart") % {"strand": item},
        lead=_("%(there)s free on the shelf.") % {"there": there},
        submit_label=_("Take apart"),
        save=lambda form: _take_apart(request, item, form),
        saved=_("Taken apart; the beads are back on their shelf."),
        done_url=reverse("stock:strand_list"),
        back_url=reverse("stock:strand_list"),
    )


def _take_apart(request, item: Item, form: ApartForm):
    strands, broken = form.cleaned_data["strands"], form.cleaned_data["broken"] or 0
    return take_apart(item, strands, broken=_broken(item, strands, broken), person=request.user)


def _broken(item: Item, strands: int, broken: int) -> dict[int, int]:
    """Beads broken are taken off the batches with most on the strands."""
    found: dict[int, int] = {}
    for part in sorted(beads_on(item, strands), key=lambda part: -part.pieces):
        found[part.item.pk] = min(part.pieces, broken)
        broken -= found[part.item.pk]
    if broken:
        raise ValidationError({"broken": _("More beads are broken than were on the strands.")})
    return found
