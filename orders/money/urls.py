"""Addresses of the money room and of its papers."""

from django.urls import URLPattern, path

from orders.money.views import (
    accounts,
    bookkeeper,
    bring_in,
    drawers,
    packing,
    papers,
    pay,
    payments,
)

urlpatterns: list[URLPattern] = [
    path("money/", accounts.money, name="money"),
    path("money/statements.pdf", accounts.statements_pdf, name="statements_pdf"),
    path("money/accounts/<int:pk>/", accounts.statement, name="statement"),
    path("money/accounts/<int:pk>/statement.pdf", accounts.statement_pdf, name="statement_pdf"),
    path("money/accounts/<int:pk>/refund/", payments.refund_give, name="refund_give"),
    path("money/accounts/<int:pk>/use-credit/", payments.credit_use, name="credit_use"),
    path("money/papers/", papers.PaperList.as_view(), name="paper_list"),
    path("money/papers/<int:pk>/", papers.paper, name="paper"),
    path("money/papers/<int:pk>/paper.pdf", papers.paper_file, name="paper_pdf"),
    path("money/papers/<int:pk>/roll.pdf", papers.paper_roll, name="paper_roll"),
    path("money/papers/<int:pk>/working.pdf", papers.paper_working, name="paper_working"),
    path("money/papers/<int:pk>/credit/", papers.credit_issue, name="credit_issue"),
    path("money/payments/", payments.PaymentList.as_view(), name="payment_list"),
    path("money/payments/take/", payments.payment_take, name="payment_take"),
    path("money/payments/<int:pk>/", payments.payment, name="payment"),
    path("money/payments/<int:pk>/take-back/", payments.payment_reverse, name="payment_reverse"),
    path("money/shares/<int:pk>/take-off/", payments.share_undo, name="share_undo"),
    path("money/lay/<str:kind>/<int:pk>/", payments.credit_lay, name="credit_lay"),
    path("money/pay/", pay.pay, name="pay"),
    path("money/pay/<int:pk>/", pay.pay_one, name="pay_one"),
    path("money/pay/slips/<int:pk>/", pay.pay_slip, name="pay_slip"),
    path("money/pay/slips/<int:pk>/slip.pdf", pay.pay_slip_pdf, name="pay_slip_pdf"),
    path("money/payouts/<int:pk>/slip.pdf", pay.collector_slip_pdf, name="payout_pdf"),
    path("money/for-the-bookkeeper/", bookkeeper.money_export, name="money_export"),
    path("money/bring-in/", bring_in.money_import, name="money_import"),
    path("money/drawer/", drawers.drawer, name="drawer"),
    path("orders/<int:number>/packing/", packing.packing_list, name="packing_list"),
    path("orders/<int:number>/invoice/", papers.invoice_issue, name="invoice_issue"),
    path("orders/<int:number>/quote/", papers.quote_issue, name="quote_issue"),
]
