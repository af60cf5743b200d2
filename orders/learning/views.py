"""Learning: what the records say beside the standards, accepted and taken back by one tap."""

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import ngettext, pgettext
from django.views.decorators.http import require_GET, require_POST

from orders.learning.queries.causes import causes_since, of_cause
from orders.learning.queries.lessons import HandRow, LearnedRow, ShareOf, accepted, lessons, said
from orders.learning.queries.minutes import LATEST
from orders.learning.queries.reject_records import RejectRecord, by_load, reject_records
from orders.learning.services import (
    accept_all_that_agree,
    accept_standard,
    agreeing,
    seen_mark,
    undo_standard,
)
from orders.learning.sums import ControlChart, Scatter, fit_scatter, p_chart
from orders.models import AcceptedStandard
from stock.models import Bead, RejectCause
from workshop import formats
from workshop.doors import may
from workshop.drawing import Axes, Curve, line_chart_svg
from workshop.models import Kiln
from workshop.typed import whole_number
from workshop.views.idempotent import idempotent

USUAL_DAYS = 182
SPANS = (91, USUAL_DAYS, 0)  # 0: everything
CHART_SOURCE = "p ± 3 √(p (1 − p) ÷ n): NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.3.2"


@dataclass(frozen=True)
class ShownRow:
    """A standard beside what was measured, in words."""

    row: LearnedRow
    standard: str
    measured: str
    low: str
    high: str
    chart_url: str
    lately: str = ""


def _span(given: str) -> int:
    days = whole_number(given)
    return days if days is not None and days in SPANS else USUAL_DAYS


def _since(days: int) -> date | None:
    return timezone.localdate() - timedelta(days=days) if days else None


def _spans(days: int) -> list[dict]:
    words = {91: _("three months"), USUAL_DAYS: _("half a year"), 0: _("all records")}
    return [{"days": span, "label": words[span], "now": span == days} for span in SPANS]


def _shown(row: LearnedRow, days: int) -> ShownRow:
    found, chart_url = row.learned, ""
    if row.kind in {AcceptedStandard.Kind.REJECTS, AcceptedStandard.Kind.SECOND_REJECTS}:
        firing = 2 if row.kind == AcceptedStandard.Kind.SECOND_REJECTS else 1
        chart_url = (
            f"{reverse('orders:firing_rejects')}?bead={row.subject_id}&firing={firing}&days={days}"
        )
    if row.kind == AcceptedStandard.Kind.MOULD_LIFE:
        chart_url = reverse("stock:mould", args=[row.subject_id])
    return ShownRow(
        row,
        said(row.standard, row.unit),
        said(found.value, row.unit),
        "" if found.low is None else said(found.low, row.unit),
        "" if found.high is None else said(found.high, row.unit),
        chart_url,
        _lately(row),
    )


def _lately(row: LearnedRow) -> str:
    """That the last of the work took another time than goods bear, in words; else ""."""
    if not row.is_far_off or row.lately is None:
        return ""
    words = {"n": LATEST, "share": formats.percent(abs(row.lately))}
    if row.lately > 0:
        return _("The last %(n)s took %(share)s longer than the standard that goods bear.") % words
    return _("The last %(n)s took %(share)s less than the standard that goods bear.") % words


@require_GET
def learned(request) -> HttpResponse:
    """Every standard that records speak of, and what was accepted (23 queries)."""
    days = _span(request.GET.get("days", ""))
    found = lessons(_since(days))
    sections = [
        (_("Rejects"), _("beads"), [_shown(row, days) for row in found.rejects]),
        (_("Left after preparing"), _("preparations"), [_shown(r, days) for r in found.yields]),
        (_("Minutes"), _("orders"), [_shown(row, days) for row in found.minutes]),
        (_("Minutes of a bead"), _("orders"), [_shown(row, days) for row in found.of_beads]),
        (_("Fuel for a load"), _("loads"), [_shown(row, days) for row in found.fuel]),
        (_("Efficiency of kilns"), _("loads"), [_shown(row, days) for row in found.efficiency]),
        (
            _("Body and loss of kilns kept hot"),
            pgettext("unit after a number", "runs"),
            [_shown(r, days) for r in found.bodies],
        ),
        (
            _("Fillings that moulds last"),
            pgettext("unit after a number", "moulds gone"),
            [_shown(row, days) for row in found.mould_lives],
        ),
    ]
    others = [
        (_("By kiln"), [_other(each, days) for each in found.by_kiln]),
        (_("By mould"), [_other(each, days) for each in found.by_mould]),
        (_("By keeper"), [_other(each, days) for each in found.by_keeper]),
    ]
    context = {
        "days": days,
        "spans": _spans(days),
        "sections": [
            {
                "heading": heading,
                "counted": counted,
                "differing": [shown for shown in rows if not shown.row.agrees],
                "agreeing": [shown for shown in rows if shown.row.agrees],
            }
            for heading, counted, rows in sections
        ],
        "others": [{"heading": heading, "rows": rows} for heading, rows in others if rows],
        "hands": [_of_hand(row) for row in found.by_hand] if request.user.sees_money else [],
        "nothing": not found.rows,
        "accepted": accepted(),
        "agreeing": len(agree := agreeing(found.rows)),
        "seen": seen_mark(agree),
        "may_accept": may(request, "orders:firing_learned_accept", "POST"),
    }
    return render(request, "orders/learning/page.html", context)


def _of_hand(row: HandRow) -> dict:
    found = row.learned
    return {
        "row": row,
        "standard": said(row.standard, "min"),
        "measured": said(found.value, "min"),
        "low": "" if found.low is None else said(found.low, "min"),
        "high": "" if found.high is None else said(found.high, "min"),
    }


def _other(each: ShareOf, days: int) -> dict:
    chart = f"{reverse('orders:firing_rejects')}?kiln={each.kiln_id}&days={days}"
    return {
        "name": each.name,
        "measured": formats.percent(each.learned.value),
        "low": formats.percent(each.learned.low),
        "high": formats.percent(each.learned.high),
        "count": each.learned.count,
        "chart_url": chart if each.kiln_id else "",
    }


def _back(request) -> HttpResponse:
    days = _span(request.POST.get("days", ""))
    return redirect(f"{reverse('orders:firing_learned')}?days={days}")


@require_POST
@idempotent
def accept(request) -> HttpResponse:
    """One tap: what was measured is the standard from today on."""
    subject, shown = whole_number(request.POST.get("subject")), request.POST.get("shown", "")
    try:
        with transaction.atomic():
            done = accept_standard(
                request.POST.get("kind", ""),
                -1 if subject is None else subject,
                person=request.user,
                shown=shown if shown.replace(".", "", 1).isdecimal() else "",
                since=_since(_span(request.POST.get("days", ""))),
            )
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    else:
        messages.success(
            request,
            _(
                "%(what)s: %(after)s from today on, in place of %(before)s. Orders confirmed "
                "earlier keep the working they have."
            )
            % {"what": capfirst(str(done)), "after": done.said_after, "before": done.said_before},
        )
    return _back(request)


@require_POST
@idempotent
def accept_agreeing(request) -> HttpResponse:
    """One tap: whatever agrees with its standard takes the standard's place from today on."""
    try:
        with transaction.atomic():
            done = accept_all_that_agree(
                person=request.user,
                seen=request.POST.get("seen", ""),
                since=_since(_span(request.POST.get("days", ""))),
            )
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    else:
        messages.success(
            request,
            ngettext(
                "%(n)s standard follows the records from today on.",
                "%(n)s standards follow the records from today on.",
                len(done),
            )
            % {"n": len(done)},
        )
    return _back(request)


@require_POST
@idempotent
def undo(request, pk: int) -> HttpResponse:
    """One tap: what stood before stands again."""
    row = get_object_or_404(AcceptedStandard, pk=pk)
    try:
        with transaction.atomic():
            undo_standard(row, person=request.user)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    else:
        messages.success(
            request,
            _("%(what)s: %(before)s again.")
            % {"what": capfirst(str(row)), "before": row.said_before},
        )
    return _back(request)


# --- the control chart ------------------------------------------------------------------------


@require_GET
def rejects(request) -> HttpResponse:
    """Rejects of each load against the limits of chance, of a bead, a kiln or all, of every cause
    or one (6 queries)."""
    days = _span(request.GET.get("days", ""))
    what, records = _charted(request, _since(days))
    loads = by_load(records)
    bead, kiln = (whole_number(request.GET.get(name)) for name in ("bead", "kiln"))
    cause = request.GET.get("cause", "")
    if cause in RejectCause.values:
        loads = of_cause(loads, cause, bead)
        words = {"what": what, "cause": RejectCause(cause).label}
        what = _("%(what)s: %(cause)s") % words
    context = {"what": what, "days": days, "spans": _spans(days), "source": CHART_SOURCE}
    context["causes"] = causes_since(_since(days), bead=bead, kiln=kiln)
    context["cause"] = cause
    context["without_cause"] = request.GET.copy()
    context["without_cause"].pop("cause", None)
    context["address"] = request.GET.copy()
    context["address"].pop("days", None)
    if loads:
        counted = [(rejected, beads) for _first, rejected, beads in loads]
        chart = p_chart(counted)
        scatter = fit_scatter(counted) if len(counted) > 1 else None
        context |= {
            "svg": chart_svg(chart),
            "chart": chart,
            "rows": [
                {"record": first, "point": point}
                for (first, _r, _n), point in zip(loads, chart.points, strict=True)
            ][::-1],
            "scatter": _scatter_words(scatter, len(counted)),
            "out": sum(point.out for point in chart.points),
        }
    return render(request, "orders/learning/chart.html", context)


def _charted(request, since: date | None) -> tuple[str, list[RejectRecord]]:
    kiln, bead = (whole_number(request.GET.get(name)) for name in ("kiln", "bead"))
    if kiln is not None:
        row = get_object_or_404(Kiln, pk=kiln)
        return str(row), [r for r in reject_records(since) if r.kiln_id == row.pk]
    if bead is None:
        return str(_("all kilns")), reject_records(since)
    thing = get_object_or_404(Bead, pk=bead)
    firing = 2 if request.GET.get("firing") == "2" else 1
    name = _("%(bead)s, second firing") % {"bead": thing} if firing == 2 else str(thing)
    records = reject_records(since, bead=thing.pk)
    return name, [r for r in records if r.firing == firing]


def _scatter_words(scatter: Scatter | None, loads: int) -> str:
    if scatter is None or not scatter.shows:
        return _(
            "Over %(loads)s loads, rejects scatter no more than chance makes them: one rate for "
            "every load says it all."
        ) % {"loads": formats.count(loads)}
    return _(
        "Rejects come load by load: a beta-binomial fit over %(loads)s loads (alpha %(alpha)s, "
        "beta %(beta)s) tells them better than one rate for every load. Accepting the rate keeps "
        "the fit with the bead."
    ) % {
        "loads": formats.count(scatter.loads),
        "alpha": formats.decimal(scatter.alpha, 2),
        "beta": formats.decimal(scatter.beta, 2),
    }


def chart_svg(chart: ControlChart) -> str:
    """Rejects of each load in their order, in per cent, with mean and limits."""
    points = chart.points if len(chart.points) > 1 else chart.points * 2
    numbered = list(enumerate(points, 1))
    mean = 100 * chart.mean
    return line_chart_svg(
        [
            Curve(
                _("most by chance"),
                tuple((float(n), 100 * p.high) for n, p in numbered),
                dashed=True,
            ),
            Curve(_("rejects"), tuple((float(n), 100 * p.share) for n, p in numbered)),
            Curve(_("mean"), ((1.0, mean), (float(len(numbered)), mean)), dashed=True),
            Curve("", tuple((float(n), 100 * p.low) for n, p in numbered), dashed=True),
        ],
        axes=Axes(
            _("loads, oldest first"),
            _("% rejects"),
            write=lambda value: formats.decimal(Decimal(str(value)), 0),
        ),
        title=_("Rejects of each load, with their limits"),
        width=340,
        height=260,
    )
