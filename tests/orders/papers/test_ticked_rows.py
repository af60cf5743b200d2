"""Rows ticked in a list are printed together, one after the other."""

from decimal import Decimal
from io import BytesIO

import pikepdf
import pytest
from django.urls import reverse

from orders.models import Document, LongPaper
from orders.money.services.opening import open_balance
from orders.money.services.quotes import issue_quote
from orders.papers import long_run
from tests.builders import (
    make_business,
    make_customer,
    make_design,
    make_draft,
    make_kiln,
    make_person,
    make_rate,
)

pytestmark = [pytest.mark.django_db, pytest.mark.papers]

ASK = reverse("orders:long_paper_ask")


@pytest.fixture
def three_papers(client):
    make_business(), make_kiln(), make_rate()
    owner = make_person("owner")
    customer, design = make_customer(), make_design()
    for strands in (1, 2, 3):
        issue_quote(make_draft(strands, design=design, customer=customer), person=owner)
    open_balance(customer, Decimal(10), person=owner)
    client.force_login(owner)
    return list(Document.objects.order_by("pk"))


def test_ticked_papers_come_as_one_file(client, three_papers):
    first, _left_out, last, brought_forward = three_papers
    page = client.get(reverse("orders:paper_list")).content.decode()
    assert f'value="{first.pk}"' in page and "Print the ticked ones" in page
    answer = client.post(ASK, {"kind": "papers", "rows": [last.pk, first.pk, brought_forward.pk]})
    paper = LongPaper.objects.get()
    assert answer.url == reverse("orders:long_paper", args=[paper.pk])
    assert long_run.print_long(paper)
    file = client.get(reverse("orders:long_paper_file", args=[paper.pk]))
    with pikepdf.open(BytesIO(file.content)) as pdf:
        assert len(pdf.pages) == 2


@pytest.mark.parametrize("rows", [[], ["x"], list(range(1, 300))])
def test_none_or_too_many_are_told_in_a_sentence(client, three_papers, rows):
    answer = client.post(ASK, {"kind": "papers", "rows": rows}, follow=True)
    assert answer.redirect_chain[0][0] == reverse("orders:paper_list")
    words = "at most 200" if len(rows) > 200 else "Tick the rows"
    assert words in answer.content.decode()
    assert not LongPaper.objects.exists()


def test_a_balance_brought_forward_has_no_paper(client, three_papers):
    answer = client.post(ASK, {"kind": "papers", "rows": [three_papers[-1].pk]}, follow=True)
    assert "no paper to print" in answer.content.decode()


def test_who_may_not_print_is_offered_no_ticks(client, three_papers):
    client.force_login(make_person("kiln"))
    page = client.get(reverse("orders:order_list")).content.decode()
    assert 'name="rows"' not in page and "Print the slips" not in page
