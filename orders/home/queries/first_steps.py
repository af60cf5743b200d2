"""What a new workshop writes down before its first order; each step needs those before it."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext as _

from orders.models import Customer, Order, StrandDesign
from stock.models import Balance, Bead, GlassColour
from workshop.models import Business, Kiln, LabourRate, Mould, Programme, WorkingHours


@dataclass(frozen=True)
class FirstStep:
    """One step: what, why, where, and whether something stands there already."""

    title: str
    why: str
    url: str
    done: bool


def first_steps(business: Business) -> list[FirstStep]:
    """The steps of a workshop that has taken no order yet; none afterwards (at most 11 queries)."""
    if Order.objects.exists():
        return []
    return [FirstStep(title, why, reverse(page), done) for title, why, page, done in _all(business)]


def _all(business: Business) -> Iterable[tuple[str, str, str, bool]]:
    unnamed = Business._meta.get_field("name").default
    yield (
        _("Your business"),
        _("Name and address for the papers, the money you take, your time zone, your margin."),
        "workshop:business",
        business.name != unnamed,
    )
    for title, why, page, model in _facts():
        yield title, why, page, model.objects.exists()
    yield (
        _("Glass and beads that lie here already"),
        _("Weigh what is in the yard and on the shelves, so that the book begins with it."),
        "stock:glass_opening",
        Balance.objects.filter(quantity__gt=0).exists(),
    )
    yield (
        _("The first order"),
        _("Who it is for, which strands and how many; the rest is worked out."),
        "orders:counter",
        False,
    )


def _facts() -> list[tuple[str, str, str, Any]]:
    return [
        (
            _("Kilns"),
            _("How many moulds go in, how hot they get, how long they heat and cool."),
            "workshop:kiln_list",
            Kiln,
        ),
        (
            _("Firing programmes"),
            _("How hot and how long each kind of bead is fired."),
            "workshop:programme_list",
            Programme,
        ),
        (
            _("Moulds"),
            _("Shape, cavities and how many you own: they set how many beads go into a load."),
            "workshop:mould_list",
            Mould,
        ),
        (
            _("Working hours"),
            _("When hands are there; the day promised follows from it."),
            "workshop:hours_list",
            WorkingHours,
        ),
        (
            _("Labour rates"),
            _("Minutes and pay of each step; the lowest price follows from it."),
            "workshop:rate_list",
            LabourRate,
        ),
        (
            _("Glass colours"),
            _("The colours you collect, and what is paid for a kilogram."),
            "stock:colour_list",
            GlassColour,
        ),
        (
            _("Beads"),
            _("Shape, size, bore and colours; each with its mould and its programme."),
            "stock:beads",
            Bead,
        ),
        (
            _("Strand designs"),
            _("Beads in their order along the cord; each is drawn as you lay it."),
            "orders:design_list",
            StrandDesign,
        ),
        (
            _("Customers"),
            _("Or write the first one in at the counter."),
            "orders:customer_list",
            Customer,
        ),
    ]
