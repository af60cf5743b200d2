"""An order from the counter to its promise.

The bead of these tests is round, 10 mm across with a 2 mm bore. What is left of it along the
bore is √(10² − 2²) = 9.798 mm, so ⌊180 ÷ 9.798⌋ = 18 of them lie on an 18 cm strand.
"""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.utils import timezone

from orders.costing.cost_order import cost_order
from orders.counter.services import ordering
from orders.counter.services.ordering import cancel_order, change_draft, confirm_order, draft_order
from orders.counter.services.reopening import reopen_order
from orders.facts.order import facts_for, order_facts
from orders.making.services.progress import string_for
from orders.models import (
    DesignPrice,
    GlassNeed,
    Order,
    Stage,
    StockReservation,
    WantedLine,
    WorkOrder,
)
from stock.models import Balance, GlassForm
from tests.builders import (
    make_colour,
    make_customer,
    make_design,
    make_draft,
    make_order,
    make_person,
    put_beads,
    put_glass,
)
from workshop.models import AuditEntry, ClosedDay, WorkingHours

pytestmark = pytest.mark.django_db


def held(item) -> int:
    return sum(Balance.objects.filter(item=item).values_list("reserved", flat=True))


def test_an_order_holds_the_older_batch_first(workshop):
    newer = put_beads(workshop["bead"], 100, made_on=date(2026, 3, 2))
    older = put_beads(workshop["bead"], 10, made_on=date(2026, 2, 2))
    make_order(1, design=workshop["design"])
    assert (held(older), held(newer)) == (10, 8)  # 18 on the strand


def test_only_what_the_shelf_lacks_is_made(workshop):
    put_beads(workshop["bead"], 10)
    order = make_order(2, design=workshop["design"])
    job = order.jobs.get()
    assert job.needed == 2 * 18 - 10
    assert job.to_start > job.needed  # some of a load are rejects


def test_an_order_that_lies_ready_makes_nothing(workshop):
    put_beads(workshop["bead"], 18)
    order = make_order(1, design=workshop["design"])
    assert not order.jobs.exists()
    assert order.stage == Stage.FINISHED


def test_beads_wait_for_glass_that_is_not_prepared(workshop):
    order = make_order(1, design=workshop["design"])
    assert order.jobs.get().step == WorkOrder.Step.GLASS
    assert order.stage == Stage.TAKEN


def test_beads_are_to_be_moulded_when_their_glass_lies_prepared(workshop):
    put_glass(make_colour(), GlassForm.POWDER, 5)
    order = make_order(1, design=workshop["design"])
    assert order.jobs.get().step == WorkOrder.Step.MOULDING
    assert order.stage == Stage.GLASS


def test_glass_that_one_order_will_take_is_not_free_for_the_next(workshop):
    green = make_colour()
    put_glass(green, GlassForm.POWDER, 5)
    line = [WantedLine(workshop["design"].pk, 1)]
    before = facts_for(line).workshop.colours[green.pk].forms[0].free_g
    order = make_order(10, design=workshop["design"])
    claimed_g = Decimal(order.glass_needs.get().needed_mg) / 1000
    after = facts_for(line).workshop.colours[green.pk].forms[0].free_g
    assert claimed_g > 100
    assert before - after == claimed_g


def test_what_an_order_holds_itself_counts_as_free_for_it(workshop):
    put_beads(workshop["bead"], 18)
    order = make_order(1, design=workshop["design"])
    assert cost_order(order_facts(order)).beads[0].from_shelf == 18
    other = facts_for([WantedLine(workshop["design"].pk, 1)])
    assert cost_order(other).beads[0].from_shelf == 0


def test_two_orders_never_hold_the_same_bead(workshop):
    shelf = put_beads(workshop["bead"], 20)
    first = make_order(1, design=workshop["design"])
    second = make_order(1, design=workshop["design"])
    assert held(shelf) == 20
    assert [a.quantity for a in first.allocations.all()] == [18]
    assert [a.quantity for a in second.allocations.all()] == [2]


def test_a_shelf_emptied_meanwhile_says_who_took_it_and_saves_nothing(workshop, monkeypatch):
    put_beads(workshop["bead"], 18)
    draft = make_draft(1, design=workshop["design"])
    stale = ordering.cost_and_promise(draft)  # the figures as they were before somebody else came
    make_order(1, design=workshop["design"], customer=make_customer("Tomas Reku"))
    monkeypatch.setattr(ordering, "cost_and_promise", lambda order, business=None: stale)
    with pytest.raises(ValidationError) as refused:
        confirm_order(draft, person=make_person("counter"))
    sentence = " ".join(refused.value.messages)
    assert "Tomas Reku" in sentence
    assert "0 are free now and 18 were wanted" in sentence
    draft.refresh_from_db()
    assert draft.state == Order.State.DRAFT
    assert not draft.allocations.exists() and not draft.jobs.exists()


def test_cancelling_frees_what_was_held(workshop):
    shelf = put_beads(workshop["bead"], 18)
    order = make_order(3, design=workshop["design"])
    cancel_order(order, person=make_person("counter"), why="fair rained off")
    assert held(shelf) == 0
    assert not StockReservation.objects.exists() and not GlassNeed.objects.exists()
    assert not order.jobs.exists()
    assert AuditEntry.objects.get(act="cancel order").after["why"] == "fair rained off"


def test_a_cancelled_order_is_not_cancelled_again(workshop):
    order = make_order(1, design=workshop["design"])
    cancel_order(order, person=make_person("counter"))
    with pytest.raises(ValidationError, match="was changed by .* meanwhile"):
        cancel_order(order, person=make_person("counter"))


def test_an_order_is_confirmed_once(workshop):
    draft = make_draft(1, design=workshop["design"])
    stale = Order.objects.get(pk=draft.pk)
    confirm_order(draft, person=make_person("owner"), owner_word="agreed")
    with pytest.raises(ValidationError, match="is confirmed now"):
        confirm_order(stale, person=make_person("owner"), owner_word="agreed")


def test_a_confirmed_order_is_not_changed_as_a_draft(workshop):
    draft = make_draft(1, design=workshop["design"])
    stale = Order.objects.get(pk=draft.pk)
    confirm_order(draft, person=make_person("owner"), owner_word="agreed")
    with pytest.raises(ValidationError):
        change_draft(stale, [WantedLine(workshop["design"].pk, 5)], person=make_person("counter"))
    assert draft.lines.get().strands == 1


def test_an_order_keeps_the_working_of_its_day(workshop):
    order = make_order(1, design=workshop["design"])
    tree = order.working["tree"]
    assert tree["children"]
    assert order.working["promise"]["likely_on"] == order.likely_on.isoformat()
    workshop["bead"].__class__.objects.update(reject_rate=Decimal("0.5"))
    assert Order.objects.get(pk=order.pk).working["tree"] == tree


# --- prices ---------------------------------------------------------------------------------


def set_price(design, price, **given):
    given = {"valid_from": date(2026, 1, 1)} | given
    return DesignPrice.objects.create(design=design, price=Decimal(price), **given)


@pytest.mark.parametrize(
    ("strands", "price", "source"),
    [(9, "20.00", "list"), (10, "18.00", "list"), (50, "15.50", "customer")],
)
def test_the_agreed_price_goes_before_the_list_and_the_larger_quantity_before_the_smaller(
    workshop, strands, price, source
):
    marisa = make_customer(group="trader")
    design = workshop["design"]
    set_price(design, "21.00")
    set_price(design, "20.00", group="trader")
    set_price(design, "18.00", group="trader", from_strands=10)
    set_price(design, "15.50", customer=marisa, from_strands=50)
    line = make_draft(strands, design=design, customer=marisa).lines.get()
    assert (line.price, line.price_from) == (Decimal(price), source)


def test_a_price_of_tomorrow_does_not_hold_today(workshop):
    set_price(workshop["design"], "20.00")
    set_price(workshop["design"], "30.00", valid_from=timezone.localdate() + timedelta(days=1))
    assert make_draft(1, design=workshop["design"]).lines.get().price == Decimal("20.00")


def test_the_total_is_the_sum_of_the_lines_each_rounded_once(workshop):
    draft = make_draft(3, design=workshop["design"], price=Decimal("33.335"))
    # 3 × 33.335 = 100.005, half-up to the cent
    assert draft.total == Decimal("100.01")


def test_a_counter_hand_cannot_sell_below_cost(workshop):
    draft = make_draft(1, design=workshop["design"], price=Decimal("0.01"))
    with pytest.raises(ValidationError, match="let the owner confirm"):
        confirm_order(draft, person=make_person("counter"), owner_word="agreed")
    draft.refresh_from_db()
    assert draft.state == Order.State.DRAFT


def test_the_owners_word_lets_a_line_pass_below_cost_and_is_kept(workshop):
    draft = make_draft(1, design=workshop["design"], price=Decimal("0.01"))
    with pytest.raises(ValidationError):
        confirm_order(draft, person=make_person("owner"))
    draft.refresh_from_db()
    owner = make_person("owner")
    assert confirm_order(draft, person=owner, owner_word="agreed").order.below_cost_by == owner


# --- days -----------------------------------------------------------------------------------


def test_an_order_without_lines_is_refused(workshop):
    with pytest.raises(ValidationError, match="no lines"):
        draft_order(make_customer(), [], person=make_person("counter"))
    assert not Order.objects.exists()


def test_a_due_day_that_has_passed_is_refused(workshop):
    yesterday = timezone.localdate() - timedelta(days=1)
    with pytest.raises(ValidationError, match="has passed") as refused:
        make_draft(1, design=workshop["design"], due_on=yesterday)
    assert "due_on" in refused.value.error_dict


def test_a_closed_day_is_refused_and_open_ones_named(workshop):
    day = timezone.localdate() + timedelta(days=30)
    ClosedDay.objects.create(day=day, why="Feast of the nets")
    with pytest.raises(ValidationError, match="Feast of the nets") as refused:
        make_draft(1, design=workshop["design"], due_on=day)
    assert "Choose" in str(refused.value)


def test_a_weekday_on_which_nobody_works_is_refused(workshop):
    for weekday in range(5):
        WorkingHours.objects.create(weekday=weekday, opens="08:00", closes="17:00")
    today = timezone.localdate()
    sunday = today + timedelta(days=6 - today.weekday() + 7)
    with pytest.raises(ValidationError, match="closed"):
        make_draft(1, design=workshop["design"], due_on=sunday)


def test_without_a_wish_the_order_is_due_on_the_day_promised(workshop):
    order = make_order(1, design=workshop["design"])
    assert order.due_on == order.p90_on == order.told_on
    assert order.p90_on > order.likely_on  # nine times in ten, not five


def test_a_wish_that_cannot_be_kept_is_answered_with_the_day_that_can(workshop):
    wish = timezone.localdate() + timedelta(days=1)
    order = make_order(40, design=workshop["design"], due_on=wish)
    assert order.due_on == wish < order.p90_on
    assert order.told_on == order.p90_on


# --- facts ----------------------------------------------------------------------------------


@pytest.mark.parametrize("many", [1, 50])
def test_an_orders_facts_are_read_in_eighteen_queries_at_most(
    workshop, many, django_assert_max_num_queries
):
    put_beads(workshop["bead"], 30)
    designs = [make_design(f"Strand {n}", beads=workshop["bead"]) for n in range(many)]
    order = draft_order(
        make_customer(),
        [WantedLine(design.pk, 2) for design in designs],
        person=make_person("counter"),
    )
    confirm_order(order, person=make_person("owner"), owner_word="agreed")
    order = Order.objects.select_related("customer").get(pk=order.pk)
    with django_assert_max_num_queries(18):
        facts = order_facts(order)
    assert len(facts.lines) == many


# --- changing one's mind ------------------------------------------------------------------------


def test_a_promised_order_can_be_changed_while_nothing_is_made(workshop):
    shelf = put_beads(workshop["bead"], 18)
    order = make_order(2, design=workshop["design"])
    reopen_order(order, person=make_person("counter"))
    assert held(shelf) == 0
    assert not order.jobs.exists() and not order.glass_needs.exists()
    assert order.state == Order.State.DRAFT and order.working is None
    change_draft(order, [WantedLine(workshop["design"].pk, 1)], person=make_person("counter"))
    order = confirm_order(order, person=make_person("owner"), owner_word="agreed").order
    assert held(shelf) == 18
    assert order.stage == Stage.FINISHED


def test_an_order_whose_beads_are_moulded_is_not_changed(workshop):
    put_beads(workshop["bead"], 18)
    order = make_order(2, design=workshop["design"])
    order.jobs.update(step=WorkOrder.Step.FIRING)
    with pytest.raises(ValidationError, match="moulded already"):
        reopen_order(order, person=make_person("counter"))
    order.refresh_from_db()
    assert order.state == Order.State.CONFIRMED and order.allocations.exists()


def test_an_order_whose_strands_are_strung_is_not_changed(workshop):
    put_beads(workshop["bead"], 36)
    order = make_order(2, design=workshop["design"])
    string_for(order.lines.get(), 1, person=make_person("bench"))
    order.refresh_from_db()
    with pytest.raises(ValidationError, match="strung already"):
        reopen_order(order, person=make_person("counter"))
