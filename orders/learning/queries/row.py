"""One standard beside what was measured, and how its figures are written."""

from dataclasses import dataclass, replace
from decimal import Decimal

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orders.learning.sums import Learned, Scatter
from orders.models import AcceptedStandard
from workshop import formats

Kind = AcceptedStandard.Kind
FILLINGS = "fillings"
NEAR = Decimal("0.10")  # of a standard, over the latest records
LEAST_EFFICIENCY = Decimal("0.01")  # as the kiln's own page takes it


@dataclass(frozen=True)
class LearnedRow:
    """One standard beside what was measured.

    standard   in use now; None where there is none (fuel that is worked out from the heat)
    learned    measured, with how many it rests on and its 90 % interval
    loads      in how many loads, preparations or days it was measured
    scatter    how rejects scatter from load to load, where the records show that they do
    unit       "share", "min", FILLINGS, or the unit of the fuel
    in_use     False where costing goes by another figure: the efficiency of a kiln whose fuel is
               counted by the weighed load
    known_from  where the standard is from, in words: a first guess, the building, measured
    lately     by what share the latest records were above the standard; None while they are few
    """

    kind: str
    subject_id: int
    subject: str
    standard: Decimal | None
    learned: Learned
    loads: int
    unit: str
    scatter: Scatter | None = None
    in_use: bool = True
    known_from: str = ""
    lately: Decimal | None = None

    @property
    def can_accept(self) -> bool:
        """Whether there is an interval, a difference, and a value that can be a standard."""
        fits = self.learned.value < 1 if self.unit == "share" else self.learned.value > 0
        if self.kind == Kind.EFFICIENCY:
            fits = LEAST_EFFICIENCY <= self.learned.value <= 1
        if self.is_yield:
            fits = 0 < self.learned.value <= 1
        differs = self.learned.value != self.standard or not self.in_use
        return fits and self.learned.low is not None and differs

    @property
    def is_far_off(self) -> bool:
        """Whether goods bear another figure than the work takes by now.

        Source: IAS 2.21: a standard cost may stand while it is near the actual; the border is our
        own choice.
        """
        return self.lately is not None and abs(self.lately) > NEAR

    @property
    def is_yield(self) -> bool:
        return self.kind in {Kind.POWDER_YIELD, Kind.CHUNK_YIELD}

    @property
    def agrees(self) -> bool:
        return self.standard is not None and self.learned.agrees_with(self.standard)


def five_places(found: Learned) -> Learned:
    """As a share is kept, so that what is shown is what is accepted."""
    return replace(found, value=found.value.quantize(Decimal("0.00001")).normalize())


def four_places(found: Learned) -> Learned:
    """As minutes are kept."""
    return replace(found, value=found.value.quantize(Decimal("0.0001")).normalize())


def scaled(found: Learned, factor: Decimal) -> Learned:
    """Value and interval, both times a factor."""
    return replace(
        found,
        value=found.value * factor,
        low=None if found.low is None else found.low * factor,
        high=None if found.high is None else found.high * factor,
    )


def said(value: Decimal | None, unit: str) -> str:
    """A standard in words."""
    if value is None:
        return _("worked out from the heat")
    if unit == "share":
        return formats.percent(value)
    if unit == "min":
        return _("%(number)s min") % {"number": formats.decimal(value, 2)}
    if unit == FILLINGS:
        return ngettext("%(n)s filling", "%(n)s fillings", round(value)) % {
            "n": formats.decimal(value, 0)
        }
    return f"{formats.decimal(value, 1)} {unit}"
