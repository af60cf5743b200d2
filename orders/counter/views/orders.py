"""The order book: the list, one order, and what can be done with it."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_POST

from orders.bench.forms import packing_form
from orders.bench.services import string_line
from orders.costing.working.terms import read_tree
from orders.costing.working.tree import order_tree
from orders.counter.filters import OrderFilter
from orders.counter.forms.orders import CancelForm, StringForm
from orders.counter.queries import clashes_of
from orders.counter.services.collecting import NotPaid, hand_over_order, over_limit
from orders.counter.services.ordering import (
    NOT_YET,
    cancel_order,
    confirm_order,
    cost_and_promise,
    latest_taking,
)
from orders.counter.services.reopening import reopen_order
from orders.counter.shown_figures import figures_mark
from orders.counter.tables import OrderTable
from orders.firing.queries.step_on import StepOn, steps_on
from orders.firing.queries.waiting import Waiting, waiting_on_firing
from orders.making.queries.findings import findings_lacking
from orders.making.queries.orders import (
    OrderDrawings,
    holds_of,
    listed_orders,
    progress_of,
    progress_words,
)
from orders.models import Order, OrderLine
from orders.reckoning.panel import FIGURES, opened, panel_of, price_source
from orders.reckoning.reckon import reckon_order
from orders.reckoning.working import KeptPromise, kept_promise, kept_term, shown
from stock.strand_codes import TAGS_AT_ONCE
from workshop import formats
from workshop.doors import may
from workshop.typed import whole_number
from workshop.views.idempotent import idempotent
from workshop.views.lists import ListPage


class OrderList(ListPage):
    table_class = OrderTable
    filterset_class = OrderFilter
    heading = gettext_lazy("Orders")
    room = "orders"
    add_url_name = "orders:counter"
    add_label = gettext_lazy("Take an order")
    prints, print_label = "slips", gettext_lazy("Print the slips of those ticked")
    empty = gettext_lazy("No order has been taken yet. Take the first one at the counter.")

    links = (
        (gettext_lazy("Sold from the shelf"), "orders:sale_list"),
        (gettext_lazy("Standing orders"), "orders:standing_list"),
    )
    chosen_by = "state"
    chosen_first = Order.State.CONFIRMED

    def get_queryset(self):
        return listed_orders().filter(sale__isnull=True)


order_list = OrderList.as_view()


def order_detail(request, number: int) -> HttpResponse:
    """One order: how far it is, its lines drawn, what it holds, its working, its papers."""
    order = _order(number)
    lines = list(order.lines.all())
    drawings = OrderDrawings([order])
    waiting = next(iter(waiting_on_firing([order])), None) if order.is_open else None
    context = {
        "order": order,
        "lines": [
            {
                "line": line,
                "drawn": drawings.of_line(line),
                "length": drawings.length_of(line),
                "source": price_source(line.price_from),
                "sum": line.price * line.strands,
                "left": line.strands - line.strung,
            }
            for line in lines
        ],
        "stages": progress_of(order),
        "stage_words": progress_words(order),
        "holds": holds_of(order) if order.is_open else [],
        "tag_sheets": range(1, max(1, sum(line.strung for line in lines)) + 1, TAGS_AT_ONCE),
        "findings_short": findings_lacking(order) if order.is_open else [],
        "may_hold": may(request, "orders:order_holds", "POST"),
        "clashes": clashes_of(order),
        "jobs": list(order.jobs.select_related("bead", "batch")),
        "waiting": waiting,
        "step_on": _step_on(request, waiting),
        "can_confirm": order.state in NOT_YET,
        "part_gone": any(line.handed for line in lines),
        "part_ready": order.is_open and any(line.ready for line in lines),
        "cancel_form": CancelForm(),
        "string_form": StringForm(),
        "may_string": order.beads_are_finished,
        "to_pack": packing_form(order) if may(request, "orders:bench_pack", "POST") else None,
        "promise": kept_promise(order.working),
    }
    if request.user.sees_money:
        context |= _costing_context(request, order)
    return render(request, "orders/counter/order.html", context)


def _step_on(request, waiting: Waiting | None) -> StepOn | None:
    """What this reader can do next for an order that waits on firing."""
    if waiting is None:
        return None
    return next((step for step in steps_on(waiting) if may(request, step.page)), None)


def _order(number: int) -> Order:
    return get_object_or_404(
        listed_orders().select_related("customer", "taken_by", "below_cost_by"),
        number=number,
    )


def _costing_context(request, order: Order) -> dict:
    """A draft is costed as of now; a confirmed order shows the working kept on that day."""
    if order.working:
        return {"working": kept_term(order.working["tree"])}
    if order.state not in NOT_YET:
        return {}
    found = reckon_order(order, business=request.business, today=timezone.localdate())
    if found.costing is None:
        return {"refusal": found.refusal}
    return {
        "panel": panel_of(found.costing),
        "promise": found.promise,
        "words": found.words,
        "lower": found.lower,
        "seen": figures_mark(found.costing, found.promise, order.customer_id),
    }


def order_working(request, number: int) -> HttpResponse:
    """The whole working of an order, as it was kept or as it is now; of one figure, if asked."""
    order = _order(number)
    figure = request.GET.get("figure", "")
    if order.working:
        promise = None if figure in FIGURES else kept_promise(order.working)
        tree = read_tree(order.working["tree"])
    else:
        promise = None
        tree = order_tree(cost_and_promise(order, request.business)[0])
    context = {
        "order": order,
        "terms": [shown(term) for term in opened(tree, figure)],
        "promise": promise,
    }
    template = "orders/counter/order_working.html"
    if request.htmx:
        template = "orders/counter/_working.html"
    return render(request, template, context)


# --- acts ---------------------------------------------------------------------------------------


def _act(request, number: int, work, said) -> HttpResponse:
    """Do one thing to an order and go back to it; a refusal is shown there."""
    order = get_object_or_404(Order, number=number)
    try:
        with transaction.atomic():
            done = work(order)
    except ValidationError as error:
        for sentence in error.messages:
            messages.error(request, sentence)
    else:
        messages.success(request, said(done))
    return redirect("orders:order_detail", number=number)


@require_POST
@idempotent
def order_confirm(request, number: int) -> HttpResponse:
    """Promise an order that was written down or quoted."""

    def work(order: Order) -> Order:
        _check_seen(request, order)
        return confirm_order(
            order,
            person=request.user,
            owner_word=request.POST.get("owner_word", "")[:200],
            business=request.business,
        ).order

    def said(order: Order) -> str:
        return _("Order %(number)s is confirmed: collect from %(day)s.") % {
            "number": order.number,
            "day": formats.date_short(order.p90_on),
        }

    return _act(request, number, work, said)


def _check_seen(request, order: Order) -> None:
    """The page may be old: what is confirmed must be what it showed."""
    costing, promise = cost_and_promise(order, request.business)
    if request.POST.get("seen") != figures_mark(costing, promise, order.customer_id):
        raise ValidationError(
            _("%(why)s The figures are new; look at them and confirm again.")
            % {"why": latest_taking(order)}
        )


@require_POST
@idempotent
def order_reopen(request, number: int) -> HttpResponse:
    """A confirmed order of which nothing is made yet becomes one that can be changed."""
    order = get_object_or_404(Order, number=number)
    try:
        with transaction.atomic():
            reopen_order(order, person=request.user)
    except ValidationError as error:
        for sentence in error.messages:
            messages.error(request, sentence)
        return redirect("orders:order_detail", number=number)
    messages.info(
        request,
        _(
            "Order %(number)s holds nothing now and can be changed; confirm it again when it is "
            "right."
        )
        % {"number": number},
    )
    return redirect("orders:order_change", number=number)


@require_POST
@idempotent
def order_cancel(request, number: int) -> HttpResponse:
    """Take an order out of the book."""
    form = CancelForm(request.POST)
    why = form.cleaned_data["why"] if form.is_valid() else ""
    return _act(
        request,
        number,
        lambda order: cancel_order(order, person=request.user, why=why),
        lambda order: (
            _("Order %(number)s is cancelled; what it held is free again.")
            % {"number": order.number}
        ),
    )


@require_POST
@idempotent
def order_collect(request, number: int) -> HttpResponse:
    """The customer takes the strands away; what is not paid is asked about once, with the sum."""
    order = get_object_or_404(Order.objects.select_related("customer"), number=number)
    try:
        with transaction.atomic():
            hand_over_order(order, person=request.user, on_account="on_account" in request.POST)
    except NotPaid as error:
        context = {
            "order": order,
            "left": error.left,
            "sentence": " ".join(error.messages),
            "asked": "on_account" in request.POST,
            "over_limit": over_limit(order, error.left),
        }
        return render(request, "orders/counter/hand_over.html", context, status=422)
    except ValidationError as error:
        for sentence in error.messages:
            messages.error(request, sentence)
    else:
        said = _("Order %(number)s is handed over.") % {"number": number}
        messages.success(request, said)
    return redirect("orders:order_detail", number=number)


@require_POST
@idempotent
def order_string(request, number: int) -> HttpResponse:
    """Strands of one line are strung from the beads held for the order."""
    form = StringForm(request.POST)
    line = get_object_or_404(
        OrderLine.objects.with_designs().select_related("order", "design__item"),
        pk=whole_number(request.POST.get("line")) or 0,
        order__number=number,
        strung__lt=F("strands"),
    )

    def work(order: Order) -> OrderLine:
        if not form.is_valid():
            raise ValidationError([error for errors in form.errors.values() for error in errors])
        data = form.cleaned_data
        return string_line(line, data["strands"], minutes=data["minutes"] or 0, person=request.user)

    return _act(
        request,
        number,
        work,
        lambda line: (
            _("%(strung)s of %(strands)s %(design)s are strung.")
            % {"strung": line.strung, "strands": line.strands, "design": line.design}
        ),
    )


__all__ = ["KeptPromise", "order_cancel", "order_collect", "order_confirm", "order_detail"]
