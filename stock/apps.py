from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class StockConfig(AppConfig):
    name = "stock"
    verbose_name = _("Stock")
    standing = (  # see workshop/standing.py
        "Bead", "BeadColour", "BeadMinutes", "CollectorPrice", "GlassColour", "GlassTest",
        "MonthFigure", "PatternFactor",
    )  # fmt: skip
