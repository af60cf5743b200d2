"""A working day over HTTP: sacks, orders, payments and firings, each sent until it is answered."""

import json
import random
import re
import threading
import time
import uuid
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from django.utils import timezone

from tests.hard.server import Hand, Server
from tests.patience import PATIENCE_S

Facts = dict[str, Any]
TRAY_BEADS = 6

FACTS = """
import django; django.setup()
import json
from orders.models import Customer, StrandDesign
from stock.models import Collector, GlassColour, LoadTray
from tests.hard.traffic import FIRST_LOAD
loads = LoadTray.objects.filter(load__number__gte=FIRST_LOAD).order_by("load__number")
print(json.dumps({
    "customer": Customer.objects.first().pk, "design": StrandDesign.objects.first().pk,
    "collector": Collector.objects.first().pk, "colour": GlassColour.objects.first().pk,
    "trays": [[tray.load.number, tray.pk] for tray in loads.select_related("load")]}))
"""
FIRST_LOAD = 100_001
COUNT = """
import django; django.setup()
import json
from orders.models import Order, Payment, Document
from stock.models import KilnLoad, Sack
from tests.hard.traffic import FIRST_LOAD
from workshop.models import AuditEntry, IdempotencyKey
told = {}
for model in (Sack, Order):
    numbers = list(model.objects.exclude(number__gte=90000).values_list("number", flat=True))
    told[model.__name__] = sorted(numbers)
told["receipts"] = sorted(Document.objects.filter(kind="receipt").values_list("pk", flat=True))
told["papers"] = sorted(Document.objects.values_list("number", flat=True))
told["payments"] = Payment.objects.count()
told["keys"] = {str(s.key): s.led_to for s in IdempotencyKey.objects.all()}
told["loads"] = {load.number: [load.state, load.version, load.trays.get().good] for load in
                 KilnLoad.objects.filter(number__gte=FIRST_LOAD).prefetch_related("trays")}
told["lit"] = AuditEntry.objects.filter(act="light the kiln", refused=False).count()
told["logged"] = AuditEntry.objects.filter(act="log firing", refused=False).count()
print(json.dumps(told))
"""


@dataclass
class Sent:
    """A form that was acknowledged: by whom it was sent, where to, its key, and where it led."""

    role: str
    path: str
    form: dict
    key: str
    led_to: str


@dataclass
class Day:
    """Several people at work until told to stop; every one sends again what was not answered.

    With two servers a form that one did not answer is sent again to the other, under its key.
    """

    servers: list[Server]
    sessions: dict[str, str]
    facts: Facts
    stop: threading.Event = field(default_factory=threading.Event)
    sent: list[Sent] = field(default_factory=list)
    repeated: int = 0
    troubles: list[str] = field(default_factory=list)
    lock: threading.Lock = field(default_factory=threading.Lock)
    people: list[threading.Thread] = field(default_factory=list)

    def begin(self, *, without: tuple[str, ...] = ()) -> None:
        jobs: list[tuple[str, Callable]] = [
            ("yard", self.weigh_sacks),
            ("counter", self.write_orders),
            ("owner", self.take_payments),
            ("kiln", self.fire_loads),
        ]
        self.people = [
            threading.Thread(target=act, args=(role,)) for role, act in jobs if role not in without
        ]
        for person in self.people:
            person.start()

    def end(self) -> None:
        self.stop.set()
        for person in self.people:
            person.join(timeout=60)
        assert not any(person.is_alive() for person in self.people)
        assert not self.troubles, self.troubles[0]

    def hands(self, role: str) -> list[Hand]:
        hands = [Hand(server, self.sessions[role]) for server in self.servers]
        random.shuffle(hands)
        return hands

    def send(self, role: str, hands: list[Hand], path: str, form: dict) -> bool:
        """Send a form until it is answered; whether it was done."""
        key = str(uuid.uuid4())
        give_up_at, tries = time.monotonic() + PATIENCE_S, -1
        while time.monotonic() < give_up_at:
            tries += 1
            try:
                status, led_to, page = hands[tries % len(hands)].post(path, form, key)
            except OSError:
                time.sleep(0.03)
                continue
            if status == 503:
                time.sleep(0.03)
                continue
            done = status == 302 and "sign-in" not in led_to
            with self.lock:
                self.repeated += tries > 0
                if done:
                    self.sent.append(Sent(role, path, form, key, led_to))
                else:
                    self.troubles.append(f"{path} answered {status} {led_to}: {said_of(page)}")
                    self.stop.set()
            return done
        self.troubles.append(f"{path} was never answered")
        return False

    def weigh_sacks(self, role: str) -> None:
        hands = self.hands(role)
        while not self.stop.is_set():
            self.send(role, hands, "/stock/sacks/log/", sack_form(self.facts))

    def write_orders(self, role: str) -> None:
        hands, design = self.hands(role), self.facts["design"]
        form = {"customer": self.facts["customer"], "line": design, f"n_{design}": 1, "do": "draft"}
        while not self.stop.is_set():
            self.send(role, hands, "/counter/", form)

    def take_payments(self, role: str) -> None:
        hands = self.hands(role)
        path = f"/money/payments/take/?customer={self.facts['customer']}"
        form = {"amount": "1.00", "method": "cash", "lay_on": "oldest"}
        while not self.stop.is_set():
            self.send(role, hands, path, {**form, "on": timezone.localdate().isoformat()})

    def fire_loads(self, role: str) -> None:
        """Light a load, log it, and so on to the next; then weigh sacks."""
        hands = self.hands(role)
        for number, tray in self.facts["trays"]:
            if self.stop.is_set():
                return
            path, (lit, logged) = f"/firing/load/{number}/", firing_forms(tray)
            if not self.send(role, hands, f"{path}start/", lit):
                return
            # A load that burns when the day ends is logged all the same.
            if not self.send(role, hands, f"{path}log/", logged):
                return
        self.weigh_sacks("owner")


def said_of(page: str) -> str:
    """What a page says is wrong, or its end."""
    found = re.search(r'class="error-summary".*?</div>', page, re.DOTALL)
    return " ".join(re.sub(r"<[^>]*>", " ", found[0] if found else page[-300:]).split())


def sack_form(facts: Facts) -> dict:
    return {
        "collector": facts["collector"],
        "colour": facts["colour"],
        "gross_g": f"{random.randint(5, 40)}.{random.randint(0, 9)}",
        "tare_g": "0.2",
        "dirt_share": "3",
        "origin": "bottles",
        "paid": random.choice(["yes", "no"]),
        "received_on": timezone.localdate().isoformat(),
    }


def firing_forms(tray: int, rejected: int = 1) -> tuple[dict, dict]:
    """How a load of one tray is lit, and how it is logged."""
    lit = {"version": 0, "at": "2026-06-01T08:00", f"beads_{tray}": TRAY_BEADS}
    logged = {
        "version": 1,
        "ended_at": "2026-06-01T14:00",
        "peak_c": "722",
        "held_min": "30",
        "beads_go": "bench",
        "rejects_to": "remade",
        f"good_{tray}": TRAY_BEADS - rejected,
        f"rejected_{tray}": rejected,
        f"gone_{tray}": 0,
    }
    return lit, logged


def prove(day: Day, server: Server, firings_s: int = 1) -> dict:
    """Every acknowledged form is in the book, once, where its answer said; the book is sound."""
    told = json.loads(server.python("-c", COUNT))
    for sent in day.sent:
        assert told["keys"].get(sent.key) == sent.led_to, f"lost: {sent}"
    # No number is missing and none came twice, of sacks, orders and papers.
    for kind in ("Sack", "Order"):
        numbers = told[kind]
        assert numbers == list(range(1, len(numbers) + 1)), f"gaps among {kind}"
    assert len(told["papers"]) == len(set(told["papers"]))
    receipts = sorted(int(n.rsplit("-", 1)[-1]) for n in told["papers"] if n.startswith("R-"))
    assert receipts == list(range(1, len(receipts) + 1)), "gaps among the receipts"
    acknowledged = sum("payments" in sent.path for sent in day.sent)
    assert told["payments"] >= acknowledged + 1
    assert len(told["receipts"]) == told["payments"]
    # Each load that was logged is cooled with the beads that were counted out of it.
    logged = [sent for sent in day.sent if sent.path.endswith("/log/") and "firing" in sent.path]
    assert len(logged) >= firings_s, "hardly a load was fired; the test proves little"
    for sent in logged:
        state, version, good = told["loads"][sent.path.split("/")[3]]
        assert (state, version, good) == ("cooled", 2, TRAY_BEADS - 1), sent
    assert told["logged"] == sum(each[0] == "cooled" for each in told["loads"].values())
    assert told["lit"] == sum(each[0] != "planned" for each in told["loads"].values())
    assert "The book is sound" in server.python("-m", "django", "check_book")
    return told


def prove_repeats(day: Day, servers: list[Server], told: dict, count: int = 12) -> None:
    """The same form again leads to the first result and writes nothing, whoever is asked."""
    for number, sent in enumerate(random.sample(day.sent, min(count, len(day.sent)))):
        hand = Hand(servers[number % len(servers)], day.sessions[sent.role])
        status, led_to, _page = hand.post(sent.path, sent.form, sent.key)
        assert (status, led_to) == (302, sent.led_to), sent
    assert json.loads(servers[0].python("-c", COUNT)) == told
