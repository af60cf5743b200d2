"""Every kind of row that can be brought in, with its words and an example."""

from django.utils.translation import gettext_lazy

from orders.counter.forms.customers import CustomerForm
from orders.designs.forms.designs import DesignForm, FindingForm
from orders.designs.forms.prices import BreakForm, PriceForm
from orders.models import (
    Customer,
    DesignPrice,
    Document,
    Finding,
    QuantityBreak,
    StrandDesign,
)
from orders.moving_in.forms import BalanceForm
from orders.moving_in.own_acts import (
    BalancesSheet,
    BeadsSheet,
    CustomersSheet,
    DesignsSheet,
    FindingStockSheet,
    StockSheet,
)
from orders.moving_in.sheet import PART, Column, Sheet
from orders.moving_in.words import plain
from orders.supplies.forms import FindingStockForm
from stock.forms import BeadForm, CollectorForm, CollectorPriceForm, ColourForm
from stock.forms.moving import OpeningForm
from stock.models import (
    Bead,
    Collector,
    CollectorPrice,
    GlassColour,
    Posting,
)
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
    Programme,
    StandingCost,
    TaxRate,
    WorkingHours,
)

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
    BeadsSheet(
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
    DesignsSheet(
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
    CustomersSheet(
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
    StockSheet(
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
    FindingStockSheet(
        "supplies",
        gettext_lazy("Clasps and cord in stock"),
        gettext_lazy(
            "What lies here already: from then on it is counted, orders hold it and wait for it."
        ),
        FindingStockForm,
        Finding,
        refers_to={"finding": "findings"},
        examples=(
            {"finding": "Example clasp", "quantity": "120", "worth_each": "0.25"},
            {"finding": "Example cord", "quantity": "250"},
        ),
    ),
    BalancesSheet(
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
