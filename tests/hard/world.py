"""A small workshop in which every kind of page has something to show, and the way to every page."""

import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, time, timedelta
from decimal import Decimal
from typing import Any

from django.apps import apps
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.utils import timezone

from tests.builders import (
    make_bead,
    make_business,
    make_collector,
    make_colour,
    make_customer,
    make_design,
    make_draft,
    make_kiln,
    make_mould,
    make_order,
    make_person,
    make_programme,
    make_rate,
    put_beads,
    put_glass,
)
from tests.orders.counter.selling import ready_strands

OWN_APPS = ("workshop", "stock", "orders")
MG_PER_KG = 1_000_000
ROLES = ("owner", "counter", "yard", "kiln", "bench")


def make_world() -> None:
    """One of nearly everything, made by the services that people's work goes through."""
    from orders.models import DesignPrice, Finding, QuantityBreak
    from orders.money.services.invoices import issue_invoice
    from orders.money.services.payments import record_payment
    from orders.money.services.quotes import issue_quote
    from stock.models import (
        BeadMinutes,
        CollectorPrice,
        GlassForm,
        KilnLoad,
        LoadTray,
        PatternFactor,
        StockLocation,
    )
    from stock.services.beads import mould_beads
    from stock.services.places import strand_item
    from stock.services.preparation import prepare_glass, raw_of, ready
    from stock.services.sacks import weigh_in_sack
    from stock.services.stringing import string_strands
    from workshop.models import ClosedDay, NumberPattern, Photo, StandingCost, TaxRate, WorkingHours

    owner, today = make_person("owner"), timezone.localdate()
    for role in ROLES:
        make_person(role)
    make_business(margin=Decimal("0.2"))
    for day in range(7):
        WorkingHours.objects.create(weekday=day, opens=time(8), closes=time(17))
    ClosedDay.objects.create(day=date(today.year + 1, 1, 1))
    for pattern in NumberPattern.each():
        pattern.save()  # there since the migration, unless a test before has emptied the tables
    green = make_colour(price_per_kg=Decimal("0.40"))
    make_kiln(), make_mould(), make_programme()
    make_rate()
    bead = make_bead()
    put_glass(green, GlassForm.POWDER, 20)
    put_glass(None, GlassForm.RAW, 8)
    put_beads(bead, 900)
    mould_beads(bead, 24, person=owner)
    collector = make_collector()
    weigh_in_sack(collector, colour=green, gross_g=20_000, person=owner, paid=True)
    weigh_in_sack(collector, colour=None, gross_g=5_000, origin="old-beads", person=owner)
    Photo.objects.create(
        kind="bead",  # which everybody may look at
        subject=bead.pk,
        picture=b"\xff\xd8",
        small=b"\xff\xd8",
        width=1,
        height=1,
        taken_by=owner,
    )
    CollectorPrice.objects.create(
        collector=collector, colour=green, price_per_kg=Decimal("0.5"), valid_from=today
    )
    prepare_glass(
        [raw_of(green, 5 * MG_PER_KG)],
        [ready(green, GlassForm.POWDER, 4 * MG_PER_KG)],
        form=GlassForm.POWDER,
        person=owner,
    )
    load = KilnLoad.objects.create(
        number=90_002,
        kiln=make_kiln(),
        starts_at=timezone.now() + timedelta(days=1),
        hold_c=720,
        hold_min=30,
    )
    LoadTray.objects.create(load=load, bead=bead, moulds=1, beads=12)
    string_strands(strand_item("Harbour anklet"), 2, {bead: 40}, person=owner)
    Finding.objects.create(name="Brass clasp", kind=Finding.Kind.CLASP)
    QuantityBreak.objects.create(from_strands=10, off=Decimal("0.1"), valid_from=date(2026, 1, 1))
    StockLocation.objects.create(kind="beads", name="Tray A3")
    StandingCost.objects.create(valid_from=date(2026, 1, 1), workshop_month=Decimal(100))
    PatternFactor.objects.create(pattern="stripes", skill="moulding", factor=2)
    BeadMinutes.objects.create(bead=bead, skill="moulding", minutes=2)
    TaxRate.objects.create(name="no VAT", category="O", reason="small", valid_from=today)
    design, customer = make_design(beads=bead), make_customer()
    DesignPrice.objects.create(design=design, price=Decimal(12), valid_from=today)
    draft = make_draft(2, design=design, customer=customer)
    issue_quote(draft, person=owner)
    order = make_order(3, design=design, customer=customer)
    make_order(4, design=design, customer=customer)
    invoice = issue_invoice(order, person=owner)
    record_payment(customer, Decimal("5.00"), person=owner, papers=[(invoice, Decimal(5))])
    sell_ready_strands(owner)


def sell_ready_strands(owner: Any) -> None:
    """What lies ready is sold over the counter, lies at a stall and with a shop; some is agreed."""
    from orders.counter.services.consigning import lend
    from orders.counter.services.selling import sell
    from orders.counter.services.stall import carry_out
    from orders.counter.services.standing import Rhythm, agree_standing
    from orders.models import WantedLine
    from orders.money.services.payments import PaymentDetails

    design, today = ready_strands("Harbour necklace", 10), timezone.localdate()
    line, shop = WantedLine(design.pk, 1, Decimal(12)), make_customer("Lantern House", group="shop")
    way = PaymentDetails("cash", drawer="market stall")
    sell([line], person=owner, way=way, owner_word="agreed")
    carry_out({design.pk: 3}, person=owner)
    lend(shop, {design.pk: 3}, person=owner, share=Decimal("0.3"))
    rhythm = Rhythm(every=2, unit="weeks", from_on=today + timedelta(days=30), ahead_days=14)
    agree_standing(shop, [line], rhythm, person=owner)


def make_firings(count: int) -> None:
    """Planned loads of one tray each, in a kiln of their own, their beads moulded and waiting."""
    from stock.models import Bead, KilnLoad, LoadTray
    from stock.services.beads import mould_beads
    from tests.hard.traffic import FIRST_LOAD, TRAY_BEADS

    bead, kiln = Bead.objects.get(name="Green round"), make_kiln("Brick kiln", places=6)
    put_glass(make_colour(), "powder", 40)
    mould_beads(bead, count * TRAY_BEADS, person=make_person("owner"))
    batch = bead.batches.latest("pk")
    starts = timezone.now() + timedelta(days=2)
    loads = KilnLoad.objects.bulk_create(
        KilnLoad(
            number=FIRST_LOAD + n, kiln=kiln, hold_c=720, hold_min=30, pinned=True,
            starts_at=starts + timedelta(hours=8 * n),
        )
        for n in range(count)
    )  # fmt: skip
    LoadTray.objects.bulk_create(
        LoadTray(load=load, bead=bead, batch=batch, moulds=1, beads=TRAY_BEADS) for load in loads
    )


# --- every address ------------------------------------------------------------------------------


@dataclass(frozen=True)
class Address:
    """A named address of the project and the pieces that its path leaves open."""

    name: str
    pieces: tuple[str, ...]


def every_address(
    resolver: Any = None, namespace: str = "", above: tuple = ()
) -> Iterator[Address]:
    """Every address by its name, from the URL resolver itself."""
    for pattern in (resolver or get_resolver()).url_patterns:
        pieces = (*above, *pattern.pattern.converters)
        if isinstance(pattern, URLResolver):
            inner = f"{namespace}{pattern.namespace}:" if pattern.namespace else namespace
            yield from every_address(pattern, inner, pieces)
        elif isinstance(pattern, URLPattern):
            yield Address(f"{namespace}{pattern.name}", pieces)


def candidates() -> dict[str, list[Any]]:
    """Values worth trying for the open pieces of a path: keys and numbers that exist."""
    keys: set[int] = set()
    numbers: set[int] = set()
    for app in OWN_APPS:
        for model in apps.get_app_config(app).get_models():
            if isinstance(model._meta.pk.get_internal_type(), str) and model._meta.pk.name == "id":
                keys.update(model.objects.order_by("-pk").values_list("pk", flat=True)[:6])
            if any(field.name == "number" for field in model._meta.fields):
                numbers.update(
                    n
                    for n in model.objects.values_list("number", flat=True)[:20]
                    if str(n).isdigit()
                )
    return {
        "pk": sorted(keys),
        "number": sorted(int(n) for n in numbers),
        "day": [timezone.localdate().isoformat()],
        "key": [uuid.UUID(int=0)],
        "figure": ["price", "cost", "glass", "kiln", "beads", "labour"],
        "kind": ["payment", "credit", "invoice"],
        "pictured": ["bead"],
    }


def _counts(number: Any) -> bool:
    return str(number).isdigit()


def paths_of(address: Address, values: dict[str, list[Any]]) -> Iterator[str]:
    """Paths under a name, one for each value of its last open piece."""
    if not address.pieces:
        yield reverse(address.name)
        return
    first: dict[str, Any] = {}
    for piece in address.pieces[:-1]:
        first[piece] = values.get(piece, ["x"])[0]
    last = address.pieces[-1]
    for value in values.get(last, ["x"]):
        yield reverse(address.name, kwargs={**first, last: value})


def page_of(client: Client, address: Address, values: dict[str, list[Any]]):
    """The first path under a name that answers, and its answer; else the last tried.

    What takes a form only says so (405) at any path.
    """
    path, answer = "", None
    for path in paths_of(address, values):
        answer = client.get(path)
        if answer.status_code != 404:
            break
    return path, answer


def body_of(answer: Any) -> bytes:
    """The whole answer, streamed or not."""
    return b"".join(answer.streaming_content) if answer.streaming else answer.content


def signed_in(role: str = "owner", **given: Any) -> Client:
    """A browser in which somebody works; a page that fails is an answer (500), not a halt."""
    client = Client(raise_request_exception=False, **given)
    client.force_login(make_person(role))
    return client


def database_hash(*without: str) -> str:
    """A fingerprint of every row of every table but those named."""
    import hashlib

    from django.db import connection

    quoted = connection.ops.quote_name
    with connection.cursor() as cursor:
        tables = sorted({*connection.introspection.table_names(cursor)} - {*without})
        if connection.vendor == "postgresql":
            # Asked at once: a hundred questions and answers take four times as long.
            each = "(SELECT string_agg(md5(t::text), ',' ORDER BY md5(t::text)) FROM {} t)"
            told = [f"'{table}', {each.format(quoted(table))}" for table in tables]
            cursor.execute(f"SELECT md5(concat_ws(',', VARIADIC ARRAY[{', '.join(told)}]))")
            return cursor.fetchone()[0]
        digest = hashlib.sha256()
        for table in tables:
            cursor.execute(f"SELECT * FROM {quoted(table)}")
            digest.update(table.encode())
            for row in sorted(map(repr, cursor.fetchall())):
                digest.update(row.encode())
    return digest.hexdigest()
