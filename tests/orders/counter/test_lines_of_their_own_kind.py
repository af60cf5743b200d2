"""A line of its own kind: a design in another length or bead, loose beads, work on a piece.

The bead of these tests is round, 10 mm across with a 2 mm bore: √(10² − 2²) = 9.798 mm are left
of it along the bore, so 18 of them lie on 18 cm and ⌊200 ÷ 9.798⌋ = 20 on 20 cm.
"""

import math
import re
from datetime import date
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from orders.costing.worn import strung_for
from orders.counter.services.collecting import collect_order
from orders.counter.services.ordering import confirm_order, cost_without_loads, draft_order
from orders.counter.services.sale_returns import CameBack, take_sale_back
from orders.designs.queries.designs import designs_by_use
from orders.designs.services.as_asked import Asked, as_asked, loose_beads, work_on_a_piece
from orders.drawn.strands import Draughtsman
from orders.making.services.progress import string_for
from orders.models import DesignPrice, Order, Sale, StrandDesign, WantedLine
from orders.money.services.invoices import issue_invoice
from orders.money.services.payments import PaymentDetails
from stock.models import Balance, LocationKind
from stock.services.check import first_difference
from tests.builders import make_bead, make_customer, make_rate, put_beads
from workshop.models import AuditEntry, Person

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner(workshop) -> Person:
    return Person.objects.get(role="owner")


def on_it(design: StrandDesign) -> dict[str, int]:
    """Beads on one strand, by name."""
    drawer = Draughtsman([design])
    names = drawer.drafts[design.pk].pieces.names
    return {names[int(key)]: each for key, each in drawer.layout(design.pk).beads}


def take(design: StrandDesign, strands: int, person: Person, price: str | None = None) -> Order:
    line = WantedLine(design.pk, strands, Decimal(price) if price else None)
    order = draft_order(make_customer(), [line], person=person)
    return confirm_order(order, person=person).order


def test_a_design_in_another_length_is_laid_in_that_length(workshop, owner):
    longer = as_asked(workshop["design"], Asked(length_mm=Decimal(200)), person=owner)
    assert on_it(longer) == {"Green round": 20}
    assert longer.name == "Harbour bracelet, 20 cm"
    assert longer not in designs_by_use()


def test_the_same_asked_for_again_is_the_same_row(workshop, owner):
    asked = Asked(length_mm=Decimal(200))
    assert as_asked(workshop["design"], asked, person=owner) == as_asked(
        workshop["design"], asked, person=owner
    )
    longer = as_asked(workshop["design"], asked, person=owner)
    assert as_asked(longer, Asked(length_mm=Decimal(180)), person=owner) == workshop["design"]


def test_one_bead_takes_anothers_place(workshop, owner):
    big = make_bead("Amber round", diameter_mm=12)
    amber = as_asked(
        workshop["design"], Asked(instead=((workshop["bead"].pk, big.pk),)), person=owner
    )
    # √(12² − 2²) = 11.832 mm along the bore: ⌊180 ÷ 11.832⌋ = 15
    assert on_it(amber) == {"Amber round": 15}
    assert amber.name == "Harbour bracelet, Amber round for Green round"


def test_a_wrist_asks_for_more_cord_than_it_measures(workshop, owner):
    # Beads of 10 mm lie with their middle 5 mm outside the skin: 2 π (r + 5) is 31.4 mm more.
    worn = as_asked(workshop["design"], Asked(worn=("wrist", Decimal(160))), person=owner)
    around = 2 * math.pi * (160 / (2 * math.pi) + 5)
    assert float(worn.finished_mm) == pytest.approx(around + 10, abs=0.1)  # and 10 mm to move
    assert strung_for("wrist", Decimal(160), Decimal(0)) == 170


def test_what_a_variant_is_made_of_is_held_and_strung_as_itself(workshop, owner):
    put_beads(workshop["bead"], 50)
    longer = as_asked(workshop["design"], Asked(length_mm=Decimal(200)), person=owner)
    order = take(longer, 2, owner)
    string_for(order.lines.get(), 2, person=owner)
    longer.refresh_from_db()
    assert longer.item != workshop["design"].item
    shelf = Balance.objects.at(LocationKind.STRAND_SHELF)
    assert shelf.get(item=longer.item).quantity == 2
    collect_order(Order.objects.get(pk=order.pk), person=owner)


@pytest.mark.parametrize(
    ("asked", "sentence"),
    [
        (Asked(), "another length, a size, or the bead"),
        (Asked(length_mm=Decimal(9000)), "cannot be strung"),
        (Asked(length_mm=Decimal(180)), "another length, a size, or the bead"),
        (Asked(instead=((0, 0),)), "no such bead"),
    ],
)
def test_what_cannot_be_made_so_is_said(workshop, owner, asked, sentence):
    with pytest.raises(ValidationError, match=sentence):
        as_asked(workshop["design"], asked, person=owner)
    assert StrandDesign.objects.count() == 1


# --- loose beads --------------------------------------------------------------------------------


def test_loose_beads_are_held_by_count_and_bear_no_stringing(workshop, owner):
    put_beads(workshop["bead"], 200)
    loose = loose_beads(workshop["bead"], person=owner)
    order = take(loose, 144, owner, "0.40")
    assert order.total == Decimal("57.60")
    (hold,) = order.allocations.all()
    assert hold.quantity == 144
    assert cost_without_loads(order).lines[0].labour_cost == 0
    collect_order(order, person=owner)
    left = Balance.objects.filter(place__kind=LocationKind.BEAD_SHELF)
    assert sum(left.values_list("quantity", flat=True)) == 200 - 144
    assert issue_invoice(Order.objects.get(pk=order.pk), person=owner).total == Decimal("57.60")


# --- work on a piece ----------------------------------------------------------------------------


def test_work_costs_its_minutes_at_the_pay_of_its_skill(workshop, owner):
    make_rate("Knotting", skill="polishing", hourly=Decimal(12), minutes_each=3)
    work = work_on_a_piece("Polish a heirloom", {"polishing": Decimal(30)}, person=owner)
    order = take(work, 2, owner)
    assert order.cost == Decimal("13.2")  # 2 × 30 min at 12 an hour = 12, and 10 % of office
    assert not order.jobs.exists() and not order.allocations.exists()
    assert order.p90_on is not None
    collect_order(order, person=owner)
    assert AuditEntry.objects.filter(act="do work").exists()
    assert Order.objects.get(pk=order.pk).state == Order.State.COLLECTED


def test_work_whose_skill_has_no_pay_is_refused(workshop, owner):
    with pytest.raises(ValidationError, match="No pay is written for painting"):
        work_on_a_piece("Paint it", {"painting": Decimal(5)}, person=owner)


# --- at the counter -----------------------------------------------------------------------------


def sent(client, design, act: str, **boxes: str):
    pk = design.pk
    data = {"line": [str(pk)], f"n_{pk}": "3", "do": act} | boxes
    return client.post(reverse("orders:counter_change"), data)


def test_a_press_at_the_counter_puts_the_variant_in_the_lines_place(client, workshop):
    client.force_login(Person.objects.get(role="counter"))
    design = workshop["design"]
    page = sent(client, design, f"vary:{design.pk}", **{f"as{design.pk}-length": "20 cm"})
    made = StrandDesign.objects.get(sort="variant")
    told = page.content.decode()
    assert f'hx-swap-oob="outerHTML:#line-{design.pk}"' in told
    assert f'name="n_{made.pk}" value="3"' in told


@pytest.mark.parametrize(
    ("boxes", "sentence"),
    [
        ({}, "Write another length, a size, or a bead"),
        ({"length": "20 kg"}, "length"),
        ({"length": "20 cm", "where": "wrist", "around": "16 cm"}, "not both"),
        ({"around": "16 cm"}, "Say where it is worn"),
        ({"new": "Nosuch"}, "No bead is called"),
    ],
)
def test_what_is_wrong_with_a_variant_is_said_at_its_box(client, workshop, boxes, sentence):
    client.force_login(Person.objects.get(role="counter"))
    design = workshop["design"]
    named = {f"as{design.pk}-{name}": value for name, value in boxes.items()}
    named.setdefault(f"as{design.pk}-old", str(workshop["bead"].pk))
    told = sent(client, design, f"vary:{design.pk}", **named).content.decode()
    assert sentence in told
    for value in boxes.values():
        assert value in told
    assert StrandDesign.objects.count() == 1


def test_without_scripts_the_whole_page_comes_back_with_the_line(client, workshop):
    client.force_login(Person.objects.get(role="counter"))
    pk = workshop["design"].pk
    data = {"line": [str(pk)], f"n_{pk}": "3", "do": f"vary:{pk}", f"as{pk}-length": "20 cm"}
    told = client.post(reverse("orders:counter"), data).content.decode()
    made = StrandDesign.objects.get(sort="variant")
    assert f'name="n_{made.pk}" value="3"' in told


def test_loose_beads_are_asked_for_by_weight_and_by_the_gross(client, workshop):
    client.force_login(Person.objects.get(role="counter"))
    put_beads(workshop["bead"], 500)
    told = sent(client, workshop["design"], "loose", **{"loose-bead": "green round"})
    loose = StrandDesign.objects.get(sort="loose")
    assert f'name="n_{loose.pk}" value="144"' in told.content.decode()
    bead = workshop["bead"]
    bead.weighed_mg, bead.weighed_count = 1250, 40
    bead.save()
    data = {"line": [str(loose.pk)], f"n_{loose.pk}": "500 g", "do": "work"}
    told = client.post(reverse("orders:counter_panel"), data).content.decode()
    assert counted(told) == "400"  # 500 g ÷ 1.25 g
    data[f"n_{loose.pk}"] = "2 gross"
    told = client.post(reverse("orders:counter_panel"), data).content.decode()
    assert counted(told) == "288"


def counted(told: str) -> str:
    return re.search(r"counted soft small[^>]*>=\s*(\d+)", told)[1]


def test_work_without_minutes_keeps_what_was_typed(client, workshop):
    client.force_login(Person.objects.get(role="counter"))
    boxes = {"work-name": "Restring a choker", "work-skill": "stringing"}
    told = sent(client, workshop["design"], "work-on", **boxes).content.decode()
    assert "Write how many minutes it takes." in told and "Restring a choker" in told


# --- loose beads at the sale --------------------------------------------------------------------


def selling(client, **boxes: str):
    page = client.get(reverse("orders:sell")).content.decode()
    hidden = dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)"', page))
    told = client.post(reverse("orders:sell_panel"), hidden | boxes).content.decode()
    seen = re.search(r'name="seen" value="([^"]*)"', told)
    return client.post(reverse("orders:sell"), hidden | boxes | {"seen": seen[1] if seen else ""})


def test_loose_beads_are_sold_off_the_bead_shelf(client, workshop):
    client.force_login(Person.objects.get(role="counter"))
    put_beads(workshop["bead"], 100, made_on=date(2026, 1, 5))
    selling(client, do="loose", **{"loose-bead": "Green round"})
    loose = StrandDesign.objects.get(sort="loose")
    sold = selling(client, do="pay:cash", **{f"n_{loose.pk}": "2 dozen", f"p_{loose.pk}": "0.5"})
    sale = Sale.objects.get()
    assert sold.status_code == 302 and sale.invoice.total == Decimal("12.00")
    left = Balance.objects.filter(place__kind=LocationKind.BEAD_SHELF)
    assert sum(left.values_list("quantity", flat=True)) == 100 - 24
    # What comes back lies counted out, and is sold first the next time.
    line = sale.order.lines.get()
    take_sale_back(
        sale,
        [CameBack(line.pk, 4, 0)],
        person=Person.objects.get(role="owner"),
        reason="too many",
        way=PaymentDetails(),
    )
    selling(client, do="pay:cash", **{f"n_{loose.pk}": "5", f"p_{loose.pk}": "0.5"})
    assert sum(left.values_list("quantity", flat=True)) == 100 - 24 - 1


def test_more_loose_beads_than_lie_free_are_not_sold(client, workshop):
    client.force_login(Person.objects.get(role="counter"))
    put_beads(workshop["bead"], 10)
    selling(client, do="loose", **{"loose-bead": "Green round"})
    loose = StrandDesign.objects.get(sort="loose")
    told = selling(client, do="pay:cash", **{f"n_{loose.pk}": "11", f"p_{loose.pk}": "0.5"})
    assert told.status_code == 422
    assert "10 lie on the shelf and 11 were written" in told.content.decode()
    assert not Sale.objects.exists()


def test_a_bead_of_which_none_lies_free_is_not_shown_for_sale(client, workshop):
    client.force_login(Person.objects.get(role="counter"))
    put_beads(make_bead("Amber round"), 5)
    told = selling(client, do="loose", **{"loose-bead": "Green round"}).content.decode()
    assert "none lie free on the shelf" in told
    assert not StrandDesign.objects.filter(sort="loose").exists()


# --- their pages and papers ---------------------------------------------------------------------


def test_what_was_made_for_an_order_is_shown_and_stays_as_it_was_asked(client, workshop, owner):
    client.force_login(owner)
    put_beads(workshop["bead"], 60)
    longer = as_asked(workshop["design"], Asked(length_mm=Decimal(200)), person=owner)
    loose = loose_beads(workshop["bead"], person=owner)
    work = work_on_a_piece("Restring a choker", {"stringing": Decimal(20)}, person=owner)
    lines = [WantedLine(each.pk, 2, Decimal(9)) for each in (longer, loose, work)]
    order = confirm_order(draft_order(make_customer(), lines, person=owner), person=owner).order

    def page(name: str, pk: int) -> tuple[int, str]:
        answer = client.get(reverse(f"orders:{name}", args=[pk]))
        return answer.status_code, answer.content.decode(errors="replace")

    for each in (longer, loose, work):
        assert page("design_detail", each.pk)[0] == 200
        assert page("design_change", each.pk)[0] == 404
    assert "stringing 20 min" in " ".join(page("design_detail", work.pk)[1].split())
    assert page("design_string", work.pk)[0] == 404
    told = page("order_detail", order.number)[1]
    assert "0 of 2 counted out" in told and "0 of 2 done" in told and "0 of 2 strung" in told
    assert page("order_holds", order.number)[0] == page("order_working", order.number)[0] == 200
    collect_order(order, person=owner)
    invoice = issue_invoice(Order.objects.get(pk=order.pk), person=owner)
    assert [line["words"] for line in invoice.content["lines"]] == [
        "Harbour bracelet, 20 cm",
        "Green round, loose",
        "Restring a choker",
    ]
    assert page("packing_list", order.number)[0] in {200, 302}
    assert first_difference() is None


def test_loose_beads_have_a_list_price_as_designs_have(client, workshop, owner):
    loose = loose_beads(workshop["bead"], person=owner)
    work = work_on_a_piece("Restring a choker", {"stringing": Decimal(20)}, person=owner)
    put_beads(workshop["bead"], 300)
    client.force_login(owner)
    shown = client.get(reverse("orders:design_price_add")).content.decode()
    assert f'<option value="{loose.pk}"' in shown and f'<option value="{work.pk}"' not in shown
    DesignPrice.objects.create(
        design=loose, from_strands=144, price=Decimal("0.25"), valid_from=date(2026, 1, 1)
    )
    assert take(loose, 288, owner).total == Decimal("72.00")  # by the gross, 0.25 each
