"""Clasps under any order of acts: none appears, none vanishes, none is promised twice."""

from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Sum
from django.utils import timezone
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    rule,
    run_state_machine_as_test,
)

from orders.counter.services.ordering import cancel_order
from orders.making.queries.findings import findings_lacking
from orders.making.services.progress import string_for
from orders.models import Order, Purchase
from orders.supplies.services import count_finding, give_back, note_purchase, take_in
from stock.models import Balance, LocationKind, Posting
from stock.services.undo import take_back
from tests.builders import make_order, make_person
from tests.orders.supplies.test_buy import differences, lies


class Clasps(RuleBasedStateMachine):
    bracelet = clasp = None

    def __init__(self):
        super().__init__()
        self.outer = transaction.atomic()
        self.outer.__enter__()
        self.owner = make_person("owner")

    def teardown(self):
        transaction.set_rollback(True)
        self.outer.__exit__(None, None, None)

    def act(self, doing):
        """Done, or refused and no trace of it left."""
        try:
            with transaction.atomic():
                doing()
        except ValidationError:
            pass

    @initialize(pieces=st.integers(1, 12))
    def some_are_bought(self, pieces):
        self.buy(pieces, True)
        self.order(4)

    @rule(pieces=st.integers(1, 12), here=st.booleans())
    def buy(self, pieces, here):
        self.clasp.refresh_from_db()
        on = timezone.localdate() if here else None
        self.act(
            lambda: note_purchase(
                self.clasp, pieces, Decimal(pieces) / 4, person=self.owner, arrived_on=on
            )
        )

    @rule(pick=st.integers(0, 5), back=st.booleans())
    def comes_or_goes_back(self, pick, back):
        found = list(Purchase.objects.select_related("posting", "finding").order_by("pk"))
        purchase = found[pick % len(found)]
        if back:
            self.act(lambda: give_back(purchase, person=self.owner, why="a slip"))
        else:
            self.act(lambda: take_in(purchase, person=self.owner))

    @rule(pick=st.integers(0, 5), pieces=st.integers(0, 12))
    def a_part_comes(self, pick, pieces):
        found = list(Purchase.objects.select_related("posting", "finding").order_by("pk"))
        purchase = found[pick % len(found)]
        self.act(lambda: take_in(purchase, person=self.owner, quantity=pieces))

    @rule(strands=st.integers(1, 6))
    def order(self, strands):
        self.act(lambda: make_order(strands, design=self.bracelet))

    @rule(pick=st.integers(0, 5))
    def cancel(self, pick):
        if found := list(Order.objects.filter(state="confirmed").order_by("pk")):
            self.act(lambda: cancel_order(found[pick % len(found)], person=self.owner))

    @rule(pick=st.integers(0, 5), strands=st.integers(1, 4))
    def string(self, pick, strands):
        if found := list(Order.objects.filter(state="confirmed").order_by("pk")):
            line = found[pick % len(found)].lines.get()
            self.act(lambda: string_for(line, strands, person=self.owner))

    @rule(off=st.integers(-6, 6))
    def count(self, off):
        self.clasp.refresh_from_db()
        found = max(0, lies(self.clasp)[0] + off)
        self.act(lambda: count_finding(self.clasp, found, person=self.owner, why="recounted"))

    @rule(pick=st.integers(0, 9))
    def taken_back(self, pick):
        done = list(Posting.objects.filter(kind__in=["stringing", "count"]).order_by("pk"))
        if done:
            self.act(lambda: take_back(done[pick % len(done)], person=self.owner, why="a slip"))

    @invariant()
    def the_book_and_the_orders_agree(self):
        assert differences() == []

    @invariant()
    def nothing_is_promised_twice_and_nothing_lies_idle(self):
        self.clasp.refresh_from_db()
        there, held, _value = lies(self.clasp)
        assert 0 <= held <= there
        # While an order lacks some, none lies free.
        assert there == held or not findings_lacking()

    @invariant()
    def none_appears_and_none_vanishes(self):
        all_over = Balance.objects.filter(item=self.clasp.item_id)
        came = all_over.filter(place__kind__in=[LocationKind.SUPPLIERS, LocationKind.DIFFERENCE])
        brought = -(came.aggregate(n=Sum("quantity"))["n"] or 0)
        strung = all_over.filter(place__kind=LocationKind.IN_WORK).aggregate(n=Sum("quantity"))["n"]
        assert brought == lies(self.clasp)[0] + (strung or 0) + self._before()

    def _before(self):
        """What a first count found there, before the book."""
        rows = Balance.objects.filter(item=self.clasp.item_id, place__kind=LocationKind.OPENING)
        return rows.aggregate(n=Sum("quantity"))["n"] or 0


def test_whatever_is_done_clasps_are_conserved_and_promised_once(bracelet, clasp, beads):
    Clasps.bracelet, Clasps.clasp = bracelet, clasp
    quiet = settings(
        max_examples=3, stateful_step_count=8, deadline=None,
        suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    run_state_machine_as_test(Clasps, settings=quiet)
