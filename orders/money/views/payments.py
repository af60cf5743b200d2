"""Money in and out: taking a payment, giving back, laying credit on invoices, taking back."""

from dataclasses import asdict
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET, require_POST

from orders.models import Customer, Document, Order, Payment, PaymentAllocation
from orders.money.filters import PaymentFilter
from orders.money.forms.money import (
    DepositBackForm,
    LayForm,
    PaymentForm,
    ReasonForm,
    RefundForm,
)
from orders.money.queries.accounts import balance_of, order_money
from orders.money.queries.settling import DepositRule, deposit_rule_of
from orders.money.services.payment_allocations import spendable
from orders.money.services.payments import (
    allocate,
    allocate_oldest_first,
    doubtful_number,
    record_payment,
    refund,
    reverse_payment,
    standing_shares,
    undo_share,
)
from orders.money.services.settling import settle_deposit
from orders.money.tables import PaymentTable
from workshop.formats import money, percent
from workshop.services.second_look import NeedsAnother, ask
from workshop.typed import whole_number
from workshop.views.edit import add_error, edit_page, form_page, refusals_in
from workshop.views.idempotent import idempotent
from workshop.views.lists import ListPage
from workshop.views.second_look import waits_sentence


class PaymentList(ListPage):
    queryset = Payment.objects.select_related("customer")
    table_class = PaymentTable
    filterset_class = PaymentFilter
    heading = gettext_lazy("Payments")
    room = "money"
    empty = gettext_lazy("No payment was taken yet. Take one on an order or a customer’s account.")


@idempotent
def payment_take(request):
    """Take money of a customer, for an order, an invoice, or on account."""
    customer, order, paper = _about(request)
    owing = list(Document.objects.open().filter(customer=customer).oldest_first().defer("content"))
    form = PaymentForm(
        request.POST or None,
        open_papers=owing,
        order=order,
        initial=_suggested(order, paper, rest="rest" in request.GET),
    )
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            taken = record_payment(
                customer,
                form.cleaned_data["amount"],
                person=request.user,
                way=form.way(),
                on=form.cleaned_data["on"],
                **form.laid(),
            )
            messages.success(request, _said(taken))
            if taken.payer_number and doubtful_number(taken.payer_number):
                messages.warning(
                    request,
                    _("%(number)s looks unusual for a telephone number; it is kept as written.")
                    % {"number": taken.payer_number},
                )
            if order is not None and "rest" in request.GET:
                return redirect("orders:order_detail", order.number)  # to be handed over
            return redirect("orders:payment", taken.pk)
    context = {
        "form": form,
        "customer": customer,
        "order": order,
        "account": balance_of(customer),
        "coin": request.business.smallest_coin,
    }
    return form_page(request, "orders/money/payment_take.html", context)


@require_GET
def payment(request, pk):
    """One payment: what it settled, its receipt, what may follow."""
    found = get_object_or_404(
        Payment.objects.select_related("customer", "order", "taken_by", "reverses"), pk=pk
    )
    shares = (
        standing_shares(found)
        if found.amount > 0
        else list(found.refund_shares.select_related("payment", "credit"))
    )
    context = {
        "payment": found,
        "shares": shares,
        "receipt": Document.objects.filter(payment=found).defer("content").first(),
        "reversal": Payment.objects.filter(reverses=found).first(),
        "open_papers": Document.objects.open().filter(customer=found.customer).exists(),
    }
    return render(request, "orders/money/payment.html", context)


@idempotent
def refund_give(request, pk):
    """Give back a customer's credit."""
    customer = get_object_or_404(Customer, pk=pk)
    account = balance_of(customer)
    form = RefundForm(request.POST or None, initial={"amount": account.free or None})
    if request.method == "POST" and form.is_valid():
        try:
            given = refund(
                customer, form.cleaned_data["amount"], person=request.user, way=form.way()
            )
        except NeedsAnother as error:
            way = form.way()
            facts = {
                "customer": customer.pk,
                "amount": str(form.cleaned_data["amount"]),
                "way": {
                    **{name: getattr(way, name) for name in ("method", "drawer", "network")},
                    **{name: getattr(way, name) for name in ("payer_number", "reference")},
                },
            }
            ask("refund", error.message, facts, person=request.user)
            messages.warning(request, waits_sentence())
            return redirect("orders:statement", customer.pk)
        except ValidationError as error:
            add_error(form, error)
        else:
            messages.success(
                request, _("%(amount)s was given back.") % {"amount": money(-given.handed_over)}
            )
            return redirect("orders:payment", given.pk)
    context = {"form": form, "customer": customer, "account": account}
    return form_page(request, "orders/money/refund_give.html", context)


@idempotent
def deposit_settle(request, number):
    """The deposit of a cancelled order: given back, or kept in part, by the owner's rule."""
    order = get_object_or_404(
        Order.objects.select_related("customer"), number=number, state=Order.State.CANCELLED
    )
    back_url = reverse("orders:order_detail", args=[number])

    def save(form) -> Any:
        try:
            with transaction.atomic():
                return settle_deposit(order, person=request.user, way=form.way())
        except NeedsAnother as error:
            facts = {"order": order.pk, "way": asdict(form.way())}
            facts["way"] = {name: value for name, value in facts["way"].items() if name != "fee"}
            ask("deposit", error.message, facts, person=request.user)
            messages.warning(request, waits_sentence())

    return edit_page(
        request,
        DepositBackForm(request.POST or None),
        heading=_("The deposit of order %(number)s") % {"number": number},
        lead=_deposit_words(deposit_rule_of(order)),
        room="money",
        submit_label=_("Give it back"),
        saved=_("The deposit is settled."),
        save=save,
        done_url=back_url,
        back_url=back_url,
    )


def _deposit_words(rule: DepositRule) -> str:
    """What the rule says of a deposit, in sentences with their sums."""
    words = {
        "held": money(rule.held),
        "share": percent(rule.share),
        "kept": money(rule.kept),
        "back": money(rule.back),
    }
    if rule.begun and rule.kept:
        return (
            _(
                "%(held)s was left. Its beads are begun, so %(share)s of it is kept, as the slip "
                "says: %(kept)s stays, %(back)s goes back."
            )
            % words
        )
    if rule.begun:
        return _("%(held)s was left, and all of it goes back.") % words
    return _("%(held)s was left. Nothing of it is begun, so all of it goes back.") % words


@idempotent
def payment_reverse(request, pk):
    """Take back a payment that was booked wrongly or bounced."""
    found = get_object_or_404(Payment.objects.select_related("customer"), pk=pk)
    form = ReasonForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            back = reverse_payment(found, person=request.user, reason=form.cleaned_data["reason"])
        except NeedsAnother as error:
            facts = {"payment": found.pk, "reason": form.cleaned_data["reason"]}
            ask("reversal", error.message, facts, person=request.user)
            messages.warning(request, waits_sentence())
            return redirect("orders:payment", found.pk)
        except ValidationError as error:
            add_error(form, error)
        else:
            messages.success(request, _("The payment is taken back; what it paid is open again."))
            return redirect("orders:payment", back.pk)
    context = {"form": form, "payment": found}
    return form_page(request, "orders/money/payment_reverse.html", context)


@require_POST
@idempotent
def share_undo(request, pk):
    """Take money off an invoice it was laid on by mistake."""
    share = get_object_or_404(PaymentAllocation.objects.select_related("payment", "credit"), pk=pk)
    try:
        undo_share(share, person=request.user)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    else:
        messages.success(request, _("It is taken off; the money is the customer’s credit again."))
    if share.payment_id:
        return redirect("orders:payment", share.payment_id)
    return redirect("orders:paper", share.credit_id)


@require_POST
@idempotent
def credit_use(request, pk):
    """Lay all free credit of a customer on the oldest invoices."""
    customer = get_object_or_404(Customer, pk=pk)
    used = allocate_oldest_first(customer, person=request.user)
    messages.success(
        request, _("%(amount)s of credit was used on the oldest papers.") % {"amount": money(used)}
    )
    return redirect("orders:statement", pk)


@idempotent
def credit_lay(request, kind, pk):
    """Lay what is left of a payment or credit note on open papers, by hand."""
    if kind == "payment":
        source: Payment | Document = get_object_or_404(Payment, pk=pk, amount__gt=0)
    else:
        source = get_object_or_404(Document, pk=pk, kind=Document.Kind.CREDIT)
    papers = list(
        Document.objects.open().filter(customer=source.customer_id).oldest_first().defer("content")
    )
    form = LayForm(request.POST or None, open_papers=papers)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            allocate(source, form.laid(), person=request.user)
            messages.success(request, _("The credit is laid on."))
            return redirect("orders:statement", source.customer_id)
    context = {"form": form, "source": source, "left": spendable(source)}
    return form_page(request, "orders/money/credit_lay.html", context)


def _about(request) -> tuple[Customer, Order | None, Document | None]:
    """Whom and what the payment is for, from ?order=, ?paper= or ?customer=."""
    asked = request.GET
    if number := whole_number(asked.get("order")):
        order = get_object_or_404(Order.objects.select_related("customer"), number=number)
        return order.customer, order, None
    if pk := whole_number(asked.get("paper")):
        paper = get_object_or_404(
            Document.objects.owing().select_related("customer", "order"), pk=pk
        )
        return paper.customer, None, paper
    if pk := whole_number(asked.get("customer")):
        return get_object_or_404(Customer, pk=pk), None, None
    raise Http404


def _suggested(order: Order | None, paper: Document | None, *, rest: bool) -> dict:
    """The amount most likely meant: all that is still to pay, or the usual deposit."""
    if paper is not None:
        return {"amount": paper.open_amount, "lay_on": str(paper.pk)}
    if order is not None:
        purse = order_money(order)
        if rest or order.state == Order.State.COLLECTED:
            return {"amount": purse.asks.left or None}
        deposit = max(purse.usual_deposit - purse.paid, 0)
        return {"amount": purse.asks.open or deposit or None}
    return {}


def _said(taken: Payment) -> str:
    if taken.rounding:
        return _("%(coins)s in coins is taken for %(amount)s.") % {
            "coins": money(taken.handed_over),
            "amount": money(taken.amount),
        }
    return _("%(amount)s is taken.") % {"amount": money(taken.amount)}
