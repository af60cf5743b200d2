"""Each step of the working is a sentence with its own numbers; shares are told in per cent."""

import re
from decimal import Decimal

import pytest
from django.urls import reverse

from orders.costing.operations import OPERATIONS
from orders.costing.working.terms import Term
from orders.reckoning.sentences import SENTENCES, figure_said, rule_said, sentence_of
from tests.builders import make_order, make_person

pytestmark = pytest.mark.django_db
D = Decimal


def term(name: str, value, unit: str = "", how: str = "given", *parts: Term) -> Term:
    return Term(name, value, unit, how, "measured", parts)


def plain(text: str) -> str:
    return text.replace("\u00a0", " ")


def test_a_division_that_is_rounded_up_shows_both_numbers():
    fills = term(
        "Mould fills", 14, "moulds", "rounded_up", term("Beads wanted", 164, "beads"),
        term("Cavities", 12, "beads"),
    )  # fmt: skip
    assert plain(sentence_of(fills)) == "164 beads wanted ÷ 12 beads cavities, rounded up"
    assert rule_said(fills) == "a ÷ b, rounded up (a: Beads wanted, b: Cavities)"


def test_shares_are_told_in_per_cent_and_money_in_its_currency():
    assert plain(figure_said(term("Margin", D("0.2372")))) in {"23.7%", "23.72%", "24%"}
    assert "253.25" in figure_said(term("Full cost", D("253.25"), "EUR"))
    assert figure_said(term("Times the usual", D("0.5"))) == "0.5"


def test_a_share_and_its_name_do_not_run_together():
    overhead = term(
        "Overhead", D("26.32"), "EUR", "product", term("What the goods cost", D("219.31"), "EUR"),
        term("Overhead", D("0.12")),
    )  # fmt: skip
    assert plain(sentence_of(overhead)).endswith("what the goods cost × 12% overhead")


def test_beads_to_start_are_told_with_the_certainty_asked_for():
    start = term(
        "Beads to start", 164, "beads", "start", term("Beads wanted", 144, "beads"),
        term("Reject rate", D("0.09")), term("Assurance", D("0.95")),
    )  # fmt: skip
    said = plain(sentence_of(start))
    assert "144 beads" in said and "9" in said and "95" in said
    assert "a " not in re.sub("[a-z]{2,}", "", said)  # no letter stands for a number


def test_a_long_sum_names_its_first_parts_and_counts_the_rest():
    many = term("Labour", 70, "min", "sum", *[term(f"Step {n}", 10, "min") for n in range(7)])
    assert plain(sentence_of(many)).endswith("10 min step 3 + 3 more")


def test_a_rule_that_is_no_longer_known_is_told_as_it_was_kept():
    assert sentence_of(term("Old", 1, "", "a rule of old", term("Part", 1))) == ""


@pytest.mark.parametrize("how", sorted(SENTENCES))
def test_every_sentence_belongs_to_an_operation_and_takes_its_parts(how):
    assert how in OPERATIONS
    parts = [term(f"Part {n}", n + 1, "g") for n in range(4)]
    said = sentence_of(term("Whole", 1, "g", how, *parts))
    assert "part 0" in said and "%(" not in said


def test_the_page_of_an_orders_working_puts_the_numbers_in(client, workshop):
    order = make_order(4, design=workshop["design"])
    client.force_login(make_person("owner"))
    page = client.get(reverse("orders:order_working", args=[order.number])).content.decode()
    lines = re.findall(r'class="term-how"\s*>([^<]*)<', page)
    assert not [line for line in lines if re.search(r"\b[ab] [+×÷−] ", line)]
    assert any("%" in line for line in lines)
