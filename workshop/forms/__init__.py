"""Forms of the workshop's own facts."""

from workshop.forms.boxes import DayInput, TimeInput
from workshop.forms.business import BusinessForm, NumberPatternForm, TaxRateForm
from workshop.forms.further_names import FurtherNames
from workshop.forms.kilns import KilnForm, MouldForm, ProgrammeForm
from workshop.forms.people import CodeForm, LanguageForm, PersonForm, SignInForm
from workshop.forms.phones import BackForm, PhoneOfForm, PinForm, WordForm
from workshop.forms.photos import PhotoBox, PhotoForm
from workshop.forms.work import (
    ClosedDayForm,
    HoursForm,
    LabourRateForm,
    StandingCostForm,
    UsualRatesForm,
    WeekForm,
)

__all__ = [
    "BackForm",
    "BusinessForm",
    "ClosedDayForm",
    "CodeForm",
    "DayInput",
    "FurtherNames",
    "HoursForm",
    "KilnForm",
    "LabourRateForm",
    "LanguageForm",
    "MouldForm",
    "NumberPatternForm",
    "PersonForm",
    "PhoneOfForm",
    "PhotoBox",
    "PhotoForm",
    "PinForm",
    "ProgrammeForm",
    "SignInForm",
    "StandingCostForm",
    "TaxRateForm",
    "TimeInput",
    "UsualRatesForm",
    "WeekForm",
    "WordForm",
]
