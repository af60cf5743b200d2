"""The place itself: business, people, kilns, moulds, programmes, hours and rates."""

from workshop.models.business import Business, PaperSeries, TaxRate, answering_for
from workshop.models.fields import MoneyField, ShareField, SizeField
from workshop.models.firing import (
    HOT_FIGURES,
    BeadKind,
    Fuel,
    Kiln,
    KnownFrom,
    Mould,
    Programme,
    WayOfWorking,
)
from workshop.models.people import Act, Person, Role, Submission
from workshop.models.work import (
    ClosedDay,
    LabourRate,
    NoFiring,
    PreparedForm,
    Skill,
    StandingCost,
    Weekday,
    WorkingHours,
)

__all__ = [
    "HOT_FIGURES",
    "Act",
    "BeadKind",
    "Business",
    "ClosedDay",
    "Fuel",
    "Kiln",
    "KnownFrom",
    "LabourRate",
    "MoneyField",
    "Mould",
    "NoFiring",
    "PaperSeries",
    "Person",
    "PreparedForm",
    "Programme",
    "Role",
    "ShareField",
    "SizeField",
    "Skill",
    "StandingCost",
    "Submission",
    "TaxRate",
    "WayOfWorking",
    "Weekday",
    "WorkingHours",
    "answering_for",
]
