"""Every kind of row that can be brought in, described once, on top of the form of its page.

A `Sheet` says which form reads a row, what else stands in it, what it looks like, and by which act
it is written. The columns are the boxes of that form: what may stand in one, and the sentence where
something else does, come from the box. Old names of columns are understood as well.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import F, Model, QuerySet, Sum
from django.utils import timezone
from django.utils.text import capfirst
from django.utils.translation import gettext_lazy

from orders.counter.forms.customers import CustomerForm
from orders.counter.services.customers import add_customer
from orders.designs.forms.designs import DesignForm, FindingForm, PartForms
from orders.designs.forms.prices import BreakForm, PriceForm
from orders.designs.services.designs import save_design
from orders.models import (
    Customer,
    DesignPrice,
    Document,
    Finding,
    Payment,
    QuantityBreak,
    StrandDesign,
)
from orders.money.forms.opening import BalanceForm
from orders.money.services.opening import open_balance
from orders.moving_in.words import plain
from stock.forms import BeadForm, CollectorForm, CollectorPriceForm, ColourForm, ColourShares
from stock.forms.beads import ColourShareForm
from stock.forms.glass import MIXED
from stock.forms.moving import OpeningForm
from stock.models import (
    DIMENSIONS,
    SHELVES,
    Balance,
    Bead,
    Collector,
    CollectorPrice,
    GlassColour,
    ItemKind,
    Posting,
)
from stock.services.bead_kinds import save_bead
from stock.services.moving import open_stock
from workshop.forms import (
    ClosedDayForm,
    HoursForm,
    KilnForm,
    LabourRateForm,
    MouldForm,
    ProgrammeForm,
    StandingCostForm,
    TaxRateForm,
)
from workshop.models import (
    ClosedDay,
    Kiln,
    LabourRate,
    Mould,
    Person,
    Programme,
    StandingCost,
    TaxRate,
    WorkingHours,
)
from workshop.physics.shapes import SHAPE_FIELDS
from workshop.services.plain import save_plain

Told = Mapping[str, str]
MG_PER_G, MG_PER_KG = 1000, 1_000_000
MONEY_PLACES = 6  # as fine as the book keeps money
PART = "part."  # before the name of a box that belongs to a part of a row's thing


@dataclass(frozen=True)
class Column:
    """One column: the box it fills, its head, whether a row needs it, and its other names."""

    name: str
    head: str
    box: forms.Field
    needed: bool = False
    other_names: tuple[str, ...] = ()
    note: str = ""
    refers_to: str = ""

    @property
    def of_part(self) -> bool:
        return self.name.startswith(PART)

    def names(self) -> set[str]:
        """Every way its head may be written, as `plain` compares them."""
        return {
            plain(each) for each in (self.head, self.name.removeprefix(PART), *self.other_names)
        }


@dataclass(frozen=True)
class Sheet:
    """A kind of row: its form, its words and its act. One that needs no more is a plain form."""

    key: str
    title: Any
    about: Any
    form: Callable[..., Any]
    model: type[Model]
    # The box by which a row is known; the same name may not stand in the book twice.
    named: str = ""
    heads: Mapping[str, Any] = field(default_factory=dict)
    notes: Mapping[str, Any] = field(default_factory=dict)
    old_names: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    refers_to: Mapping[str, str] = field(default_factory=dict)
    needs: tuple[str, ...] = ()
    examples: tuple[Mapping[str, str], ...] = ()

    def columns(self) -> list[Column]:
        """The columns as the boxes stand now: the name first, those of parts last."""
        form, parts = self.widest_form(), self.blank_part()
        names = sorted(form.fields, key=lambda name: name != self.named)
        own = [self._column(name, form[name]) for name in names]
        if parts is None:
            return own
        return own + [self._column(PART + name, parts[name]) for name in parts.fields]

    def _column(self, name: str, bound: forms.BoundField) -> Column:
        box = bound.field
        head = self.heads.get(name) or box.label or bound.name.replace("_", " ")
        note = self.notes.get(name) or box.help_text or ""
        return Column(
            name,
            str(capfirst(head)),
            box,
            needed=name in self.needs or (box.required and bound.initial in (None, "")),
            other_names=tuple(self.old_names.get(name, ())),
            note=str(note),
            refers_to=self.refers_to.get(name, ""),
        )

    def widest_form(self) -> forms.BaseForm:
        """An unbound form that has every box a row may fill."""
        return self.blank({})

    def blank_part(self) -> forms.BaseForm | None:
        """The unbound form of one part, where a thing has parts."""
        return None

    def blank(self, told: Told) -> forms.BaseForm:
        """The form of something new, each box as its page or else its model begins it."""
        form = self.form()
        for each in self.model._meta.fields:
            box = form.fields.get(each.name)
            if box is not None and box.initial is None and each.has_default():
                form.initial.setdefault(each.name, each.get_default())
        return form

    def filled(self, data: Mapping[str, Any], told: Told) -> forms.BaseForm:
        return self.form(data)

    def read_parts(self, parts: Sequence[Mapping[str, Any]]) -> Any:
        """The parts as their page reads them; a ValidationError names a part and its box."""
        return None

    def save(self, form: Any, parts: Any, *, person: Person) -> Any:
        """Write one row, both of its forms being right; an act may refuse with ValidationError."""
        return save_plain(form, act=f"add {form._meta.model._meta.model_name}", person=person)

    def rows(self) -> Iterable[Model]:
        """What the book holds of it, in the order in which it would be brought in."""
        return self.model._default_manager.order_by("pk")

    def form_of(self, thing: Any) -> forms.BaseForm:
        """The form of something that is in the book."""
        return self.form(instance=thing)

    def parts_of(self, thing: Any) -> list[forms.BaseForm]:
        return []


@dataclass(frozen=True)
class _Beads(Sheet):
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
class _Designs(Sheet):
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
class _Stock(Sheet):
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
class _Balances(Sheet):
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
class _Customers(Sheet):
    def save(self, form: Any, parts: Any, *, person: Person) -> Any:
        return add_customer(form, person=person)


# In the order in which they are brought in: each refers only to those before it.
SHEETS: tuple[Sheet, ...] = (
    Sheet(
        "kilns",
        gettext_lazy("Kilns"),
        gettext_lazy("How many moulds go in, how hot it gets, what it burns."),
        KilnForm,
        Kiln,
        named="name",
        examples=({"name": "Example kiln", "places": "12", "fuel": "wood", "fuel_price": "0.14"},),
    ),
    Sheet(
        "programmes",
        gettext_lazy("Firing programmes"),
        gettext_lazy("How hot and how long each kind of bead is fired."),
        ProgrammeForm,
        Programme,
        named="name",
        examples=(
            {
                "name": "Example firing",
                "kind": "powder",
                "hold_c": "720",
                "hold_min": "30",
                "from_c": "680",
                "to_c": "760",
                "from_min": "25",
                "to_min": "35",
            },
        ),
    ),
    Sheet(
        "moulds",
        gettext_lazy("Moulds"),
        gettext_lazy("Shape, cavities and how many you own."),
        MouldForm,
        Mould,
        named="name",
        examples=(
            {
                "name": "Example mould",
                "shape": "round",
                "bead_across_mm": "12 mm",
                "cavities": "16",
                "owned": "8",
                "clay_g": "0.9 kg",
            },
        ),
    ),
    Sheet(
        "hours",
        gettext_lazy("Working hours"),
        gettext_lazy("A row for each stretch of a day in which the workshop works."),
        HoursForm,
        WorkingHours,
    ),
    Sheet(
        "closed_days",
        gettext_lazy("Closed days"),
        gettext_lazy("Days on which nobody works."),
        ClosedDayForm,
        ClosedDay,
    ),
    Sheet(
        "rates",
        gettext_lazy("Labour rates"),
        gettext_lazy("Minutes and pay of each step."),
        LabourRateForm,
        LabourRate,
        examples=(
            {
                "step": "Example step",
                "skill": "moulding",
                "basis": "per mould filled",
                "minutes_each": "6.5",
                "allowance": "10 %",
                "hourly": "7.20",
                "valid_from": "2026-01-01",
            },
        ),
    ),
    Sheet(
        "costs",
        gettext_lazy("Standing costs"),
        gettext_lazy("What comes on top of pay, and what the workshop costs a month."),
        StandingCostForm,
        StandingCost,
    ),
    Sheet(
        "tax_rates",
        gettext_lazy("VAT rates"),
        gettext_lazy("With the day they hold from; only where VAT is charged."),
        TaxRateForm,
        TaxRate,
    ),
    Sheet(
        "colours",
        gettext_lazy("Glass colours"),
        gettext_lazy("The colours you collect, and what is paid for a kilogram."),
        ColourForm,
        GlassColour,
        named="name",
        notes={
            "swatch": gettext_lazy(
                "Six figures after #. Bottle green #2f6b4a, amber #9a5a14, cobalt #244f9e, clear "
                "#cfe0de, aqua #6fb3ad, milk #f2ede1, black #2b2724, red #a8402c."
            )
        },
        examples=(
            {
                "name": "Example green",
                "swatch": "#2f6b4a",
                "price_per_kg": "0.16",
                "bottle_g": "480 g",
            },
        ),
    ),
    Sheet(
        "collectors",
        gettext_lazy("Collectors"),
        gettext_lazy("Who brings bottles and is paid by the kilogram."),
        CollectorForm,
        Collector,
        named="name",
        examples=({"name": "Example collector", "phone": "+351 200 000 000"},),
    ),
    Sheet(
        "glass_prices",
        gettext_lazy("Collectors' prices"),
        gettext_lazy("What a kilogram is paid, where it is not the colour's own price."),
        CollectorPriceForm,
        CollectorPrice,
        refers_to={"colour": "colours", "collector": "collectors"},
        examples=({"colour": "Example green", "price_per_kg": "0.18", "valid_from": "2026-01-01"},),
    ),
    _Beads(
        "beads",
        gettext_lazy("Beads"),
        gettext_lazy(
            "Shape, sizes, mould and firing. A bead of several colours takes a row for each: the "
            "next colour goes below, with the name left empty."
        ),
        BeadForm,
        Bead,
        named="name",
        refers_to={
            "mould": "moulds",
            "programme": "programmes",
            "second_programme": "programmes",
            "part.colour": "colours",
        },
        needs=("part.colour", "part.share"),
        examples=(
            {
                "name": "Example round",
                "kind": "powder",
                "shape": "round",
                "diameter_mm": "12 mm",
                "bore_mm": "2 mm",
                "mould": "Example mould",
                "programme": "Example firing",
                "part.colour": "Example green",
                "part.share": "70 %",
            },
            {"part.colour": "Example clear", "part.share": "30 %"},
        ),
    ),
    Sheet(
        "findings",
        gettext_lazy("Clasps, cords, spacers"),
        gettext_lazy("What a strand needs besides beads; cord by the metre."),
        FindingForm,
        Finding,
        named="name",
        examples=(
            {"name": "Example clasp", "kind": "clasp", "length_mm": "10 mm", "price": "0.25"},
            {"name": "Example cord", "kind": "cord, by the metre", "price": "0.10"},
        ),
    ),
    _Designs(
        "designs",
        gettext_lazy("Designs"),
        gettext_lazy(
            "Each with its parts in their order along the cord: the next part goes below, with the "
            "name left empty."
        ),
        DesignForm,
        StrandDesign,
        named="name",
        refers_to={"clasp": "findings", "cord": "findings"},
        needs=("part.what",),
        examples=(
            {
                "name": "Example bracelet",
                "finished_mm": "18 cm",
                "clasp": "Example clasp",
                "cord": "Example cord",
                "part.what": "Example round",
                "part.count": "2",
                "part.role": "repeated to fill",
            },
            {"part.what": "Example blue", "part.count": "1", "part.role": "repeated to fill"},
        ),
    ),
    _Customers(
        "customers",
        gettext_lazy("Customers"),
        gettext_lazy("Traders, shops, and whoever else has a name in the book."),
        CustomerForm,
        Customer,
        named="name",
        old_names={"tax_number": ("vat_number",)},
        examples=(
            {
                "name": "Example trader",
                "group": "market trader",
                "phone": "+351 200 000 000",
                "country": "PT",
                "credit_limit": "400",
            },
        ),
    ),
    Sheet(
        "prices",
        gettext_lazy("Prices"),
        gettext_lazy("For everybody, for a group, or agreed with one customer."),
        PriceForm,
        DesignPrice,
        refers_to={"design": "designs", "customer": "customers"},
        examples=({"design": "Example bracelet", "price": "6.50"},),
    ),
    Sheet(
        "breaks",
        gettext_lazy("Quantity breaks"),
        gettext_lazy("So much off from so many strands."),
        BreakForm,
        QuantityBreak,
    ),
    _Stock(
        "stock",
        gettext_lazy("Opening stock"),
        gettext_lazy("Glass and beads that lie here already: a row for each."),
        OpeningForm,
        Posting,
        heads={
            "colour": gettext_lazy("Glass colour"),
            "form": gettext_lazy("Form of the glass"),
            "mass_g": gettext_lazy("How much glass"),
            "bead": gettext_lazy("Bead"),
            "pieces": gettext_lazy("How many beads"),
        },
        refers_to={"colour": "colours", "bead": "beads"},
        examples=(
            {"colour": "Example green", "form": "raw", "mass_g": "40 kg", "worth_each": "0.16"},
            {"bead": "Example round", "pieces": "120", "worth_each": "0.25"},
        ),
    ),
    _Balances(
        "balances",
        gettext_lazy("Opening balances"),
        gettext_lazy("What is owed to you from before, and what customers have in credit."),
        BalanceForm,
        Document,
        old_names={"issued_on": ("day",), "due_on": ("due",)},
        refers_to={"customer": "customers"},
        examples=({"customer": "Example trader", "number": "A-17", "amount": "120.00"},),
    ),
)
BY_KEY: dict[str, Sheet] = {sheet.key: sheet for sheet in SHEETS}

EXAMPLE_NAMES = frozenset(
    plain(value)
    for sheet in SHEETS
    for example in sheet.examples
    for value in example.values()
    if value.startswith("Example ")
)

__all__ = ["BY_KEY", "EXAMPLE_NAMES", "PART", "SHEETS", "Column", "Sheet"]
