"""What can be typed into the stock room's pages."""

from stock.forms.beads import BeadForm, ColourShares, FinishForm, MouldForm, PaintForm
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
    GlassTestForm,
    PayForm,
    SackForm,
    SortForm,
    TwoGlassesForm,
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
    "GlassTestForm",
    "MouldForm",
    "PaintForm",
    "PayForm",
    "PeriodForm",
    "PlaceForm",
    "PreparationForm",
    "SackForm",
    "SortForm",
    "TwoGlassesForm",
    "WeighForm",
    "usual_period",
]
