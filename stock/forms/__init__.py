"""What can be typed into the stock room's pages."""

from stock.forms.beads import BeadForm, ColourShares, FinishForm, MouldForm
from stock.forms.book import (
    ApartForm,
    BackForm,
    CountForm,
    PeriodForm,
    PlaceForm,
    WeighForm,
    usual_period,
)
from stock.forms.glass import (
    ClearForm,
    CollectorForm,
    CollectorPriceForm,
    ColourForm,
    PayForm,
    SackForm,
    SortForm,
)
from stock.forms.preparation import PreparationForm

__all__ = [
    "ApartForm",
    "BackForm",
    "BeadForm",
    "ClearForm",
    "CollectorForm",
    "CollectorPriceForm",
    "ColourForm",
    "ColourShares",
    "CountForm",
    "FinishForm",
    "MouldForm",
    "PayForm",
    "PeriodForm",
    "PlaceForm",
    "PreparationForm",
    "SackForm",
    "SortForm",
    "WeighForm",
    "usual_period",
]
