"""The place itself: business, people, kilns, moulds, programmes, hours and rates."""

from workshop.models.business import Business, NumberPattern, NumberSequence, TaxRate, answering_for
from workshop.models.fields import MoneyField, NameKey, ShareField, SizeField, exact
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
from workshop.models.kept import KeepsSums
from workshop.models.names import NamedFurther, SortedByName
from workshop.models.people import AuditEntry, IdempotencyKey, Person, Role, SecondLook
from workshop.models.phones import PairedPhone, PairingWord, PhonePin
from workshop.models.photos import Photo
from workshop.models.search import FoundBy, SearchPart
from workshop.models.work import (
    ClosedDay,
    LabourRate,
    NoFiring,
    PreparedForm,
    Skill,
    StandingCost,
    Weekday,
    WorkingHours,
    WorkStep,
)

__all__ = [
    "HOT_FIGURES",
    "AuditEntry",
    "BeadKind",
    "Business",
    "ClosedDay",
    "FoundBy",
    "Fuel",
    "IdempotencyKey",
    "KeepsSums",
    "Kiln",
    "KnownFrom",
    "LabourRate",
    "MoneyField",
    "Mould",
    "NameKey",
    "NamedFurther",
    "NoFiring",
    "NumberPattern",
    "NumberSequence",
    "PairedPhone",
    "PairingWord",
    "Person",
    "PhonePin",
    "Photo",
    "PreparedForm",
    "Programme",
    "Role",
    "SearchPart",
    "SecondLook",
    "ShareField",
    "SizeField",
    "Skill",
    "SortedByName",
    "StandingCost",
    "TaxRate",
    "WayOfWorking",
    "Weekday",
    "WorkStep",
    "WorkingHours",
    "answering_for",
    "exact",
]
