"""What a new workshop writes down before its first order; each step needs those before it."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext as _

from orders.models import Finding, Order, StrandDesign
from stock.models import Bead, GlassColour
from workshop.models import Business, Kiln, LabourRate, Mould, Programme, WorkingHours


@dataclass(frozen=True)
class FirstStep:
    """One step: what, why, the page where it is done, and whether something stands there already.

    page    the name of the page's address
    listed  the name of the page where what stands there is changed
    """

    title: str
    why: str
    page: str
    listed: str
    done: bool

    @property
    def url(self) -> str:
        """To what stands there; where nothing does, to the page that leads on to the next step."""
        return reverse(self.listed) if self.done else f"{reverse(self.page)}?first=yes"


def first_steps(business: Business) -> list[FirstStep]:
    """The steps of a workshop that has taken no order yet; none afterwards (10 queries)."""
    if Order.objects.exists():
        return []
    return [
        FirstStep(title, why, page, listed, _is_there(kept, business))
        for title, why, page, listed, kept in _all()
    ]


def next_step(steps: Sequence[FirstStep], after: str = "") -> FirstStep | None:
    """The next step that is not done, from the one behind `after` on; then from the first."""
    places = [place for place, step in enumerate(steps) if step.page == after]
    begin = places[0] + 1 if places else 0
    return next((step for step in (*steps[begin:], *steps) if not step.done), None)


def _is_there(kept: Any, business: Business) -> bool:
    if kept is None:
        return False
    return not business._state.adding if kept is Business else kept.objects.exists()


def _all() -> list[tuple[str, str, str, str, Any]]:
    return [
        (
            _("Your business"),
            _("Name and address for the papers; the country brings money, clock and VAT along."),
            "workshop:business",
            "workshop:business",
            Business,
        ),
        (
            _("Working hours"),
            _("When hands are there; the day promised follows from it."),
            "workshop:hours_week",
            "workshop:hours_week",
            WorkingHours,
        ),
        (
            _("Kilns"),
            _("How many moulds go in, how hot they get, what they burn."),
            "workshop:kiln_add",
            "workshop:kiln_list",
            Kiln,
        ),
        (
            _("Firing programmes"),
            _("How hot and how long each kind of bead is fired."),
            "workshop:programme_add",
            "workshop:programme_list",
            Programme,
        ),
        (
            _("Moulds"),
            _("Shape, cavities and how many you own: they set how many beads go into a load."),
            "workshop:mould_add",
            "workshop:mould_list",
            Mould,
        ),
        (
            _("Labour rates"),
            _("Minutes and pay of each step; the lowest price follows from it."),
            "workshop:rate_usual",
            "workshop:rate_list",
            LabourRate,
        ),
        (
            _("Glass colours"),
            _("The bottles you collect, what is paid for a kilogram, and what lies here already."),
            "stock:colour_usual",
            "stock:colour_list",
            GlassColour,
        ),
        (
            _("Beads"),
            _("Shape, size, bore and colours, and how many lie here already."),
            "stock:bead_add",
            "stock:beads",
            Bead,
        ),
        (
            _("Clasps and cord"),
            _("What a strand needs besides beads, and its price."),
            "orders:design_finding_usual",
            "orders:design_finding_list",
            Finding,
        ),
        (
            _("Strand designs"),
            _("Beads in their order along the cord, drawn as you lay it, and the price."),
            "orders:design_add",
            "orders:design_list",
            StrandDesign,
        ),
        (
            _("The first order"),
            _("Who it is for, which strands and how many; the rest is worked out."),
            "orders:counter",
            "orders:counter",
            None,
        ),
    ]
