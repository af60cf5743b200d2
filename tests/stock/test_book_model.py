"""The glass book under any order of acts, with failures in the middle of them.

Invariants, numbered as in the list of what any stock book must keep:
1   stock on hand = sum of movements, on hand >= 0, 0 <= held <= on hand
2   every movement has a cause, a person and a time
10  mass: in = out + scrap + waste + change in work, at each step
12  replaying the journal from empty gives the same balances
13  any act twice with one key = once
`check_book` proves 1, 2, 10 and 12 from the tables alone; the model beside it (plain sums kept in
Python) proves that the book says what was done. Mutants at the foot show that both can fail.
"""

import uuid
from contextlib import contextmanager
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    rule,
    run_state_machine_as_test,
)

from stock.models import Balance, BeadBatch, GlassForm, LocationKind, Movement, Posting, PostingKind
from stock.services import beads as bead_acts
from stock.services import book, convert, sacks, sharing
from stock.services.book import reverse_posting
from stock.services.check import first_difference
from stock.services.convert import Taken
from stock.services.counting import count_shelf
from stock.services.places import glass_item, strand_item, usual_place
from stock.services.preparation import prepare_glass, raw_of, ready
from stock.services.sacks import weigh_in_sack
from stock.services.stringing import hand_over, oldest_first, string_strands, take_apart
from stock.services.supplies import Wanted, from_shelf, supply_item, take_in_supply
from stock.services.undo import take_back
from tests.builders import make_bead, make_collector, make_colour, make_person

pytestmark = pytest.mark.django_db
COLOURS = st.sampled_from(["green", "amber"])
BREAKS = st.sampled_from([None, None, None, "movements", "balances"])


class PowerCut(Exception):
    """Somebody pulls the plug between two writes."""


@contextmanager
def broken(where):
    """The act inside breaks off just before it writes its movements or its balances."""
    target = {"movements": Movement, "balances": Balance, None: None}[where]
    if target is None:
        yield
        return
    name = "bulk_create" if where == "movements" else "bulk_update"
    manager, plain = target.objects, getattr(target.objects, name)

    def cut(*args, **kwargs):
        # The empty balance rows made beforehand are not what is being interrupted.
        if kwargs.get("ignore_conflicts"):
            return plain(*args, **kwargs)
        raise PowerCut

    setattr(manager, name, cut)
    try:
        yield
    finally:
        delattr(manager, name)


class BookModel(RuleBasedStateMachine):
    def __init__(self):
        super().__init__()
        self.outer = transaction.atomic()
        self.outer.__enter__()
        self.person, self.collector = make_person(), make_collector()
        self.bead = make_bead(
            colours={make_colour("green"): Decimal("0.6"), make_colour("amber"): Decimal("0.4")}
        )
        self.strand = strand_item("Any strand")
        self.clasp = supply_item("Any clasp", "clasp")
        self.bought = 0  # clasps that ever came and did not go back to their supplier
        self.came_mg = 0  # glass that ever came, by the model's own reckoning
        self.sold = 0

    def teardown(self):
        transaction.set_rollback(True)
        self.outer.__exit__(None, None, None)

    def act(self, doing, breaks):
        """Whether the act went through; refused or broken off, it must have left no trace."""
        before = self.traces()
        try:
            with transaction.atomic(), broken(breaks):
                doing()
        except (ValidationError, PowerCut):
            assert self.traces() == before
            return False
        return True

    def traces(self):
        return (
            Posting.objects.count(),
            Movement.objects.count(),
            sorted(
                row
                for row in Balance.objects.values_list(
                    "item_id", "place_id", "quantity", "reserved", "glass_mg", "value"
                )
                if any(row[2:])
            ),
        )

    @rule(colour=COLOURS, kg=st.integers(1, 40), price=st.integers(0, 90), breaks=BREAKS)
    def receive(self, colour, kg, price, breaks):
        def doing():
            weigh_in_sack(
                self.collector,
                colour=make_colour(colour),
                gross_g=kg * 1000,
                dirt_share=Decimal(0),
                price_per_kg=Decimal(price) / 100,
                person=self.person,
            )

        if self.act(doing, breaks):
            self.came_mg += kg * 1_000_000

    @initialize()
    def a_first_delivery(self):
        for colour in ("green", "amber"):
            self.receive(colour, 20, 30, None)
            self.prepare(colour, 40, 90, None)

    @rule(colour=COLOURS, percent=st.integers(1, 120), left=st.integers(50, 110), breaks=BREAKS)
    def prepare(self, colour, percent, left, breaks):
        kind = make_colour(colour)
        item = glass_item(kind, GlassForm.RAW)
        there = Balance.objects.filter(item=item, place__kind=LocationKind.YARD).first()
        grams = max(1, (there.quantity if there else 0) * percent // 100_000)

        def doing():
            prepare_glass(
                [raw_of(kind, grams * 1000)],
                [ready(kind, GlassForm.POWDER, grams * 10 * left)],
                form=GlassForm.POWDER,
                person=self.person,
            )

        done = self.act(doing, breaks)
        assert not (done and left > 100), "more came out than went in"

    @rule(count=st.integers(1, 300), breaks=BREAKS)
    def mould(self, count, breaks):
        self.act(lambda: bead_acts.mould_beads(self.bead, count, person=self.person), breaks)

    @rule(pick=st.integers(0, 5), count=st.integers(1, 200), breaks=BREAKS)
    def fire(self, pick, count, breaks):
        if batch := self.batch(pick):
            self.act(lambda: bead_acts.load_beads(batch, count, person=self.person), breaks)
            self.act(lambda: bead_acts.unload_beads(batch, count, person=self.person), breaks)

    @rule(pick=st.integers(0, 5), good=st.integers(0, 120), bad=st.integers(0, 20), breaks=BREAKS)
    def finish(self, pick, good, bad, breaks):
        if batch := self.batch(pick):
            self.act(
                lambda: bead_acts.log_good_beads(
                    batch, good=good, rejected=bad, broken=bad % 3, person=self.person
                ),
                breaks,
            )

    @rule(pieces=st.integers(1, 60), cents=st.integers(0, 900), breaks=BREAKS)
    def buy_clasps(self, pieces, cents, breaks):
        def doing():
            take_in_supply(
                self.clasp, pieces, Decimal(cents) / 100, person=self.person,
                on=timezone.localdate(),
            )  # fmt: skip

        if self.act(doing, breaks):
            self.bought += pieces

    @rule(strands=st.integers(1, 4), each=st.integers(1, 25), clasped=st.booleans(), breaks=BREAKS)
    def string(self, strands, each, clasped, breaks):
        def doing():
            clasps = from_shelf(Wanted(self.clasp, strands)) if clasped else ()
            beads = {self.bead: strands * each}
            string_strands(self.strand, strands, beads, person=self.person, supplies=clasps)

        self.act(doing, breaks)

    @rule(strands=st.integers(1, 3), breaks=BREAKS)
    def take_strands_apart(self, strands, breaks):
        self.act(lambda: take_apart(self.strand, strands, person=self.person), breaks)

    @rule(strands=st.integers(1, 3), breaks=BREAKS)
    def sell(self, strands, breaks):
        parts = [Taken(self.strand, usual_place(LocationKind.STRAND_SHELF), strands)]

        def doing():
            hand_over(parts, person=self.person, why="sold", belongs=("order", "1"))

        if self.act(doing, breaks):
            self.sold += strands

    @rule(pick=st.integers(0, 9), percent=st.integers(1, 120))
    def hold_or_let_go(self, pick, percent):
        rows = list(Balance.objects.inside().filter(quantity__gt=0).order_by("pk"))
        if rows:
            row = rows[pick % len(rows)]
            quantity = max(1, row.quantity * percent // 100)
            act = book.let_go if row.reserved >= quantity else book.hold
            self.act(lambda: act(row, quantity), None)

    @rule(pick=st.integers(0, 30), breaks=BREAKS)
    def reverse(self, pick, breaks):
        done = list(Posting.objects.order_by("pk"))
        if not done:
            return
        posting = done[pick % len(done)]
        # A sack's own sums go back with it, as when somebody takes it back on a page.
        back = take_back if posting.kind == PostingKind.SACK else reverse_posting
        if self.act(lambda: back(posting, person=self.person, why="a slip"), breaks):
            if posting.kind == PostingKind.SACK:
                self.came_mg -= sum(m.glass_mg for m in posting.movements.all())
            if posting.kind == PostingKind.PURCHASE:
                self.bought -= sum(m.quantity for m in posting.movements.all())
            if posting.kind == PostingKind.COLLECTION:
                self.sold -= sum(m.quantity for m in posting.movements.all())

    @rule(pick=st.integers(0, 9), off=st.integers(-30, 30), breaks=BREAKS)
    def count(self, pick, off, breaks):
        rows = list(Balance.objects.inside().select_related("item", "place").order_by("pk"))
        if not rows:
            return
        row = rows[pick % len(rows)]
        found = {row.item: max(0, row.quantity + off)}
        self.act(lambda: count_shelf(row.place, found, person=self.person, why="recounted"), breaks)

    @rule(pick=st.integers(0, 9), breaks=BREAKS)
    def find_a_shelf_empty(self, pick, breaks):
        rows = list(Balance.objects.inside().select_related("item", "place").order_by("pk"))
        if rows:
            row = rows[pick % len(rows)]
            found = {row.item: 0}
            self.act(lambda: count_shelf(row.place, found, person=self.person, why="gone"), breaks)

    @rule(days=st.integers(1, 9), grams=st.integers(1, 5000))
    def back_dated_preparation(self, days, grams):
        kind = make_colour("green")
        self.act(
            lambda: prepare_glass(
                [raw_of(kind, grams * 1000)],
                [ready(kind, GlassForm.CHUNKS, grams * 800)],
                form=GlassForm.CHUNKS,
                person=self.person,
                on=timezone.localdate() - timedelta(days=days),
            ),
            None,
        )

    @rule(grams=st.integers(1, 5000))
    def the_same_form_twice(self, grams):
        key, kind = uuid.uuid4(), make_colour("amber")
        item, yard = glass_item(kind, GlassForm.RAW), usual_place(LocationKind.YARD)
        move = book.Move(item, usual_place(LocationKind.COLLECTORS), yard, grams * 1000)
        today = timezone.localdate()
        for _send in range(2):
            book.post(PostingKind.SACK, [move], on=today, person=self.person, why="twice", key=key)
        self.came_mg += grams * 1000

    def batch(self, pick):
        found = list(BeadBatch.objects.select_related("bead").order_by("pk"))
        return found[pick % len(found)] if found else None

    @invariant()
    def the_book_is_sound(self):
        difference = first_difference()
        assert difference is None, difference

    @invariant()
    def the_book_says_what_was_done(self):
        def kept(kind, field="glass_mg"):
            return sum(Balance.objects.filter(place__kind=kind).values_list(field, flat=True))

        assert -kept(LocationKind.COLLECTORS) == self.came_mg
        assert kept(LocationKind.SOLD, "quantity") == self.sold
        assert -kept(LocationKind.SUPPLIERS, "quantity") == self.bought

    @invariant()
    def the_oldest_beads_are_offered_first(self):
        there = sum(
            row.free_quantity
            for row in Balance.objects.at(LocationKind.BEAD_SHELF).filter(
                item__batch__bead=self.bead
            )
        )
        if there:
            numbers = [part.item.batch.number for part in oldest_first(self.bead, there)]
            assert numbers == sorted(numbers)


def run_model(examples, steps=25, **more):
    quiet = {
        "max_examples": examples,
        "stateful_step_count": steps,
        "deadline": None,
        "suppress_health_check": list(HealthCheck),
        **more,
    }
    run_state_machine_as_test(BookModel, settings=settings(**quiet))


def test_whatever_is_done_in_whatever_order_the_book_stays_sound():
    run_model(examples=25)


# Seeded mutants: each breaks the book in one way, and the model must notice.


def forget_the_target(monkeypatch):
    """Half of every move is forgotten: it leaves one shelf and reaches none."""
    plain = book._carry_out

    def half(posting, move, balances):
        target = balances[move.item.pk, move.to_place.pk]
        kept = target.quantity
        movement = plain(posting, move, balances)
        if not move.to_place.inside:
            target.quantity = kept
        return movement

    monkeypatch.setattr(book, "_carry_out", half)


def let_glass_vanish(monkeypatch):
    """Work may take more glass than it gives, and nobody asks for the rest."""
    plain = sharing.shared_out

    def lax(into_work, out_of_work):
        try:
            return plain(into_work, out_of_work)
        except book.GlassNotConserved:
            return [replace(move, value=Decimal(0)) for move in out_of_work]

    monkeypatch.setattr(convert, "_with_rest", lambda losses, *given: [])
    monkeypatch.setattr(book, "shared_out", lax)


def commit_half_an_act(monkeypatch):
    """A power cut between two writes leaves the first of them behind."""
    unguarded = book.post.__wrapped__

    def careless(*args, **kwargs):
        try:
            return unguarded(*args, **kwargs)
        except PowerCut:
            return Posting.objects.order_by("-pk").first()

    monkeypatch.setattr(sacks, "post", careless)


def keep_value_on_empty_shelves(monkeypatch):
    """The last piece leaves a little of the value behind."""

    def rounded(value, quantity, of_quantity):
        return (value * quantity / of_quantity * Decimal("0.99")).quantize(Decimal("0.000001"))

    monkeypatch.setattr(sharing, "_portion", rounded)


def ignore_the_key(monkeypatch):
    """A form that is sent twice is booked twice."""
    plain = book.post

    def twice(*args, key=None, **kwargs):
        return plain(*args, **kwargs)

    monkeypatch.setattr(book, "post", twice)


def hold_without_looking(monkeypatch):
    """A hold that does not look at what is free."""
    from django.db.models import F

    def hold(balance, quantity):
        Balance.objects.filter(pk=balance.pk).update(reserved=F("reserved") + quantity)

    monkeypatch.setattr(book, "hold", hold)


@pytest.mark.parametrize(
    "mutant",
    [
        forget_the_target,
        let_glass_vanish,
        commit_half_an_act,
        keep_value_on_empty_shelves,
        ignore_the_key,
        hold_without_looking,
    ],
    ids=lambda mutant: mutant.__name__,
)
def test_the_model_notices_a_book_that(mutant, monkeypatch):
    mutant(monkeypatch)
    with pytest.raises(Exception) as noticed:
        run_model(200, 30, phases=[Phase.generate], database=None, derandomize=True)
    assert not isinstance(noticed.value, AttributeError)
