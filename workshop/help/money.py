"""Help for whoever keeps the money and the papers."""

from django.utils.translation import gettext_lazy as _

from workshop.help.made_of import Chapter, Help, pages

CHAPTER = Chapter("bookkeeper", _("Money and papers"), (
    Help(
        _("Money"),
        _("This is who owes, who is owed, and what comes in."),
        _("Begin with what is late: one line, one call."),
        _("A deposit held for an open order is not yours to spend."),
        pages("money statement deposit_settle refund_give", "orders"),
        ("deposit", "on_account"), "pay",
    ),
    Help(
        _("Payments"),
        _("Here you write each payment, and which papers it settles."),
        _("Choose who paid, how, and how much; the oldest papers come first."),
        _("A payment is not wiped out: a wrong one is taken back by another."),
        pages("payment_list payment_take payment payment_reverse share_undo credit_lay credit_use",
              "orders"),
        ("deposit",), "pay",
    ),
    Help(
        _("Papers"),
        _("These are the quotes, invoices and receipts, as they were issued."),
        _("Open a paper to print it again; it never changes."),
        _("A wrong invoice is set right by a credit note, never by changing it."),
        pages("paper_list paper paper_pass invoice_issue quote_issue credit_issue"
              " compensation_keep long_paper_ask long_paper", "orders"),
        ("credit",), "order",
    ),
    Help(
        _("The drawer"),
        _("Here you count the cash of the day against the book."),
        _("Count twice, then write what lies in the drawer."),
        _("Write a difference as it is; hiding it makes two."),
        pages("drawer", "orders"),
        (), "count",
    ),
    Help(
        _("Pay the hands"),
        _("This is what each hand has earned, by the piece and by the hour."),
        _("Look at the tickets, then pay and print the slip."),
        _("Hours and deductions follow your country's law: ask whoever knows it."),
        pages("pay pay_one pay_slip", "orders"),
        (), "hand_over",
    ),
    Help(
        _("The month and the year"),
        _("This is what came in, what went out, and what is left."),
        _("Choose the month; open a figure to see what it is made of."),
        _("A month with missing logs looks better than it was."),
        pages("money_export month_account month_tickets month_loads year_excess what_pays",
              "orders"),
        ("overhead", "full_cost"), "count",
    ),
))  # fmt: skip
