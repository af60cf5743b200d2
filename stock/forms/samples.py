"""What is tapped and typed to match a sample on a photograph."""

from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from stock.forms.missing import SaysWhatIsMissing
from stock.matching import SIZES, SPOTS, NotToTell, Point
from stock.models import GlassColour, SampleMatch
from workshop.form_fields import LengthField, whole_field
from workshop.models import Photo

WORDS = {
    "known_a": _("Coin or rule, one end"),
    "known_b": _("Coin or rule, other end"),
    "bead_a": _("Bead, one side"),
    "bead_b": _("Bead, other side"),
    "spot": _("Colour of the bead"),
    "white": _("White paper beside it"),
}
NEEDED = _("Tap this in the picture, or write both figures.")
ONE_POINT = _("Both ends lie on one point; tap them apart.")
DAZZLED = _("This spot is so bright that its colour is lost; tap a duller one.")
TOO_DARK = _("This spot is too dark to be a white; tap white paper in the light.")
LARGEST_MM = 1000


class SampleForm(SaysWhatIsMissing, forms.Form):
    """Where coin, bead and colour lie in the picture, and how large the coin is."""

    known = LengthField(
        label=_("Size of the coin or rule"),
        smallest=Decimal("0.1"),
        largest=LARGEST_MM,
        help_text=_("A coin from edge to edge; of a rule, as much as lies between the two points."),
    )

    def __init__(self, *args: Any, photo: Photo, match: SampleMatch | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        before = match.points if match else {}
        for name in (*SIZES, *SPOTS):
            for axis, most in (("x", photo.width), ("y", photo.height)):
                box = whole_field(0, most - 1, {}, required=name != "white")
                box.widget.attrs |= {"maxlength": 4, "aria-label": f"{WORDS[name]}, {axis}"}
                box.error_messages["required"] = NEEDED
                self.fields[f"{name}_{axis}"] = box
        for name, (x, y) in before.items():
            self.initial |= {f"{name}_x": x, f"{name}_y": y}

    @property
    def points(self) -> list[dict[str, Any]]:
        """The points with their boxes, as they stand on the page."""
        rows = []
        for name, words in WORDS.items():
            x, y = self[f"{name}_x"], self[f"{name}_y"]
            said = dict.fromkeys([*x.errors, *y.errors])  # each sentence once
            rows.append({"name": name, "words": words, "x": x, "y": y, "errors": list(said)})
        return rows

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        for pair in (SIZES[:2], SIZES[2:]):
            ends = [self._point(data, name) for name in pair]
            if None not in ends and ends[0] == ends[1]:
                self.add_error(f"{pair[1]}_x", ONE_POINT)
        if (data.get("white_x") is None) != (data.get("white_y") is None):
            self.add_error("white_x", NEEDED)
        return data

    @staticmethod
    def _point(data: dict[str, Any], name: str) -> Point | None:
        x, y = data.get(f"{name}_x"), data.get(f"{name}_y")
        return None if x is None or y is None else (x, y)

    def tapped(self) -> dict[str, Point]:
        """The points that were tapped, by name."""
        found = {name: self._point(self.cleaned_data, name) for name in WORDS}
        return {name: point for name, point in found.items() if point is not None}

    def refuse(self, error: NotToTell) -> None:
        """A spot without a colour is told where it was tapped."""
        self.add_error(f"{error.point}_x", DAZZLED if error.dazzled else TOO_DARK)


class ConfirmForm(SaysWhatIsMissing, forms.Form):
    """What somebody with the bead in hand says it is."""

    size = LengthField(label=_("The bead measures"), smallest=Decimal("0.1"), largest=500)
    glass = forms.ModelChoiceField(
        GlassColour.objects.filter(in_use=True), label=_("Nearest glass"), required=False
    )
