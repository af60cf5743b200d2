"""Reminder links, by the examples of the standards (their wording from memory).

RFC 5724, 2.3: sms:+15105550101?body=hello%20there
RFC 6068, 6.1: mailto:infobot@example.com?body=send%20current-issue%0D%0Asend%20index
"""

from decimal import Decimal
from urllib.parse import unquote

import pytest

from orders.money.papers.reminders import mail_link, sms_link
from orders.money.queries.statements import statement_of, usual_first_day
from orders.money.services.papers import issue_invoice
from orders.money.services.payments import doubtful_number
from orders.money.views.accounts import reminder_for
from tests.builders import make_business
from tests.orders.money.setting import order_of, trader


def test_a_text_message_opens_with_its_words():
    assert sms_link("+15105550101", "hello there") == "sms:+15105550101?body=hello%20there"


def test_a_mail_opens_with_line_ends_as_mail_writes_them():
    link = mail_link("infobot@example.com", "", "send current-issue\nsend index")
    assert link.endswith("&body=send%20current-issue%0D%0Asend%20index")
    assert link.startswith("mailto:infobot@example.com?subject=")


def test_an_address_cannot_add_headers_of_its_own():
    link = mail_link("a@b.example?bcc=c@d.example", "To pay", "x")
    assert link.startswith("mailto:a@b.example%3Fbcc%3Dc@d.example?subject=")


@pytest.mark.django_db
def test_the_words_name_each_open_paper_and_their_sum():
    business = make_business(country="PT")
    customer = trader(phone="912 345 678")
    first = issue_invoice(order_of((1, "10"), customer=customer), person=None)
    second = issue_invoice(order_of((1, "2.50"), customer=customer), person=None)
    reminder = reminder_for(statement_of(customer, usual_first_day()), business)
    for expected in (first.number, second.number, "€10.00", "Together €12.50", "Tidewrack Beads"):
        assert expected in reminder.text
    assert reminder.sms.startswith("sms:+351912345678?body=")
    assert unquote(reminder.sms.partition("body=")[2]) == reminder.text
    assert reminder.mail == ""
    assert first.total == Decimal(10)


def test_a_number_of_the_right_length_that_nobody_has_is_doubted_not_refused():
    assert not doubtful_number("+351912345678")
    assert doubtful_number("+351000000000")
