"""What a sample on a photograph was found to be: how large, and nearest to which of our glasses."""

from django.core.validators import RegexValidator
from django.db import models
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as _lazy

from stock.models.glass import GlassColour
from workshop import formats
from workshop.models import Person, Photo, SizeField


class SampleMatch(models.Model):
    """A sample measured on its photograph and confirmed by hand.

    points    where was tapped, in points of the picture: {"bead_a": [812, 400], …}
    known_mm  the size of what lies beside it
    size_mm   the bead's, as it was confirmed; `doubt_mm` one standard deviation of the measuring
    seen      its colour as the light was taken out of it
    colour    the nearest of our glasses as somebody with eyes chose it; none where none is like it
    apart     how far the two lie apart (CIEDE2000)
    """

    photo = models.OneToOneField(Photo, models.CASCADE, related_name="match")
    points = models.JSONField(default=dict)
    known_mm = SizeField(_lazy("size of what lies beside it, mm"))
    size_mm = SizeField(_lazy("size of the bead, mm"))
    doubt_mm = SizeField(_lazy("give or take, mm"))
    seen = models.CharField(
        _lazy("colour on screen"), max_length=7, validators=[RegexValidator(r"^#[0-9a-f]{6}\Z")]
    )
    colour = models.ForeignKey(
        GlassColour, models.PROTECT, null=True, blank=True, related_name="+",
        verbose_name=_lazy("nearest glass"),
    )  # fmt: skip
    apart = models.DecimalField(
        _lazy("how far apart"), max_digits=5, decimal_places=2, null=True, blank=True
    )
    person = models.ForeignKey(Person, models.PROTECT, related_name="+", verbose_name=_lazy("who"))
    at = models.DateTimeField(auto_now=True)

    class Meta:
        verbose_name = _lazy("matched sample")
        verbose_name_plural = _lazy("matched samples")
        constraints = [
            models.CheckConstraint(
                condition=models.Q(known_mm__gt=0, size_mm__gt=0, doubt_mm__gte=0),
                name="sample_has_a_size",
            ),
        ]

    def __str__(self) -> str:
        said = {"size": formats.decimal(self.size_mm, 0, 1), "glass": self.colour}
        if self.colour is None:
            return _("%(size)s mm, like none of our glasses") % said
        return _("%(size)s mm, like %(glass)s") % said
