"""A bead on the bench: what is typed of it drawn with its measures, and judged beside."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from orders.firing.queries.bead_bench import judged, laid_shares, looked_at
from stock.forms import BeadForm, ColourShares
from stock.models import Bead, GlassColour, Pattern


@require_POST
def bead_bench(request, pk: int | None = None) -> HttpResponse:
    """A bead as far as it can be read; nothing is written, nothing is refused."""
    bead = get_object_or_404(Bead, pk=pk) if pk is not None else Bead()
    form = BeadForm(request.POST, instance=bead, shape=request.POST.get("shape", ""))
    rows = ColourShares(request.POST, prefix="colours")
    form.is_valid()
    rows.is_valid()
    form.instance.shape = form.shape  # whose boxes stand on the page
    shares = laid_shares(form.instance, rows.typed())
    context = {
        "look": looked_at(form.instance, shares),
        "judged": judged(form.instance, shares),
        "glass": [(row, share) for (row, _c, _s), share in zip(rows.typed(), shares, strict=True)],
        "room": len(rows.forms) > len(shares),
        "colours": GlassColour.objects.filter(in_use=True),
        "patterns": [(value, label) for value, label in Pattern.choices],
        "pattern": form.instance.pattern,
        "fault": _("The shares do not make 100 % yet.") if _is_off(shares) else "",
    }
    return render(request, "orders/firing/_bead_bench.html", context)


def _is_off(shares) -> bool:
    return bool(shares) and sum(share.share for share in shares) != 1
