"""Finding one thing by its number, name or telephone, whatever it is.

One function answers: `find`. What may be opened by the reader is looked through, nothing else.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet
from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from orders.models import Customer, Document, Order, StrandDesign
from stock.models import Bead, BeadBatch, Collector, KilnLoad, Sack
from workshop import formats
from workshop.search import digits, holding, numbered
from workshop.typed import whole_number

MOST_EACH = 6
FEWEST_LETTERS = 2


@dataclass(frozen=True)
class Hit:
    """One thing found: how it is called, a word about it, and its page."""

    name: str
    note: str
    url: str


@dataclass(frozen=True)
class Group:
    """Things of one kind, the newest or nearest first; more: there are others."""

    kind: str
    hits: tuple[Hit, ...]
    more: bool


@dataclass(frozen=True)
class _Kind:
    """How things of one kind are found, named and opened."""

    words: Any
    page: str
    rows: Callable[[str, int | None], QuerySet]
    hit: Callable[[Any], tuple[str, str, Any]]


def find(words: str, may_open: Callable[[str], bool]) -> list[Group]:
    """Everything that words mean, kind by kind (a query for each kind the reader may open).

    may_open  whether the reader may open a page, by its name
    """
    words = " ".join(words.split())[:80]
    number = whole_number(words.lstrip("#"))
    if number is None and len(words) < FEWEST_LETTERS:
        return []
    found = []
    for kind in KINDS:
        if not may_open(kind.page):
            continue
        rows = list(kind.rows(words, number)[: MOST_EACH + 1])
        hits = tuple(_hit(kind, row) for row in rows[:MOST_EACH])
        if hits:
            found.append(Group(str(kind.words), hits, len(rows) > MOST_EACH))
    return found


def _hit(kind: _Kind, row: Any) -> Hit:
    name, note, key = kind.hit(row)
    return Hit(name, note, reverse(kind.page, args=[key]))


def _orders(words: str, number: int | None) -> QuerySet[Order]:
    rows = Order.objects.select_related("customer").filter(sale__isnull=True).order_by("-number")
    found = holding(rows, words, whose="customer")
    if number is None:
        return found
    return rows.filter(number=number) | found if digits(words) else rows.filter(number=number)


def _people(words: str, number: int | None) -> QuerySet[Customer]:
    return holding(Customer.objects.filter(nameless=False), words).order_by("sorts_as")


def _collectors(words: str, number: int | None) -> QuerySet[Collector]:
    return holding(Collector.objects.order_by("sorts_as"), words)


def _numbered(model: Any, order: str = "-number") -> Callable[[str, int | None], QuerySet]:
    """Things that have a number of their own and no other name."""

    def rows(words: str, number: int | None) -> QuerySet:
        found: QuerySet = model.objects.order_by(order)
        return found.filter(number=number) if number is not None else found.none()

    return rows


def _batches(words: str, number: int | None) -> QuerySet[BeadBatch]:
    rows = BeadBatch.objects.select_related("bead").order_by("-number")
    return rows.filter(number=number) if number is not None else rows.none()


def _loads(words: str, number: int | None) -> QuerySet[KilnLoad]:
    rows = KilnLoad.objects.select_related("kiln").order_by("-number")
    return rows.filter(number=number) if number is not None else rows.none()


def _sacks(words: str, number: int | None) -> QuerySet[Sack]:
    rows = Sack.objects.select_related("collector").order_by("-number")
    if number is not None:
        return rows.filter(number=number)
    return holding(rows, words, whose="collector")


def _papers(words: str, number: int | None) -> QuerySet[Document]:
    rows = Document.objects.select_related("customer").order_by("-issued_on", "-pk")
    if number is not None:
        return numbered(rows, number).filter(sequence=number)
    return rows.called(words)


KINDS = (
    _Kind(
        _("orders"), "orders:order_detail", _orders,
        lambda order: (
            f"{order.number} {order.customer}",
            f"{order.get_state_display()}, {formats.date_short(order.due_on or order.taken_on)}",
            order.number,
        ),
    ),
    _Kind(
        _("people"), "orders:customer_detail", _people,
        lambda row: (row.name, row.phone or str(row.get_group_display()), row.pk),
    ),
    _Kind(
        _("designs"), "orders:design_detail",
        lambda words, number: holding(StrandDesign.objects.listed(), words).order_by("sorts_as"),
        lambda row: (row.name, "", row.pk),
    ),
    _Kind(
        _("beads"), "stock:bead",
        lambda words, number: holding(Bead.objects.all(), words).order_by("sorts_as"),
        lambda row: (row.name, str(row.get_kind_display()), row.pk),
    ),
    _Kind(
        _("batches"), "stock:batch", _batches,
        lambda row: (str(row), f"{row.bead}, {formats.date_short(row.made_on)}", row.pk),
    ),
    _Kind(
        _("loads"), "orders:load", _loads,
        lambda row: (
            _("load %(n)s") % {"n": row.number},
            f"{row.kiln}, {formats.date_short(row.starts_at)}, {row.get_state_display()}",
            row.number,
        ),
    ),
    _Kind(
        _("sacks"), "stock:sack", _sacks,
        lambda row: (
            str(row), f"{row.collector}, {formats.date_short(row.received_on)}", row.pk,
        ),
    ),
    _Kind(
        _("collectors"), "stock:collector", _collectors,
        lambda row: (row.name, row.phone, row.pk),
    ),
    _Kind(
        _("papers"), "orders:paper", _papers,
        lambda row: (
            row.number,
            f"{row.get_kind_display()}, {row.customer}, {formats.date_short(row.issued_on)}",
            row.pk,
        ),
    ),
)  # fmt: skip


def recent(rows: Iterable[Any], may_open: Callable[[str], bool]) -> list[Hit]:
    """What somebody last did something to, newest first, each once (no queries).

    rows  lines of the log, newest first
    """
    found: dict[tuple[str, str], Hit] = {}
    for row in rows:
        page, words = RECENT.get(row.subject_kind, ("", ""))
        key = (row.subject_kind, row.subject_ref)
        if page and key not in found and row.subject_ref.isdigit() and may_open(page):
            name = str(words) % {"n": row.subject_ref}
            found[key] = Hit(
                name, formats.date_short(row.at), reverse(page, args=[int(row.subject_ref)])
            )
    return list(found.values())


RECENT = {
    "order": ("orders:order_detail", _("order %(n)s")),
    "kilnload": ("orders:load", _("load %(n)s")),
    "customer": ("orders:customer_detail", _("customer %(n)s")),
    "document": ("orders:paper", _("paper %(n)s")),
    "posting": ("stock:posting", _("posting %(n)s")),
}
