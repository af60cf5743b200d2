"""The acts of a working day on what lies open in a book, each done by the services and taken back.

What they are done to is found by its place in the present, so that a short and a long book of the
same present are asked for the very same.
"""

import re
import uuid
from collections.abc import Callable, Iterator
from decimal import Decimal
from typing import Any

from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext

from orders.bench.services import string_line
from orders.firing.queries.trays import not_ready
from orders.firing.services.log import TrayIn, TrayOut, log_firing, start_load
from orders.firing.services.plan import accept_plan, propose_plan
from orders.models import Customer, Document, Order, Stage, StrandDesign
from orders.money.services.payments import record_payment
from stock.models import Collector, GlassColour, KilnLoad, LoadTray
from stock.services.sacks import weigh_in_sack
from workshop.models import Business, Person
from workshop.models.business import answering_for

# The most statements that each may take, whatever the book.
MOST = {
    "take an order": 90,  # three designs, of beads that lie ready and of some to be made
    "accept a plan": 40,
    "log a sack": 34,
    "light a kiln": 100,  # of three trays
    "log a firing": 137,  # of one bead that is painted next, and two that go to the bench
    "string": 75,
    "take money": 28,
}
TOLD = ("SAVEPOINT", "RELEASE", "ROLLBACK", "BEGIN")


def acts() -> Iterator[tuple[str, list[str]]]:
    """The name of each act, and what it asked of the database."""
    owner = Person.objects.get(role="owner")
    with answering_for(Business.current()):
        yield from _acts_of(owner)


def _acts_of(owner: Person) -> Iterator[tuple[str, list[str]]]:
    with transaction.atomic():
        plan = propose_plan(person=owner, seconds=0.02, bound=False)
        yield (
            "accept a plan",
            asked_by(lambda: accept_plan(plan, person=owner, knows_it_breaks=True)),
        )
        transaction.set_rollback(True)
    for name, act in (
        ("take an order", take), ("log a sack", weigh), ("string", string), ("take money", pay),
    ):  # fmt: skip
        with transaction.atomic():
            yield name, asked_by(act(owner))
            transaction.set_rollback(True)
    with transaction.atomic():
        load, trays = ready_load()
        going_in = [
            TrayIn(tray, tray.beads if tray in trays else 0) for tray in load.trays.order_by("pk")
        ]
        yield "light a kiln", asked_by(lambda: start_load(load, going_in, person=owner))
        came_out = [TrayOut(tray, tray.beads - 1, rejected=1) for tray in trays]
        yield "log a firing", asked_by(lambda: log_firing(load, came_out, person=owner))
        transaction.set_rollback(True)


def asked_by(act: Callable[[], object]) -> list[str]:
    """What an act asks, and writes, between its beginning and its end."""
    connection.queries_log.clear()
    with CaptureQueriesContext(connection) as asked:
        act()
    return [each["sql"] for each in asked.captured_queries if not each["sql"].startswith(TOLD)]


def take(owner: Person) -> Callable[[], object]:
    """Three designs at the counter, their figures looked at first, as anybody would."""
    designs = StrandDesign.objects.listed().filter(in_use=True).order_by("pk")[:3]
    wanted: dict[str, Any] = {f"n_{design.pk}": "2" for design in designs}
    wanted["customer"] = Customer.objects.filter(nameless=False).order_by("pk")[0].pk
    wanted |= {"key": str(uuid.uuid4()), "line": [str(design.pk) for design in designs]}
    client = Client()
    client.force_login(owner)
    looked = client.post("/counter/", wanted | {"do": "work"}).content.decode()
    for name in ("seen", "lines_seen"):
        found = re.search(rf'name="{name}"\s+value="([^"]*)"', looked)
        assert found, looked
        wanted[name] = found[1]

    def press() -> None:
        assert client.post("/counter/", wanted | {"do": "take"}).status_code == 302

    return press


def weigh(owner: Person) -> Callable[[], object]:
    who, colour = Collector.objects.order_by("pk")[0], GlassColour.objects.order_by("pk")[0]
    return lambda: weigh_in_sack(who, colour=colour, gross_g=9000, person=owner, paid=True)


def string(owner: Person) -> Callable[[], object]:
    ready = Order.objects.filter(state=Order.State.CONFIRMED, stage=Stage.FINISHED)
    line = ready.order_by("pk")[0].lines.order_by("pk")[0]
    return lambda: string_line(line, 1, person=owner, minutes=5)


def pay(owner: Person) -> Callable[[], object]:
    paper = Document.objects.open().select_related("customer").order_by("pk")[0]
    amount = min(paper.open_amount, Decimal(5))
    return lambda: record_payment(paper.customer, amount, person=owner)


def ready_load() -> tuple[KilnLoad, list[LoadTray]]:
    """A planned load with three trays whose beads lie moulded; its others wait for another."""
    planned = KilnLoad.objects.filter(state=KilnLoad.State.PLANNED)
    for load in planned.exclude(trays__firing=2).order_by("pk"):
        ready = [tray for tray in load.trays.order_by("pk") if not not_ready(tray)]
        if len(ready) >= 3:
            return load, ready[:3]
    raise AssertionError("no planned load has three trays that lie ready")
