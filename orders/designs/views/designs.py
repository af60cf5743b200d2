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
from orders.designs.queries.bench import Bench, costed, on_the_bench, palette_of
from orders.designs.queries.designs import designs_by_use, drawn_designs, ready_strands
from orders.designs.queries.layout import laid_out
from orders.designs.services.designs import lay_design, save_design
from orders.designs.usual import HOW_MANY, USUAL_SIZES, how_many
from orders.drawn.strands import Draughtsman, Pieces
from orders.facts.wording import refusal
from orders.models import StrandDesign, WantedLine
from orders.reckoning.panel import panel_of, price_source
from orders.reckoning.reckon import reckon
from orders.reckoning.working import shown
from workshop.paging import cards_of
from workshop.typed import whole_number
from workshop.views.edit import lead_on, ready_to_save, refusals_in
from workshop.views.idempotent import idempotent
from workshop.views.lists import sheet_link


def design_list(request) -> HttpResponse:
    """Designs drawn to scale, some screens at a time."""
    words, all_of_them = request.GET.get("find", ""), bool(request.GET.get("all"))
    page = cards_of(request, designs_by_use(words, in_use=not all_of_them))
    return render(
        request,
        "orders/designs/list.html",
        {
            "cards": drawn_designs(list(page)),
            "page": page,
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
    parts = draughtsman.drafts[pk].parts
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
            layout = draughtsman.layout(pk)
            context["laid"] = laid_out(layout, parts)
            if design.worn_at:
                context["bench"] = on_the_bench(
                    design, parts, draughtsman.drafts[pk].pieces, layout
                )
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
    """Add a design or change one, on the drawing or in its boxes; or begin with a copy (`like`)."""
    # What was made for an order stays as it was asked for.
    design = get_object_or_404(StrandDesign.objects.listed(), pk=pk) if pk is not None else None
    like = None if design else _like(request)
    own = list((design or like).parts.all()) if design or like else []
    data = request.POST if request.method == "POST" else None
    form = DesignForm(data, instance=design, like=like)
    parts = PartForms(data, own, whole_number(request.GET.get("bead")))
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
    context = {
        "form": form,
        "parts": parts,
        "design": design,
        "like": like,
        "palette": palette_of(parts.beads.values(), parts.spacers.values()),
        "sizes": USUAL_SIZES,
        "of_many": (HOW_MANY, how_many(data.get("of_many") if data else None)),
        "show_errors": sent,
        "part_forms": parts.forms if sent else [],
        "has_errors": sent and bool(form.errors),
    }
    context |= _laid_context(request, form, parts)
    return render(request, "orders/designs/edit.html", context, status=422 if sent else 200)


@require_POST
def design_drawing(request, pk: int | None = None) -> HttpResponse:
    """A design as far as it is laid: its drawing and its figures. Nothing is written."""
    design = get_object_or_404(StrandDesign.objects.listed(), pk=pk) if pk is not None else None
    form, parts = DesignForm(request.POST, instance=design), PartForms(request.POST)
    context = _laid_context(request, form, parts) | {"follows": True}
    return render(request, "orders/designs/_drawing.html", context)


def _like(request) -> StrandDesign | None:
    """The design that a new one begins with."""
    pk = whole_number(request.GET.get("like"))
    return get_object_or_404(StrandDesign.objects.listed(), pk=pk) if pk is not None else None


def _laid_context(request, form: DesignForm, parts: PartForms) -> dict:
    rows = parts.parts()
    if not rows:
        return {"bench": Bench(), "costed": None}
    pieces = Pieces(rows)
    design, layout, problem = _as_typed(form), None, ""
    if design.finished_mm is None and not (design.worn_at and design.around_mm):
        problem = _("Write how long it is to be, or choose a size; then it is filled.")
    else:
        try:
            layout = lay_design(design, rows, pieces)
        except ValidationError as error:
            problem = " ".join(error.messages)
    told = None
    if layout is not None and request.user.sees_money:
        told = costed(
            design,
            rows,
            business=request.business,
            today=timezone.localdate(),
            many=how_many(request.POST.get("of_many")),
            price=form.price_typed(),
        )
    return {"bench": on_the_bench(design, rows, pieces, layout, problem), "costed": told}


def _as_typed(form: DesignForm) -> StrandDesign:
    """The design as far as it can be read; a box that cannot be read holds what is usual."""
    if not form.is_bound:
        return form.begun_with()
    form.is_valid()
    said = form.cleaned_data
    return StrandDesign(
        pk=form.instance.pk,
        name=said.get("name") or _("This design"),
        finished_mm=said.get("finished_mm"),
        worn_at=said.get("worn_at") or "",
        around_mm=said.get("around_mm"),
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
        learning_rate=said.get("learning_rate"),
        learning_first=said.get("learning_first") or Decimal(3),
        learning_made=said.get("learning_made") or 0,
        learning_practised=said.get("learning_practised"),
    )


__all__ = ["design_detail", "design_drawing", "design_edit", "design_list"]
