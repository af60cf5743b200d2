"""The Beads room, and what a bead is."""

import re
from decimal import Decimal

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as _lazy

from stock.agreement import Glass, worst_agreement
from stock.drawing_adapter import draw_bead
from stock.forms import BeadForm, ColourShares
from stock.forms.paints import BeadPaintsForm
from stock.masses import fill_mg, finished_mg, goes_by_scale
from stock.matching import beads_like, family_of
from stock.models import Bead, GlassColour, SampleMatch
from stock.queries import BeadStock, bead_stock, strand_stock
from stock.services.bead_kinds import name_paints, save_bead
from workshop.doors import doors, may
from workshop.forms.further_names import BoxByLanguage
from workshop.models import BeadKind, Mould
from workshop.paging import cards_of
from workshop.physics.shapes import SHAPE_FIELDS
from workshop.search import holding
from workshop.typed import whole_number
from workshop.views.edit import edit_page, lead_on, leave_to_owner, ready_to_save, refusals_in
from workshop.views.idempotent import idempotent
from workshop.views.lists import sheet_link
from workshop.views.stale import MARK

DOORS = (
    (_lazy("Batches"), "stock:batch_list"),
    (_lazy("Ready strands"), "stock:strand_list"),
    (_lazy("Count a shelf"), "stock:count_list"),
    (_lazy("Count by weight"), "stock:count_by_weight"),
    (_lazy("Minutes by pattern"), "stock:factor_list"),
)
ROWS = 4  # boxes for colours; most beads have one to three


def room(request):
    """Beads drawn to scale with how many good ones are free (5 queries and the room's)."""
    kind = request.GET.get("kind", "")
    beads = Bead.objects.filter(in_use=True).prefetch_related("colours__colour")
    if kind in BeadKind.values:
        beads = beads.filter(kind=kind)
    find = request.GET.get("find", "").strip()
    beads = holding(beads, find)
    like = _sample(request)
    if like is not None:
        if like.colour is not None:
            beads = beads.filter(colours__colour__in=family_of(like.colour)).distinct()
        beads = beads.filter(pk__in=beads_like(like, beads))
    page = cards_of(request, beads)
    stock = bead_stock()
    cards = [
        {"bead": bead, "drawn": draw_bead(bead), "stock": stock.get(bead.pk, BeadStock())}
        for bead in page
    ]
    return render(
        request,
        "stock/beads.html",
        {
            "cards": cards,
            "page": page,
            "kinds": BeadKind.choices,
            "kind": kind,
            "find": find,
            "like": like,
            "strands": strand_stock(),
            "may_mould": may(request, "stock:batch_mould", "POST"),
            "may_add": may(request, "stock:bead_add", "POST"),
            "doors": [*doors(request, DOORS), *sheet_link(request, "beads")],
        },
    )


def _sample(request) -> SampleMatch | None:
    """The matched sample whose like is looked for, where one is (1 query)."""
    pk = whole_number(request.GET.get("like"))
    return SampleMatch.objects.select_related("colour").filter(pk=pk).first() if pk else None


def detail(request, pk):
    """One bead: drawn large, its sizes, mass, mould and firing, its glasses, its batches."""
    bead = get_object_or_404(
        Bead.objects.select_related("mould", "programme", "second_programme").prefetch_related(
            "colours__colour"
        ),
        pk=pk,
    )
    sizes = [
        (str(bead._meta.get_field(name).verbose_name).removesuffix(", mm"), name, value)
        for name in SHAPE_FIELDS[bead.shape]
        if (value := getattr(bead, name)) is not None
    ]
    return render(
        request,
        "stock/bead.html",
        {
            "bead": bead,
            "agreement": _agreement(bead),
            "drawn": draw_bead(bead),
            "sizes": sizes,
            "mass_g": finished_mg(bead) / 1000,
            "by_scale": goes_by_scale(bead),
            "fill_g": fill_mg(bead) / 1000,
            "length_mm": bead.measure().length_on_cord_mm(),
            "stock": bead_stock().get(bead.pk, BeadStock()),
            "batches": bead.batches.order_by("-number")[:12],
            "may_mould": bead.in_use and may(request, "stock:batch_mould", "POST"),
            "may_change": may(request, "stock:bead_change", "POST"),
            "may_paint": bead.second_programme_id and may(request, "stock:bead_paints", "POST"),
            "paints": bead.paints.select_related("item"),
            "may_ask": may(request, "orders:firing_advice"),
        },
    )


def _agreement(bead: Bead) -> dict | None:
    """What is known of the two of a bead's glasses that agree least; None for one glass."""
    glasses = [Glass(part.colour) for part in bead.colours.all()]
    worst = worst_agreement(glasses)
    return worst and {
        "word": _(worst.verdict),
        "said": worst.said(_),
        "fine": worst.verdict == "fine",
    }


@idempotent
def edit(request, pk=None):
    """A bead's form: the boxes of its shape, its colours, its mould and its firing."""
    bead = get_object_or_404(Bead, pk=pk) if pk is not None else None
    sent = request.POST if request.method == "POST" else None
    shape = (sent or request.GET).get("shape") or (bead.shape if bead else _likely_shape())
    may_open = may(request, "stock:glass_opening", "POST")
    if sent is not None and "reshape" in sent:
        # Another shape was chosen: the same page with its boxes, nothing typed is lost or judged.
        names = BoxByLanguage().value_from_datadict(sent, {}, "further_names")
        typed = sent.dict() | {"further_names": names}
        form = BeadForm(instance=bead or Bead(), shape=shape, initial=typed, may_open=may_open)
        form.mark_now = sent.get(MARK, "")
        leave_to_owner(form, request.user)
        shares = ColourShares(prefix="colours", initial=_typed_rows(sent))
        return _form_page(request, bead, form, shares, status=200)
    form = BeadForm(
        sent, instance=bead or Bead(), shape=shape, initial={"shape": shape}, may_open=may_open
    )
    leave_to_owner(form, request.user)
    shares = ColourShares(sent, prefix="colours", initial=_rows_of(bead))
    if sent is not None and ready_to_save(form, shares):
        with refusals_in(form):
            saved = save_bead(form, shares, person=request.user)
            messages.success(request, _("%(bead)s is saved.") % {"bead": saved})
            return redirect(lead_on(request, reverse("stock:bead", kwargs={"pk": saved.pk})))
    return _form_page(request, bead, form, shares, status=200 if sent is None else 422)


def _form_page(request, bead, form, shares, *, status: int):
    context = {"bead": bead, "form": form, "shares": shares, "formsets": [shares]}
    if may(request, "orders:firing_bead", "POST"):
        context["bench_url"] = (
            reverse("orders:firing_bead_change", kwargs={"pk": bead.pk})
            if bead
            else reverse("orders:firing_bead")
        )
    later = shares.forms[1:]
    context["more_colours"] = any(row["colour"].value() or row.errors for row in later)
    context["has_errors"] = form.is_bound and bool(form.errors or not shares.is_valid())
    return render(request, "stock/bead_form.html", context, status=status)


def _likely_shape() -> str:
    """A new bead most likely has the shape of a mould there is."""
    return Mould.objects.order_by("-pk").values_list("shape", flat=True).first() or "round"


def _rows_of(bead: Bead | None) -> list[dict]:
    if bead is None:
        only = list(GlassColour.objects.filter(in_use=True)[:2])
        rows = [{"colour": only[0].pk if len(only) == 1 else None, "share": Decimal(1)}]
    else:
        rows = [{"colour": part.colour_id, "share": part.share} for part in bead.colours.all()]
    return rows + [{}] * max(1, ROWS - len(rows))


def _typed_rows(sent) -> list[dict]:
    numbers = sorted(
        {int(found[1]) for name in sent if (found := re.match(r"colours-(\d+)-", name))}
    )
    return [
        {key: sent.get(f"colours-{number}-{key}", "") for key in ("colour", "share")}
        for number in numbers
    ]


@idempotent
def paints(request, pk):
    """Which paints go on a bead, and how much of each is known."""
    bead = get_object_or_404(Bead, pk=pk)
    form = BeadPaintsForm(request.POST or None, instance=bead)
    there = reverse("stock:bead", args=[pk])
    return edit_page(
        request,
        form,
        template="stock/bead_paints.html",
        heading=_("Paints of %(bead)s") % {"bead": bead},
        save=lambda form: name_paints(bead, form.paints(), person=request.user),
        done_url=there,
        back_url=there,
    )
