"""The cost sheet prints the tree that the page and the command print: every name, every figure."""

import io
import re
from decimal import Decimal
from html import unescape

import pypdf
import pytest
from django.urls import reverse

from orders.costing.working.tree import order_tree
from orders.counter.services.ordering import cost_and_promise, cost_without_loads
from orders.papers.press import to_pdf
from orders.reckoning.papers import cost_sheet_html
from orders.reckoning.working import kept_term
from orders.reckoning.working import shown as shown_tree
from tests.builders import (
    make_bead,
    make_business,
    make_colour,
    make_design,
    make_kiln,
    make_order,
    make_person,
    make_rate,
    put_glass,
)
from tests.orders.reckoning.test_working_everywhere import demo  # noqa: F401  (a fixture)
from workshop import formats
from workshop.formats import written_as
from workshop.models import Business, Person


def figures(term):
    """Name, subject and figure of every term, in the order of the tree."""
    if term.how != "list":
        yield term.name, term.subject, formats.quantity(term.value, term.unit), not term.children
    for child in term.children:
        yield from figures(child)


def one_line(text: str) -> str:
    return re.sub(r"[\s\u00a0\u202f]+", "", text)


@pytest.fixture
def business(demo) -> Business:  # noqa: F811
    return Business.current()


def test_the_sheet_of_every_demo_order_holds_every_leaf(demo, business):  # noqa: F811
    leaves = 0
    for order in demo:
        working = {"tree": order_tree(cost_without_loads(order)).as_dict()}
        with written_as(business):
            html = cost_sheet_html(order, business, working, whole=True)
            text = one_line(unescape(re.sub(r"<[^>]+>", " ", html)))
            at = 0
            for name, subject, figure, leaf in figures(kept_term(working["tree"])):
                row = one_line(f"{name} {subject} {figure}")
                at = text.find(row, at)
                assert at >= 0, (order.number, name, subject, figure)
                leaves += leaf
    assert leaves > 1000


def test_the_pdf_s_own_text_holds_every_leaf(client, db):
    business = make_business(margin=Decimal("0.25"), overhead=Decimal("0.10"))
    make_kiln()
    make_rate()
    put_glass(make_colour(), "powder", 20)
    order = make_order(4, design=make_design(beads=make_bead(porosity=Decimal("0.05"))))
    client.force_login(make_person("owner"))
    pdf = client.get(reverse("orders:cost_sheet", args=[order.number]), {"whole": ""})
    pages = pypdf.PdfReader(io.BytesIO(pdf.content)).pages
    text = one_line(" ".join(page.extract_text() for page in pages))
    with written_as(business):
        told = list(figures(kept_term(order.working["tree"])))
    assert len([leaf for *_rest, leaf in told if leaf]) > 50
    for name, subject, figure, _leaf in told:
        assert one_line(f"{name} {subject}") in text, (name, subject)
        assert one_line(figure) in text, (name, figure)


def test_the_sheet_is_the_page_s_tree(demo, client, business):  # noqa: F811
    client.force_login(Person.objects.filter(role="owner").first())
    number = demo[1].number
    page = client.get(reverse("orders:order_working", args=[number]))
    assert page.context["term"] == shown_tree(order_tree(cost_and_promise(demo[1], business)[0]))


def test_the_first_page_is_the_answer_and_the_working_begins_behind_it(demo, business):  # noqa: F811
    order = max(demo, key=lambda order: order.lines.count())
    costing = cost_without_loads(order)
    working = {"tree": order_tree(costing).as_dict()}
    html = cost_sheet_html(order, business, working)
    pages = [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(to_pdf(html))).pages]
    answer, behind = one_line(pages[0]), one_line(pages[1])
    with written_as(business):
        for sum_ in (costing.price_total, costing.cost, costing.pocket):
            assert one_line(formats.money(sum_)) in answer
        assert one_line(formats.percent(costing.margin)) in answer
        for line in costing.lines:
            for each in (line.cost_each, line.pocket_each, line.lowest, line.price_each):
                assert one_line(formats.money(each)) in answer
    for colour in costing.glass:
        assert colour.name in answer
    for word in ("Kiln", "Hands", "Wherethecostgoes"):
        assert word in answer
    assert behind.startswith("Theworkingbehindit") and "Theworkingbehindit" not in answer
