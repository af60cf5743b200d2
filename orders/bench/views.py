"""The bench: today's work, each piece of it done with one tap."""

from collections.abc import Callable
from functools import partial
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from orders.bench.forms import FinishedForm, MouldedForm, PackedForm, PaintedForm, StrungForm
from orders.bench.papers import bench_ticket_html
from orders.bench.queries.packing import steps_to_pack
from orders.bench.queries.work import BenchJob, Choice, bench_work, weigh_out
from orders.bench.services import (
    finish_job,
    mould_job,
    moved_on,
    pack_order,
    packing_problem,
    paint_job,
    string_line,
)
from orders.drawn.strands import Draughtsman
from orders.firing.queries.trays import drawn_rows
from orders.firing.services.log import beads_by_place
from orders.floor.glass_shelf import shares_by_bead
from orders.models import Order, OrderLine, WorkOrder
from orders.papers.respond import printed
from stock.services.beads import TO_REMAKE
from stock.services.places import COOLED, TO_PAINT
from stock.services.rejects import told_at_the_kiln
from workshop.doors import may
from workshop.views.edit import form_page, refusals_in
from workshop.views.idempotent import idempotent

Step = WorkOrder.Step
MOST_ROWS = 24  # of each step; a longer list is written when it is asked for


@require_GET
def bench(request) -> HttpResponse:
    """What can be done now, what a load waits for first."""
    work = bench_work()
    most = None if "all" in request.GET else MOST_ROWS
    rows = {
        name: getattr(work, name)[:most]
        for name in ("to_mould", "to_paint", "to_finish", "to_string", "to_pack")
    }
    draughtsman = Draughtsman([each.line.design for each in rows["to_string"]])
    kinds = [each.job.bead for name in ("to_mould", "to_paint", "to_finish") for each in rows[name]]
    beads = drawn_rows([*kinds, *(each.batch.bead for each in work.shelf_to_paint)])
    context = {
        "work": work,
        "more": {name: len(getattr(work, name)) - len(shown) for name, shown in rows.items()},
        "may_act": may(request, "orders:bench_mould", "POST"),
        "to_mould": [
            _row(each, beads, "mould", partial(MouldedForm, heaps=each.heaps),
                 count=str(each.beads))
            for each in rows["to_mould"]
        ],
        "to_paint": [_row(each, beads, "paint", PaintedForm) for each in rows["to_paint"]],
        "shelf_to_paint": [
            {"work": each, "drawn": beads.get(each.batch.bead_id)} for each in work.shelf_to_paint
        ],
        "many_to_paint": len(work.to_paint) + len(work.shelf_to_paint),
        "may_paint": may(request, "stock:batch_paint", "POST"),
        "to_finish": [
            _row(each, beads, "finish", FinishedForm, good=str(each.good),
                 rejected=str(each.rejected), gone="0")
            for each in rows["to_finish"]
        ],
        "to_string": [
            {
                "work": each,
                "drawn": draughtsman.strand(each.line.design_id),
                "form": StrungForm(
                    auto_id=f"id_string_{each.line.pk}_%s",
                    initial={"strands": str(each.strands), "minutes": each.minutes},
                ),
                "url": reverse("orders:bench_string", args=[each.line.pk]),
            }
            for each in rows["to_string"]
        ],
        "to_pack": [
            {
                "work": each,
                "form": PackedForm(auto_id=f"id_pack_{each.order.number}_%s", steps=each.steps),
                "url": reverse("orders:bench_pack", args=[each.order.number]),
            }
            for each in rows["to_pack"]
        ],
        "may_pack": may(request, "orders:bench_pack", "POST"),
        "held_up": work.held_up,
        "to_pierce": work.to_pierce,
        "no_round_yet": work.no_round_yet,
        "may_see_load": may(request, "orders:load"),
        "may_pierce": may(request, "orders:load_pierced", "POST"),
    }  # fmt: skip
    return render(request, "orders/bench/bench.html", context)


def _row(
    each: BenchJob, beads: dict, act: str, form: Callable[..., forms.Form], **initial: Any
) -> dict[str, Any]:
    return {
        "work": each,
        "clash": each.clash and each.clash.said(_),
        "drawn": beads.get(each.job.bead_id),
        "form": form(
            auto_id=f"id_{act}_{each.job.pk}_%s", initial={"minutes": each.minutes, **initial}
        ),
        "url": reverse(f"orders:bench_{act}", args=[each.job.pk]),
    }


@idempotent
def mould(request, pk: int) -> HttpResponse:
    """Moulds are filled."""
    job = _job(pk)
    shares = shares_by_bead([job.bead_id])
    choice, own = Choice.of(shares), shares.get(job.bead_id, [])
    form = MouldedForm(
        request.POST or None,
        initial={"count": str(job.to_start)},
        heaps=choice.heaps(job.bead, own),
    )
    clash = choice.clashing.get(job.bead_id)

    def act(data: dict) -> str:
        batch = mould_job(
            job, data["count"], person=request.user, minutes=data["minutes"] or 0,
            marks=form.marks(),
        )  # fmt: skip
        return _("Order %(order)s: %(count)s %(bead)s moulded, batch %(batch)s.") % {
            "order": job.order.number,
            "count": data["count"],
            "bead": job.bead,
            "batch": batch.number,
        }

    return _done(
        request, form, act, job=job, steps={Step.GLASS, Step.MOULDING}, heading=_("Moulded"),
        weigh=weigh_out(job, own), clash=clash and clash.said(_),
        care=_("Glass powder harms the lungs: a fitted mask, damp cloths, no dry sweeping."),
    )  # fmt: skip


@idempotent
def paint(request, pk: int) -> HttpResponse:
    """Beads are painted and dry."""
    job = _job(pk)
    form = PaintedForm(request.POST or None)

    def act(data: dict) -> str:
        paint_job(job, person=request.user, minutes=data["minutes"] or 0)
        return _("Order %(order)s: %(bead)s painted, ready for the second firing.") % {
            "order": job.order.number,
            "bead": job.bead,
        }

    return _done(
        request, form, act, job=job, steps={Step.PAINTING}, heading=_("Painted"),
        there=beads_by_place(job.batch).get(TO_PAINT, 0),
        care=_("Some glass paints hold lead or cadmium: read the maker's sheet, no eating here."),
    )  # fmt: skip


@idempotent
def finish(request, pk: int) -> HttpResponse:
    """Beads are polished and sorted."""
    job = _job(pk)
    there = beads_by_place(job.batch).get(COOLED, 0) if job.batch else 0
    form = FinishedForm(
        request.POST or None, there=there if job.step == Step.FINISHING else None,
        told=told_at_the_kiln(job.batch) if job.batch else None,
        initial={"good": str(there), "rejected": "0", "gone": "0"},
    )  # fmt: skip

    def act(data: dict) -> str:
        done = finish_job(
            job, good=data["good"], rejected=data["rejected"] or 0, gone=data["gone"] or 0,
            minutes=data["minutes"] or 0, person=request.user,
            rejects_to=data["rejects_to"] or TO_REMAKE, causes=form.causes(),
        )  # fmt: skip
        words = {"order": job.order.number, "bead": job.bead, "good": done.good}
        if done.step == Step.DONE:
            return _("Order %(order)s: %(good)s %(bead)s are good and held for it.") % words
        words["start"] = done.to_start
        return _("Order %(order)s: only %(good)s %(bead)s are good; mould %(start)s more.") % words

    return _done(
        request, form, act, job=job, steps={Step.FINISHING}, heading=_("Finished"), there=there,
        care=_("Polish wet, with eye cover: dry polishing makes fine glass dust, and edges cut."),
    )  # fmt: skip


@idempotent
def string(request, pk: int) -> HttpResponse:
    """Strands are strung."""
    line = get_object_or_404(
        OrderLine.objects.select_related("order__customer", "design__item"), pk=pk
    )
    left = line.strands - line.strung
    form = StrungForm(request.POST or None, initial={"strands": str(left)})

    def act(data: dict) -> str:
        string_line(line, data["strands"], person=request.user, minutes=data["minutes"] or 0)
        return _("Order %(order)s: %(count)s × %(design)s strung.") % {
            "order": line.order.number,
            "count": data["strands"],
            "design": line.design,
        }

    return _done(request, form, act, line=line, heading=_("Strung"), left=left)


@idempotent
def pack(request, number: int) -> HttpResponse:
    """An order is packed."""
    order = get_object_or_404(Order.objects.select_related("customer"), number=number)
    form = PackedForm(request.POST or None, steps=steps_to_pack(order))
    if not form.steps:
        messages.warning(request, packing_problem(order))
        return redirect(_after_packing(request, order))

    def act(data: dict) -> str:
        pack_order(order, form.minutes(), person=request.user)
        return _("Order %(order)s is packed.") % {"order": order.number}

    return _done(
        request, form, act, order=order, heading=_("Packed"),
        then=_after_packing(request, order),
    )  # fmt: skip


def _after_packing(request, order: Order) -> str:
    """Back to the bench; who has no bench goes back to the order."""
    if may(request, "orders:bench"):
        return reverse("orders:bench")
    return reverse("orders:order_detail", args=[order.number])


def _job(pk: int) -> WorkOrder:
    return get_object_or_404(
        WorkOrder.objects.select_related("order__customer", "bead__mould", "batch__bead"), pk=pk
    )


def _done(
    request, form: forms.Form, act: Callable[[dict], str], *, job: WorkOrder | None = None,
    steps: set | None = None, then: str = "orders:bench", **context: Any,
) -> HttpResponse:  # fmt: skip
    """One piece of work: shown alone when there is something to put right, else done at once."""
    if job is not None and steps is not None and job.step not in steps:
        messages.warning(request, moved_on(job))
        return redirect("orders:bench")
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            sentence = act(form.cleaned_data)
            messages.success(request, sentence)
            return redirect(then)
    return form_page(request, "orders/bench/done.html", {"form": form, "job": job, **context})


@require_GET
def bench_ticket(request) -> HttpResponse:
    day = timezone.localdate()
    html = bench_ticket_html(bench_work(), request.business)
    return printed(request, html, f"bench-{day:%Y-%m-%d}")
