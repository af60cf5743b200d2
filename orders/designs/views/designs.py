"""Strand designs: seen side by side, one by one, and laid out part by part."""

from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from orders.costing.errors import CostingError
from orders.costing.working.tree import order_tree
from orders.designs.forms.designs import DesignForm, PartForms
from orders.designs.queries.designs import designs_by_use, drawn_designs, ready_strands
from orders.designs.queries.layout import LaidOut, laid_out
from orders.designs.services.designs import lay_design, save_design
from orders.drawn.strands import Draughtsman, Pieces
from orders.facts.order import WantedLine
from orders.facts.wording import refusal
from orders.models import DesignPart, StrandDesign
from orders.reckoning.panel import panel_of, price_source
from orders.reckoning.reckon import reckon
from orders.reckoning.working import shown
from workshop.views.edit import lead_on, ready_to_save, refusals_in
from workshop.views.idempotent import idempotent
from workshop.views.lists import sheet_link


def design_list(request) -> HttpResponse:
    """Every design, drawn to scale."""
    words, all_of_them = request.GET.get("find", ""), bool(request.GET.get("all"))
    designs = list(designs_by_use(words, in_use=not all_of_them))
    return render(
        request,
        "orders/designs/list.html",
        {
            "cards": drawn_designs(designs),
            "find": words,
            "all_of_them": all_of_them,
            "sheet_link": sheet_link(request, "designs"),
        },
    )


def design_detail(request, pk: int) -> HttpResponse:
    """One design: hanging as it is worn, what is on it, and what one takes and costs."""
    found = StrandDesign.objects.with_findings().select_related("variant_of")
    design = get_object_or_404(found, pk=pk)
    draughtsman = Draughtsman([design])
    parts = draughtsman.parts[pk]
    context = {
        "design": design,
        "drawn": draughtsman.strand(pk),
        "length": draughtsman.length(pk),
        "parts": parts,
        "ready": ready_strands([design]).get(design.item_id or 0, 0),
    }
    try:
        if design.is_work:
            context["work"] = list(design.work.all())
        else:
            context["laid"] = laid_out(draughtsman.layout(pk), parts)
    except CostingError as error:
        context["refusal"] = refusal(error)
    if request.user.sees_money:
        one = reckon(
            [WantedLine(pk, 1)],
            customer=None,
            business=request.business,
            today=timezone.localdate(),
        )
        context["one"] = one
        context["panel"] = panel_of(one.costing) if one.costing else None
        context["source"] = price_source(one.costing.lines[0].price_from) if one.costing else ""
        context["working"] = shown(order_tree(one.costing)) if one.costing else None
    return render(request, "orders/designs/detail.html", context)


@idempotent
def design_edit(request, pk: int | None = None) -> HttpResponse:
    """Add a design or change one; its parts move by buttons, and it is drawn as it is laid."""
    # What was made for an order stays as it was asked for.
    design = get_object_or_404(StrandDesign.objects.listed(), pk=pk) if pk is not None else None
    own = list(design.parts.select_related("bead", "spacer")) if design else []
    data = request.POST if request.method == "POST" else None
    form, parts = DesignForm(data, instance=design), PartForms(data, own)
    sent = data is not None and data.get("do", "save") == "save"
    if sent and ready_to_save(form, parts):
        with refusals_in(form):
            with transaction.atomic():
                saved = form.save(commit=False)
                saved.code = form.free_code()
                price = form.cleaned_data.get("price")
                save_design(saved, parts.parts(), person=request.user, price=price)
            there = reverse("orders:design_detail", kwargs={"pk": saved.pk})
            return redirect(lead_on(request, there))
    context = _editor_context(form, parts, sent=sent) | {"design": design}
    template = "orders/designs/edit.html"
    if request.htmx:
        template = "orders/designs/_editor.html"
    return render(request, template, context, status=422 if sent else 200)


@require_POST
def design_drawing(request) -> HttpResponse:
    """The drawing of a design while it is being laid out."""
    form, parts = DesignForm(request.POST), PartForms(request.POST)
    return render(request, "orders/designs/_drawing.html", _drawing_context(form, parts))


def _editor_context(form: DesignForm, parts: PartForms, *, sent: bool) -> dict:
    return {
        "form": form if sent or not form.is_bound else _unjudged(form),
        "boxes": form,
        "parts": parts,
        "show_errors": sent,
        "part_forms": parts.forms if sent else [],
        "has_errors": sent and bool(form.errors),
    } | _drawing_context(form, parts)


def _unjudged(form: DesignForm) -> DesignForm:
    """The same boxes with what was typed, before anybody asked to save."""
    return form


def _drawing_context(form: DesignForm, parts: PartForms) -> dict:
    design, rows = _as_typed(form), _parts_as_typed(parts, form)
    if design is None or not rows:
        return {"drawn": None, "laid": None, "layout_problem": ""}
    pieces = Pieces(rows)
    try:
        laid, problem = laid_out(lay_design(design, rows), rows, design.tolerance), ""
    except ValidationError as error:
        laid, problem = None, " ".join(error.messages)
    return {"drawn": pieces.strand(design, rows), "laid": laid, "layout_problem": problem}


def _as_typed(form: DesignForm) -> StrandDesign | None:
    """The design as far as it can be read: a length is enough."""
    if not form.is_bound:
        return form.instance if form.instance.pk else None
    form.is_valid()
    said = form.cleaned_data
    if said.get("finished_mm") is None:
        return None
    return StrandDesign(
        name=said.get("name") or _("This design"),
        finished_mm=said["finished_mm"],
        gap=said.get("gap") or StrandDesign.Gap.NONE,
        gap_mm=said.get("gap_mm") or 0,
        mirrored=said.get("mirrored", False),
        graduated=said.get("graduated", False),
        fit=said.get("fit") or StrandDesign.Fit.NEAREST,
        whole_repeats=said.get("whole_repeats", False),
        tolerance=said.get("tolerance") or Decimal("0.03"),
        rows=said.get("rows") or 1,
        row_step_mm=said.get("row_step_mm") or 0,
        clasp=said.get("clasp"),
        cord=said.get("cord"),
        cord_ratio=said.get("cord_ratio") or 1,
        cord_tails_mm=said.get("cord_tails_mm") or 0,
    )


def _parts_as_typed(parts: PartForms, form: DesignForm) -> list[DesignPart]:
    if form.is_bound:
        return parts.parts()
    if form.instance.pk:
        return list(form.instance.parts.select_related("bead", "spacer"))
    return []


__all__ = ["LaidOut", "design_detail", "design_drawing", "design_edit", "design_list"]
