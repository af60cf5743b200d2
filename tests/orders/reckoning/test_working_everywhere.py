"""Every figure of every demo design opens its tree, and every tree can be worked again."""

import json
from datetime import date
from decimal import Decimal
from io import StringIO

import pytest
from django.core.management import call_command
from django.urls import reverse

from orders.costing.cost_order import cost_order
from orders.costing.working.terms import read_tree, recompute
from orders.costing.working.tree import order_tree
from orders.counter.services.ordering import confirm_order, draft_order
from orders.demo.facts import load_stock, load_wants, load_workshop
from orders.facts.order import order_facts
from orders.models import Customer, Order, StrandDesign, WantedLine
from orders.reckoning.working import kept_term
from stock.models import GlassColour, GlassForm
from tests.builders import put_beads, put_glass
from workshop.models import Person


@pytest.fixture
def demo(db):
    """The demo's standing facts, glass and beads on its shelves, and orders of every design."""
    load_workshop(date(2026, 1, 5))
    load_stock(date(2026, 1, 5))
    load_wants(date(2026, 1, 5))
    owner = Person.objects.filter(role="owner").first()
    for colour in GlassColour.objects.all():
        put_glass(colour, GlassForm.RAW, 3, value=Decimal("0.60"))
        put_glass(colour, GlassForm.POWDER, "0.4")
    designs = list(StrandDesign.objects.order_by("pk"))
    for part in designs[0].parts.filter(bead__isnull=False).select_related("bead"):
        put_beads(part.bead, 9)
    customers = list(Customer.objects.order_by("pk"))
    orders = []
    for number, design in enumerate(designs):
        other = designs[(number + 1) % len(designs)]
        lines = [WantedLine(design.pk, 2 + 5 * number), WantedLine(other.pk, 3, Decimal("9.90"))]
        orders.append(draft_order(customers[number % len(customers)], lines, person=owner))
    confirm_order(orders[0], person=owner, owner_word="agreed")
    return orders


def same(a, b) -> bool:
    """Equal to twenty figures, whatever the order in which many were added."""
    return abs(Decimal(a) - Decimal(b)) <= Decimal("1e-20") * max(1, abs(Decimal(a)))


def test_every_figure_of_every_demo_order_is_worked_again_from_its_children(demo):
    figures = 0
    for order in demo:
        for path, term in order_tree(cost_order(order_facts(order))).paths():
            assert same(recompute(term), term.value), (order.number, path)
            figures += 1
    assert figures > 1000


def test_every_leaf_names_a_design_a_rate_a_record_or_the_stock(demo):
    for order in demo:
        for term in order_tree(cost_order(order_facts(order))).walk():
            if not term.children:
                assert term.source, (order.number, term.name)
                assert term.source != "worked out" or term.value == 0, term


def test_the_kept_working_reads_back_as_the_same_tree(demo):
    order = Order.objects.get(pk=demo[0].pk)
    tree = read_tree(json.loads(json.dumps(order.working["tree"])))
    for path, term in tree.paths():
        assert same(recompute(term), term.value), path


def test_the_command_prints_the_tree_that_the_page_shows(demo, client):
    client.force_login(Person.objects.filter(role="owner").first())
    for number in (demo[0].number, demo[1].number):
        out = StringIO()
        call_command("cost", str(number), "--json", stdout=out)
        page = client.get(reverse("orders:order_working", args=[number]))
        assert kept_term(json.loads(out.getvalue())) == page.context["term"]


def test_a_confirmed_order_keeps_its_tree_when_the_standards_change(demo):
    out = StringIO()
    call_command("cost", str(demo[0].number), "--json", stdout=out)
    for row in demo[0].lines.all():
        for part in row.design.parts.filter(bead__isnull=False).select_related("bead"):
            part.bead.reject_rate = Decimal("0.5")
            part.bead.save()
    again, now = StringIO(), StringIO()
    call_command("cost", str(demo[0].number), "--json", stdout=again)
    call_command("cost", str(demo[0].number), "--json", "--now", stdout=now)
    assert again.getvalue() == out.getvalue() != now.getvalue()


@pytest.mark.parametrize("state", ["confirmed", "draft"])
def test_the_pages_of_an_order_open_their_figures(demo, client, state):
    client.force_login(Person.objects.filter(role="owner").first())
    number = demo[0 if state == "confirmed" else 1].number
    working = client.get(reverse("orders:order_working", args=[number])).content.decode()
    for name in ("Beads to start", "Prepared glass needed", "Cost", "Margin", "Lowest price"):
        assert name in working, name
    detail = client.get(reverse("orders:order_detail", args=[number])).content.decode()
    assert 'class="working"' in detail or reverse("orders:order_working", args=[number]) in detail


def test_the_page_of_each_design_opens_what_one_costs(demo, client):
    client.force_login(Person.objects.filter(role="owner").first())
    for design in StrandDesign.objects.all():
        page = client.get(reverse("orders:design_detail", args=[design.pk]))
        assert 'class="working"' in page.content.decode(), design


def test_a_what_if_opens_its_figures_too(demo, client):
    client.force_login(Person.objects.filter(role="owner").first())
    order = demo[1]
    told = {f"n_{place}": str(row.strands + 1) for place, row in enumerate(order.lines.all())}
    page = client.post(reverse("orders:order_what_if", args=[order.number]), told)
    assert page.status_code == 200
    words = page.content.decode()
    assert "The working as it would be" in words and 'class="working"' in words
    assert page.context["comparison"].working.children
