"""Clasps, cord and spacers that most strands are strung with, and sizes they are worn on.

Common practice, no source.
"""

from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext_lazy as _

from orders.models import Finding, StrandDesign
from workshop.typed import whole_number


@dataclass(frozen=True)
class UsualFinding:
    """A finding and what it takes of the cord [mm]; sizes vary from maker to maker."""

    key: str
    name: object
    kind: Finding.Kind
    length_mm: Decimal = Decimal(0)
    across_mm: Decimal = Decimal(0)
    swatch: str = "#b08d57"


USUAL_FINDINGS = (
    UsualFinding("cotton", _("Waxed cotton"), Finding.Kind.CORD, swatch="#6b5a45"),
    UsualFinding("nylon", _("Braided nylon"), Finding.Kind.CORD, swatch="#3b3a36"),
    UsualFinding("elastic", _("Elastic cord"), Finding.Kind.CORD, swatch="#c9c4b8"),
    UsualFinding("hook", _("Hook clasp"), Finding.Kind.CLASP, Decimal(12), Decimal(6)),
    UsualFinding("toggle", _("Toggle clasp"), Finding.Kind.CLASP, Decimal(16), Decimal(12)),
    UsualFinding("loop", _("Loop and bead clasp"), Finding.Kind.CLASP, Decimal(8), Decimal(6)),
    UsualFinding("spacer2", _("Spacer 2 mm"), Finding.Kind.SPACER, Decimal(2), Decimal(5)),
    UsualFinding("spacer4", _("Spacer 4 mm"), Finding.Kind.SPACER, Decimal(4), Decimal(6)),
)


@dataclass(frozen=True)
class UsualSize:
    """A size that a strand is worn on, to be chosen with one tap."""

    worn_at: StrandDesign.Worn
    around_mm: Decimal


USUAL_SIZES = (
    *(UsualSize(StrandDesign.Worn.WRIST, Decimal(mm)) for mm in (140, 155, 170, 185)),
    *(UsualSize(StrandDesign.Worn.NECK, Decimal(mm)) for mm in (340, 380)),
    UsualSize(StrandDesign.Worn.WAIST, Decimal(800)),
)

# Strands made at once that the figures of the bench are told for; set-ups are shared by them.
HOW_MANY = (1, 10, 50)


def how_many(text: str | None) -> int:
    """The one of HOW_MANY that was chosen, usually ten."""
    chosen = whole_number(text)
    return chosen if chosen in HOW_MANY else 10
