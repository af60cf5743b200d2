"""From the size of a wrist, a waist or a neck to the length of a strand that sits on it."""

from decimal import Decimal

from django.db import models
from django.utils.translation import gettext_lazy as _

PI = Decimal("3.14159265")
# What is left free so that it moves: a finger under a bracelet, two under a choker or a waist
# strand. Common practice, no source.
EASE_MM = {"wrist": Decimal(10), "neck": Decimal(20), "waist": Decimal(30)}


class Worn(models.TextChoices):
    WRIST = "wrist", _("wrist")
    NECK = "neck", _("neck")
    WAIST = "waist", _("waist")


def strung_for(where: str, around_mm: Decimal, across_mm: Decimal) -> Decimal:
    """Length on the cord of a strand that is worn close around something [mm].

    around_mm  of the wrist, neck or waist, as measured
    across_mm  of the beads: their middle runs half of it outside the skin, all the way round

    >>> round(strung_for("wrist", Decimal(160), Decimal(10)), 1)
    Decimal('201.4')

    Source: circumference of a circle, 2 π (r + d / 2) = 2 π r + π d; the ease is common practice.
    """
    return around_mm + EASE_MM[where] + PI * across_mm
