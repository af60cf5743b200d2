"""Eight people at the same order, the same shelf, the same kiln load and the same numbers.

The recipe's reference run: reading first and writing later sold 180 of 300 pieces twice. Here the
real server is asked over loopback by eight people at once. RACE_SECONDS=60 makes the long run.
"""

import json
import os
import re
import threading
import time
import uuid

import pytest
from django.utils import timezone

from tests.hard.server import Hand, Server, make_workshop
from tests.hard.test_asvs_forms import boxes_of

SECONDS = float(os.environ.get("RACE_SECONDS", "12"))
PEOPLE = 8
# A busy two-core machine; the figure itself is printed.
SLOWEST_P95_S = 8.0
LOAD = 90_002

READ = """
import django; django.setup()
import json
from orders.models import Order, Allocation
from stock.models import Balance, KilnLoad, Sack
from workshop.models import Act
draft = Order.objects.filter(state__in=["draft", "quoted"]).order_by("pk").first()
load = KilnLoad.objects.get(number=90002)
print(json.dumps({
    "draft": draft.number, "strands": draft.lines.first().strands, "version": draft.version,
    "box": f"n_{draft.lines.first().design_id}", "design": draft.lines.first().design_id,
    "customer": draft.customer_id,
    "load_version": load.version,
    "load_acts": Act.objects.filter(subject_kind="kilnload", subject_ref="90002",
                                    refused=False).count(),
    "sacks": sorted(Sack.objects.values_list("number", flat=True)),
    "orders": sorted(n for n in Order.objects.values_list("number", flat=True)),
    "shelf": [[b.pk, b.quantity, b.held] for b in Balance.objects.filter(held__gt=0)],
    "held": [[a.balance_id, a.quantity] for a in Allocation.objects.all()],
    "bad": Balance.objects.filter(inside=True, quantity__lt=0).count(),
}))
"""


class Crowd:
    """Eight people, each at one of four things, until the time is over."""

    def __init__(self, server: Server, sessions: dict[str, str], facts: dict) -> None:
        self.server, self.sessions, self.facts = server, sessions, facts
        self.until = time.monotonic() + SECONDS
        self.took: list[float] = []
        self.added = self.told = self.sacks = self.confirmed = self.pinned = 0
        self.troubles: list[str] = []
        self.lock = threading.Lock()

    def ask(self, hand: Hand, method: str, path: str, form: dict | None = None):
        began = time.monotonic()
        if method == "POST":
            status, led_to, page = hand.post(path, form or {}, str(uuid.uuid4()))
        else:
            status, led_to, page = hand.get(path)
        with self.lock:
            self.took.append(time.monotonic() - began)
            if status >= 500 or "sign-in" in led_to:
                self.troubles.append(f"{method} {path}: {status} {led_to} {page[:200]}")
        return status, led_to, page

    def add_a_strand(self, hand: Hand) -> None:
        """One more than was there when the order was opened: the classic lost update."""
        path = f"/orders/{self.facts['draft']}/change/"
        _status, _to, page = self.ask(hand, "GET", path)
        boxes = boxes_of(page)
        if self.facts["box"] not in boxes:
            return
        boxes[self.facts["box"]] = str(int(boxes[self.facts["box"]]) + 1)
        status, _to, page = self.ask(hand, "POST", path, {**boxes, "do": "draft"})
        with self.lock:
            self.added += status == 302
            self.told += status == 422 and "meanwhile" in page

    def take_the_last_beads(self, hand: Hand) -> None:
        """Everybody promises beads of one shelf; the last ones go to one of them."""
        design = self.facts["design"]
        form = {"customer": self.facts["customer"], "line": design, f"n_{design}": 4}
        _status, led_to, _page = self.ask(hand, "POST", "/counter/", {**form, "do": "draft"})
        if not (number := re.search(r"/orders/(\d+)/", led_to)):
            return
        _status, led_to, _page = self.ask(hand, "POST", f"/orders/{number[1]}/confirm/", {})
        with self.lock:
            self.confirmed += _status == 302

    def weigh_a_sack(self, hand: Hand) -> None:
        form = {"collector": self.facts["collector"], "colour": self.facts["colour"]}
        form |= {"gross_g": "10", "tare_g": "0", "dirt_share": "0", "origin": "bottles"}
        form |= {"paid": "no", "received_on": timezone.localdate().isoformat()}
        status, _to, _page = self.ask(hand, "POST", "/stock/sacks/log/", form)
        with self.lock:
            self.sacks += status == 302

    def pin_the_load(self, hand: Hand) -> None:
        _status, _to, page = self.ask(hand, "GET", f"/firing/load/{LOAD}/")
        seen = re.search(r'name="version" value="(\d+)"', page)
        word = "yes" if 'name="pinned" value="yes"' in page else "no"
        form = {"pinned": word, "version": seen[1] if seen else ""}
        self.ask(hand, "POST", f"/firing/load/{LOAD}/pin/", form)

    def work(self, role: str, act) -> None:
        hand = Hand(self.server, self.sessions[role])
        while time.monotonic() < self.until and not self.troubles:
            try:
                act(hand)
            except OSError as error:
                self.troubles.append(f"{act.__name__}: {error}")


@pytest.fixture
def server(tmp_path, server_database):
    made = Server(server_database, tmp_path)
    yield made
    made.kill_all()


@pytest.mark.slow
def test_eight_people_at_once_lose_nothing_and_sell_nothing_twice(server):
    from tests.hard.test_crash import FACTS

    sessions = make_workshop(server)
    before = json.loads(server.python("-c", READ))
    facts = json.loads(server.python("-c", FACTS)) | before
    server.start()
    crowd = Crowd(server, sessions, facts)
    jobs = [("owner", crowd.add_a_strand), ("counter", crowd.add_a_strand)]
    jobs += [("owner", crowd.take_the_last_beads), ("counter", crowd.take_the_last_beads)]
    jobs += [("yard", crowd.weigh_a_sack), ("owner", crowd.weigh_a_sack)]
    jobs += [("kiln", crowd.pin_the_load), ("owner", crowd.pin_the_load)]
    assert len(jobs) == PEOPLE
    people = [threading.Thread(target=crowd.work, args=job) for job in jobs]
    for person in people:
        person.start()
    for person in people:
        person.join(timeout=SECONDS + 90)
    after = json.loads(server.python("-c", READ))

    assert not crowd.troubles, crowd.troubles[0]
    # One order: every acknowledged strand is there; the others were told.
    assert after["strands"] == before["strands"] + crowd.added
    assert after["version"] == before["version"] + crowd.added
    assert crowd.added >= 1
    # One shelf: what is held is held once, and lies there.
    held: dict[int, int] = {}
    for balance, quantity in after["held"]:
        held[balance] = held.get(balance, 0) + quantity
    for balance, quantity, promised in after["shelf"]:
        assert promised <= quantity
        assert held.get(balance, 0) == promised
    assert after["bad"] == 0
    # One kiln load: each change that was written down moved its version by one.
    changes = after["load_acts"] - before["load_acts"]
    assert after["load_version"] - before["load_version"] == changes >= 1
    # One series: no number twice, none missing.
    assert after["sacks"] == list(range(1, len(before["sacks"]) + crowd.sacks + 1))
    assert after["orders"] == list(range(1, len(after["orders"]) + 1))
    assert "The book is sound" in server.python("-m", "django", "check_book")
    took = sorted(crowd.took)
    p95 = took[int(len(took) * 0.95)]
    print(
        f"{len(took)} requests, p95 {p95:.2f} s, {crowd.added} strands added, {crowd.told} told, "
        f"{crowd.confirmed} confirms, {crowd.sacks} sacks, {changes} pins"
    )
    assert p95 < SLOWEST_P95_S
