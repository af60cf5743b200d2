"""Sheets that need more than a plain form: parts, an act of their own, boxes by what is told."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import F, QuerySet, Sum
from django.utils import timezone

from orders.counter.services.customers import add_customer
from orders.designs.forms.designs import PartForms
from orders.designs.services.designs import save_design
from orders.making.queries.findings import findings_in_stock
from orders.models import Document, Payment, StrandDesign
from orders.money.services.opening import open_balance
from orders.moving_in.forms import BalanceForm
from orders.moving_in.sheet import PART, Sheet, Told
from orders.supplies.forms import FindingStockForm
from orders.supplies.services import count_finding
from stock.forms import BeadForm, ColourShares
from stock.forms.beads import ColourShareForm
from stock.forms.glass import MIXED
from stock.forms.moving import OpeningForm
from stock.measures import SMALLEST_IN, typed_quantity
from stock.models import (
    DIMENSIONS,
    SHELVES,
    Balance,
    Bead,
    ItemKind,
)
from stock.services.bead_kinds import save_bead
from stock.services.moving import open_stock
from workshop.models import (
    Mould,
    Person,
)
from workshop.physics.shapes import SHAPE_FIELDS

MG_PER_G, MG_PER_KG = 1000, 1_000_000
MONEY_PLACES = 6  # as fine as the book keeps money


@dataclass(frozen=True)
class BeadsSheet(Sheet):
    """Beads: the boxes depend on the shape, and each has one colour or more."""

    def widest_form(self) -> forms.BaseForm:
        form = self.blank({})
        sizes = {
            name: box
            for shape in SHAPE_FIELDS
            for name, box in self.blank({"shape": shape}).fields.items()
            if name in DIMENSIONS
        }
        for box in sizes.values():
            box.required = False  # which of them a row needs depends on its shape
        others = {name: box for name, box in form.fields.items() if name not in DIMENSIONS}
        order = ["name", "kind", "shape", *(name for name in DIMENSIONS if name in sizes)]
        form.fields = {name: (others | sizes)[name] for name in order} | others
        return _any_mould(form)

    def blank_part(self) -> forms.BaseForm:
        return ColourShareForm()

    def blank(self, told: Told) -> forms.BaseForm:
        shape = told.get("shape", "")
        return BeadForm(instance=Bead(), shape=shape, initial={"shape": shape or "round"})

    def filled(self, data: Mapping[str, Any], told: Told) -> forms.BaseForm:
        return _any_mould(BeadForm(data, instance=Bead(), shape=str(data.get("shape", ""))))

    def read_parts(self, parts: Sequence[Mapping[str, Any]]) -> Any:
        data = {"colours-TOTAL_FORMS": len(parts), "colours-INITIAL_FORMS": 0}
        shares = ColourShares(data | _numbered(parts, "colours-{}-{}"), prefix="colours")
        if not shares.is_valid():
            errors = [each.errors for each in shares.forms]
            raise _of_parts(errors, shares.non_form_errors(), at="share")
        return shares

    def save(self, form: Any, parts: Any, *, person: Person) -> Any:
        return save_bead(form, parts, person=person)

    def rows(self) -> QuerySet[Any]:
        return Bead.objects.order_by("pk").prefetch_related("colours")

    def form_of(self, thing: Any) -> forms.BaseForm:
        return BeadForm(instance=thing, shape=thing.shape)

    def parts_of(self, thing: Any) -> list[forms.BaseForm]:
        return [
            ColourShareForm(initial={"colour": part.colour_id, "share": part.share})
            for part in thing.colours.all()
        ]


@dataclass(frozen=True)
class DesignsSheet(Sheet):
    """Designs: the parts stand below each other in their order along the cord."""

    def blank_part(self) -> forms.BaseForm:
        return PartForms(None).forms[0]

    def read_parts(self, parts: Sequence[Mapping[str, Any]]) -> Any:
        data = {"rows_of_parts": str(len(parts))} | _numbered(parts, "part{}-{}")
        laid = PartForms(data)  # type: ignore[arg-type]
        if not laid.is_valid():
            raise _of_parts([each.errors for each in laid.forms])
        return laid.parts()

    def save(self, form: Any, parts: Any, *, person: Person) -> Any:
        design = form.save(commit=False)
        design.code = form.free_code()
        price = form.cleaned_data.get("price")
        return save_design(design, parts, person=person, price=price)

    def rows(self) -> QuerySet[Any]:
        return StrandDesign.objects.listed().order_by("pk").prefetch_related("parts")

    def parts_of(self, thing: Any) -> list[forms.BaseForm]:
        return list[forms.BaseForm](PartForms(None, list(thing.parts.all())).forms)


def _any_mould(form: forms.BaseForm) -> forms.BaseForm:
    """The page offers the moulds of the shape; here one of another shape is refused by its rule."""
    form.fields["mould"].queryset = Mould.objects.all()  # type: ignore[attr-defined]
    return form


def _numbered(parts: Sequence[Mapping[str, Any]], name: str) -> dict[str, str]:
    """The boxes of several rows under the names that their page gives them."""
    return {
        name.format(number, box): str(value)
        for number, part in enumerate(parts)
        for box, value in part.items()
    }


def _of_parts(
    errors: Sequence[Mapping[str, Any]], whole: Sequence[str] = (), at: str = ""
) -> ValidationError:
    """The errors of part forms under names that say which part and which box.

    whole  what is wrong with all of them together, told at the box `at` of the first
    """
    named: dict[str, list[str]] = {
        f"{PART}{name}@{number}": list(map(str, sentences))
        for number, each in enumerate(errors)
        for name, sentences in each.items()
    }
    if whole:
        named[f"{PART}{at}@0"] = list(map(str, whole))
    return ValidationError(named)


@dataclass(frozen=True)
class StockSheet(Sheet):
    """What lies here already: glass by its weight, beads by their number, each with its worth."""

    def blank(self, told: Told) -> forms.BaseForm:
        return OpeningForm(initial={"on": timezone.localdate()})

    def save(self, form: Any, parts: Any, *, person: Person) -> Any:
        return open_stock(form, person=person)

    def rows(self) -> list[Any]:
        return list(
            Balance.objects.at(*SHELVES)
            .filter(quantity__gt=0, item__kind__in=[ItemKind.GLASS, ItemKind.BEADS])
            .order_by()
            .values("item__colour", "item__kind", "item__form", "item__mark", "item__batch__bead")
            .annotate(all=Sum("quantity"), worth=Sum("value"))
            .order_by("item__kind", "item__colour", "item__form", "item__mark", "item__batch__bead")
        )

    def form_of(self, thing: Any) -> forms.BaseForm:
        told: dict[str, Any] = {"on": timezone.localdate()}
        if thing["item__kind"] == ItemKind.BEADS:
            count = thing["all"]
            told |= {"bead": thing["item__batch__bead"], "pieces": count, "form": ""}
        else:
            count = Decimal(thing["all"]) / MG_PER_KG
            told |= {
                "colour": str(thing["item__colour"] or MIXED),
                "form": thing["item__form"],
                "mark": thing["item__mark"],
                "mass_g": round(thing["all"] / MG_PER_G),
            }
        each = round(thing["worth"] / count, MONEY_PLACES)
        return OpeningForm(initial=told | {"worth_each": each})


@dataclass(frozen=True)
class FindingStockSheet(Sheet):
    """Clasps, cord, paint and fuel that lie here already, each with its worth."""

    def blank(self, told: Told) -> forms.BaseForm:
        return FindingStockForm()

    def save(self, form: Any, parts: Any, *, person: Person) -> Any:
        data = form.cleaned_data
        return count_finding(
            data["finding"], data["smallest"], worth_each=data["worth_each"], person=person
        )

    def rows(self) -> list[Any]:
        return [row for row in findings_in_stock() if row.there]

    def form_of(self, thing: Any) -> forms.BaseForm:
        by = SMALLEST_IN[thing.finding.unit]
        return FindingStockForm(
            initial={
                "finding": thing.finding.pk,
                "quantity": typed_quantity(thing.finding.unit, thing.there),
                "worth_each": round(thing.value * by / thing.there, MONEY_PLACES),
            }
        )


@dataclass(frozen=True)
class BalancesSheet(Sheet):
    """What customers owe from before, and what they have in credit."""

    def blank(self, told: Told) -> forms.BaseForm:
        return BalanceForm()

    def save(self, form: Any, parts: Any, *, person: Person) -> Any:
        return open_balance(**form.cleaned_data, person=person)

    def rows(self) -> list[dict[str, Any]]:
        owed = (
            Document.objects.filter(settled__lt=F("total"))
            .filter(kind__in=[Document.Kind.INVOICE, Document.Kind.OPENING])
            .order_by("issued_on", "pk")
        )
        credit = Payment.objects.filter(unused__gt=0).order_by("on", "pk")
        return [
            {
                "customer": paper.customer_id,
                "number": paper.number,
                "issued_on": paper.issued_on,
                "due_on": paper.due_on,
                "amount": paper.total - paper.settled,
            }
            for paper in owed
        ] + [
            {
                "customer": payment.customer_id,
                "number": payment.reference,
                "issued_on": payment.on,
                "amount": -payment.unused,
            }
            for payment in credit
        ]

    def form_of(self, thing: Any) -> forms.BaseForm:
        return BalanceForm(initial=thing)


@dataclass(frozen=True)
class CustomersSheet(Sheet):
    def save(self, form: Any, parts: Any, *, person: Person) -> Any:
        return add_customer(form, person=person)
