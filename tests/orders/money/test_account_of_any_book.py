"""The account of any book: whatever a workshop does in a month, both of its equations hold.

Random acts at Sandbar, each on its day; what lay there is written down beside the program at the
end of every day. Source: IAS 2.34 and the definition of the account; computed beside the program.
"""

from datetime import UTC, datetime, timedelta
from decimal import Decimal as D

import pytest
import time_machine
from django.core.exceptions import ValidationError
from django.db import transaction
from hypothesis import given, settings
from hypothesis import strategies as st

from orders.money.queries.month_account import account_of
from stock.models import Charge, GlassForm, LocationKind
from stock.services.beads import log_good_beads, mould_beads
from stock.services.convert import Taken
from stock.services.counting import count_shelf
from stock.services.places import glass_item, strand_item, usual_place
from stock.services.preparation import prepare_glass, raw_of, ready
from stock.services.stringing import hand_over, string_strands
from stock.services.undo import take_back
from tests.stock.sandbar import KG, april, bring_and_pound, fire, sandbar, worth

pytestmark = pytest.mark.django_db
NOON = datetime(2026, 3, 31, 12, tzinfo=UTC)
PUT = ("hands", "workshop", "fuel", "wear", "moulds", "glass", "materials")


class Bench:
    """Sandbar's hands, who do whatever they are told as far as there is something to do it with."""

    def __init__(self) -> None:
        self.place = sandbar()
        self.day, self.loads, self.refused = 2, 0, 0
        self.moulded, self.fired, self.posted = [], [], []
        bring_and_pound(self.place)
        self.glass = Taken(
            glass_item(self.place.green, GlassForm.POWDER), usual_place(LocationKind.GLASS_SHELF), 0
        )
        self.bracelet = strand_item("Bracelet")

    def act(self, name: str, much: int) -> None:
        """One act; what the book refuses leaves it as it was."""
        self.day = min(28, self.day + 1)
        try:
            with time_machine.travel(NOON + timedelta(self.day)), transaction.atomic():
                getattr(self, name)(much)
        except (ValidationError, IndexError):
            self.refused += 1

    def _told(self) -> dict:
        return {"person": self.place.person, "on": april(self.day)}

    def pound(self, much: int) -> None:
        out = [ready(self.place.green, GlassForm.POWDER, much * 170_000)]
        prepare_glass(
            [raw_of(self.place.green, much * KG // 5)], out, form="powder", **self._told()
        )

    def mould(self, much: int) -> None:
        glass = Taken(self.glass.item, self.glass.place, much * 2_200)
        self.moulded.append(mould_beads(self.place.tide, much, glass=[glass], **self._told()))

    def fire(self, much: int) -> None:
        batch = self.moulded.pop()
        self.loads += 1
        fire(self.place, self.day - 3, batch, 1 + much % 20)  # on its own day
        self.fired.append(batch)

    def sort(self, much: int) -> None:
        batch = self.fired.pop()
        rejected, broken = much % (batch.started + 1), much % 3
        good = batch.started - rejected - min(broken, batch.started - rejected)
        log_good_beads(batch, good=good, rejected=rejected, **self._told())

    def string(self, much: int) -> None:
        strands = 1 + much % 4
        self.posted.append(
            string_strands(
                self.bracelet, strands, {self.place.tide: 5 * strands}, findings=D("0.30"),
                **self._told(),
            )
        )  # fmt: skip

    def sell(self, much: int) -> None:
        taken = [Taken(self.bracelet, usual_place(LocationKind.STRAND_SHELF), 1 + much % 2)]
        self.posted.append(hand_over(taken, why="sold", belongs=("", ""), **self._told()))

    def count(self, much: int) -> None:
        found = {self.glass.item: 16_000_000 + much * 10_000}
        self.posted.append(
            count_shelf(self.glass.place, found, why="counted", **self._told()) or None
        )

    def take_back(self, much: int) -> None:
        take_back(self.posted.pop(), person=self.place.person, why="wrong")


acts = st.tuples(
    st.sampled_from(["pound", "mould", "fire", "sort", "string", "sell", "count", "take_back"]),
    st.integers(1, 90),
)


@settings(max_examples=6)
@given(st.lists(acts, min_size=4, max_size=10))
def test_whatever_is_done_in_a_month_the_account_says_what_lies_there_at_every_evening(done):
    with transaction.atomic():
        bench, evenings = Bench(), {}
        evenings[bench.day] = worth()
        for name, much in [("mould", 60), ("fire", 5), ("sort", 7), *done]:
            bench.act(name, much)
            evenings[bench.day] = worth()
        for day, there in list(evenings.items())[::-4]:
            account = account_of(april(1), april(day)).account
            goods = {each.key: each.amount for each in account.goods}
            assert goods["before"] == 0 and goods["after"] == there
            assert sum(each.amount for each in account.goods[:-1]) == there
            put = Charge.objects.filter(name__in=PUT, on__range=(april(1), april(day)))
            assert account.put == sum(put.values_list("amount", flat=True), D(0))
            for line in account.lines:
                assert line.spent == line.put + sum(each.amount for each in line.named)
        transaction.set_rollback(True)
