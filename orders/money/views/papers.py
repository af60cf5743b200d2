"""Papers: the list, one paper, its PDF, and the acts that issue or amend one."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET, require_POST

from orders.models import Document, Order
from orders.money.filters import PaperFilter
from orders.money.forms.money import CompensationForm, CreditForm, InvoiceForm, ReasonForm
from orders.money.papers.files import paper_pdf
from orders.money.services.compensation import keep_as_compensation
from orders.money.services.goods_back import credit_goods
from orders.money.services.invoices import reckon_invoice
from orders.money.services.paper_numbers import pass_paper
from orders.money.services.papers import issue_invoice, issue_quote, quote_stands
from orders.money.services.payments import standing_shares
from orders.money.services.quotes import quote_working
from orders.money.tables import PaperTable
from orders.money.totals import InvoiceTotals
from orders.papers.pages import ROLL_TEMPLATES, TEMPLATES, page
from orders.papers.press import PressMissing
from orders.papers.respond import print_out, printed, printed_roll
from orders.reckoning.papers import cost_sheet_html
from workshop.doors import may
from workshop.formats import date_long, money, percent
from workshop.invoicing_law import caution
from workshop.views.edit import edit_page, form_page, refusals_in
from workshop.views.idempotent import idempotent
from workshop.views.lists import ListPage


class PaperList(ListPage):
    queryset = Document.objects.select_related("customer", "order").defer("content")
    table_class = PaperTable
    filterset_class = PaperFilter
    heading = gettext_lazy("Papers")
    room = "money"
    prints = "papers"
    empty = gettext_lazy("No paper was issued yet. Open an order to issue its quote or invoice.")


@require_GET
def paper(request, pk):
    """One issued paper: what it says, what settled it, what may follow."""
    found = get_object_or_404(
        Document.objects.select_related("customer", "order", "names", "passed"), pk=pk
    )
    context = {
        "paper": found,
        "lines": found.lines.all(),
        "shares": found.payment_shares.select_related("payment", "credit"),
        "used": standing_shares(found) if found.kind == Document.Kind.CREDIT else [],
        "notes": found.named_by.defer("content"),
        "may_credit": found.kind == Document.Kind.INVOICE and _left_to_credit(found),
        "late": found.is_late,
        "may_pass": found.issued_on > timezone.localdate()
        and not hasattr(found, "passed")
        and may(request, "orders:paper_pass", "POST"),
        "may_pay": found.kind in Document.OWING and not found.is_settled,
        "has_pdf": found.kind in TEMPLATES,
        "has_roll": found.kind in ROLL_TEMPLATES,
        "stands": found.kind != Document.Kind.QUOTE or quote_stands(found),
    }
    return render(request, "orders/money/paper.html", context)


def _left_to_credit(found: Document) -> bool:
    lines = found.lines.all()
    if found.on_account:
        return any(line.left_gross for line in lines)
    return any(line.left_quantity for line in lines)


@idempotent
def paper_pass(request, pk):
    """The owner goes past a paper that a clock ran ahead with."""
    found = get_object_or_404(Document.objects.defer("content"), pk=pk)
    return edit_page(
        request,
        ReasonForm(request.POST or None),
        heading=_("Go past %(paper)s") % {"paper": found},
        lead=_(
            "It is dated %(day)s, and today is %(today)s. It keeps its number and its day, and so "
            "does the log what you write here; the next one is dated today."
        )
        % {"day": date_long(found.issued_on), "today": date_long(timezone.localdate())},
        submit_label=_("Go past it"),
        saved=_("The next paper of its kind is dated today."),
        save=lambda form: pass_paper(found, person=request.user, why=form.cleaned_data["reason"]),
        done_url=reverse("orders:paper", args=[pk]),
        back_url=reverse("orders:paper", args=[pk]),
    )


@require_GET
def paper_file(request, pk):
    """The PDF as it was issued."""
    found = get_object_or_404(Document, pk=pk, kind__in=TEMPLATES)
    return print_out(request, lambda boxes: paper_pdf(found, boxes=boxes), found.number, found)


@require_GET
def paper_roll(request, pk):
    """A receipt for the 80 mm printer."""
    found = get_object_or_404(Document, pk=pk, kind__in=ROLL_TEMPLATES)
    return printed_roll(request, page(found.content, roll=True), found.number, found)


@require_GET
def paper_working(request, pk):
    """The working that was frozen with a quote, as a cost sheet."""
    found = get_object_or_404(
        Document.objects.select_related("order__customer"), pk=pk, kind=Document.Kind.QUOTE
    )
    working = quote_working(found)
    if working is None:
        messages.warning(request, _("This quote was given without a working."))
        return redirect("orders:paper", pk)
    html = cost_sheet_html(found.order, request.business, working)
    return printed(request, html, f"{found.number}-working")


@idempotent
def invoice_issue(request, number):
    """Show what would be charged, then issue it."""
    order = get_object_or_404(Order.objects.select_related("customer"), number=number)
    form = InvoiceForm(request.POST or None, order=order, business=request.business)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            issued = issue_invoice(order, person=request.user, **form.told())
            _print_soon(issued)
            messages.success(request, _("%(paper)s is issued.") % {"paper": issued})
            return redirect("orders:paper", issued.pk)
    to_charge, totals, problem = [], None, ""
    try:
        told = form.told() if form.is_bound and form.is_valid() else {}
        to_charge, totals = reckon_invoice(order, **told)
    except ValidationError as error:
        problem = "" if form.is_bound else " ".join(error.messages)
    context = {
        "order": order,
        "form": form,
        "to_charge": list(zip(to_charge, totals.line_nets, strict=True)) if totals else [],
        "totals": totals,
        "problem": problem,
        "changed_rates": _changed_rates(totals) if totals else "",
        "caution": caution(request.business.country),
    }
    return form_page(request, "orders/money/invoice_issue.html", context)


def _changed_rates(totals: InvoiceTotals) -> str:
    """The rates of payments on account that the goods no longer bear, in words; else "".

    Source: Directive 2006/112/EC, articles 93 and 95.
    """
    rates = [each.rate for each in totals.breakdown if each.base < 0]
    return ", ".join(percent(rate / 100) for rate in sorted(rates))


@require_POST
@idempotent
def quote_issue(request, number):
    """Write the order's prices down as a quote."""
    order = get_object_or_404(Order.objects.select_related("customer"), number=number)
    try:
        issued = issue_quote(order, person=request.user)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect("orders:order_detail", number)
    _print_soon(issued)
    messages.success(request, _("%(paper)s is issued.") % {"paper": issued})
    return redirect("orders:paper", issued.pk)


@idempotent
def credit_issue(request, pk):
    """Give back an invoice or part of it."""
    invoice = get_object_or_404(
        Document.objects.select_related("customer"), pk=pk, kind=Document.Kind.INVOICE
    )
    form = CreditForm(request.POST or None, invoice=invoice)
    if request.method == "POST" and form.is_valid():
        everything = "everything" in request.POST
        with refusals_in(form):
            issued = credit_goods(
                invoice,
                form.came_back(),
                person=request.user,
                reason=form.cleaned_data["reason"],
                quantities=None if everything else form.quantities(),
                carriage=form.cleaned_data.get("carriage", False),
            )
            _print_soon(issued)
            messages.success(request, _("%(paper)s is issued.") % {"paper": issued})
            return redirect("orders:paper", issued.pk)
    waiting = sum(line.left_gross for line in invoice.lines.all())
    context = {"invoice": invoice, "form": form, "left": waiting}
    return form_page(request, "orders/money/credit_issue.html", context)


@idempotent
def compensation_keep(request, pk):
    """The owner keeps what was paid on account of a cancelled order, without VAT."""
    found = get_object_or_404(Document.objects.select_related("order__customer"), pk=pk)
    return edit_page(
        request,
        CompensationForm(request.POST or None),
        heading=_("Keep %(sum)s as compensation")
        % {"sum": money(sum(line.left_gross for line in found.lines.all()))},
        lead=_(
            "Its VAT is credited, and the same sum is charged without VAT. Whether the law of your "
            "country sees it so, only an adviser can say."
        ),
        submit_label=_("Keep it"),
        saved=_("It is kept as compensation, without VAT."),
        save=lambda form: keep_as_compensation(
            found,
            person=request.user,
            reason=form.cleaned_data["reason"],
            adviser_agrees=form.cleaned_data["adviser_agrees"],
        ),
        done_url=reverse("orders:paper", args=[pk]),
        back_url=reverse("orders:paper", args=[pk]),
    )


def _print_soon(issued: Document) -> None:
    """Print after the transaction; a paper that cannot be printed now is issued all the same."""

    def print_now() -> None:
        try:
            paper_pdf(issued)
        except PressMissing:
            return  # said when somebody opens the PDF

    transaction.on_commit(print_now, robust=True)
