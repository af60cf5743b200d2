"""The marks below which more glass is collected, beside what use suggests."""

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from stock.models import GlassColour
from stock.reports import reorder_points
from stock.services.tags import accept_reorder_point
from workshop import formats
from workshop.doors import may
from workshop.views.idempotent import idempotent


def marks(request):
    """Each colour's mark, what was used a day, and the mark that use suggests (4 queries)."""
    points = reorder_points(GlassColour.objects.filter(in_use=True), timezone.localdate())
    return render(
        request,
        "stock/marks.html",
        {"points": points, "may_accept": may(request, "stock:glass_mark_accept", "POST")},
    )


@require_POST
@idempotent
def accept(request, pk):
    """Take the suggested mark with one tap."""
    colour = get_object_or_404(GlassColour, pk=pk)
    [point] = reorder_points([colour], timezone.localdate())
    accept_reorder_point(colour, point.suggested_g, person=request.user)
    messages.success(
        request,
        _("%(colour)s: more is collected below %(mass)s.")
        % {"colour": colour, "mass": formats.mass(point.suggested_g)},
    )
    return redirect("stock:glass_marks")
