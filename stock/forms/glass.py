"""Forms of the yard: sacks, sorting, collectors, their prices, glass colours."""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from stock.agreement import Glass, glasses_there_are
from stock.forms.missing import SaysWhatIsMissing
from stock.models import (
    MARK_LENGTH,
    Collector,
    CollectorPrice,
    GlassColour,
    GlassForm,
    GlassKind,
    GlassTest,
    Sack,
)
from stock.services.apart import ITS_OWN, WITH_BOTTLES
from stock.services.beginning import NewColour
from stock.services.sacks import general_prices
from stock.usual import USUAL_COLOURS, UsualColour
from workshop.form_fields import FewAsked, MassField, MoneyBox, PercentField, minutes_field
from workshop.forms import DayInput, FurtherNames, PhotoBox

MIXED = "mixed"


def today_or_earlier(value):
    """A day of the book cannot lie ahead."""
    if value and value > timezone.localdate():
        raise ValidationError(
            _("The day lies in the future; write the day on which it happened, at latest today.")
        )


def bottle_colours() -> list[GlassColour]:
    """The colours of bottle glass in use, for the tiles at the scale (1 query)."""
    return list(GlassColour.objects.filter(in_use=True, kind=GlassKind.BOTTLE))


class SackForm(SaysWhatIsMissing, forms.Form):
    """One sack on the scale: who, which colour, how heavy."""

    signs = {"gross_g": "scale", "tare_g": "empty", "paid=no": "hour", "paid=yes": "pay"}

    collector = forms.ModelChoiceField(
        Collector.objects.filter(in_use=True),
        label=_("Collector"),
        required=False,
        widget=forms.RadioSelect,
        empty_label=None,
    )
    new_collector = forms.CharField(
        label=_("Somebody new"), max_length=120, required=False, help_text=_("Their name.")
    )
    colour = forms.ChoiceField(
        label=_("Colour"),
        widget=forms.RadioSelect,
        error_messages={"required": _("Tap the colour of the glass, or “mixed”.")},
    )
    gross_g = MassField(
        label=_("On the scale"),
        smallest=1,
        error_messages={"required": _("Write what the scale shows, e.g. 24.5.")},
    )
    tare_g = MassField(label=_("Empty sack"), smallest=0, required=False)
    dirt_share = PercentField(label=_("Dirt, %"), max_value=99)
    origin = forms.ChoiceField(
        label=_("What it is"),
        choices=[*Sack.Origin.choices, ("ivory", _("ivory, tusk"))],
        initial=Sack.Origin.BOTTLES,
    )
    paid = forms.TypedChoiceField(
        label=_("Money"),
        choices=[("no", _("owed")), ("yes", _("paid now"))],
        coerce=lambda value: value == "yes",
        widget=forms.RadioSelect,
        initial="no",
    )
    price_per_kg = MoneyBox(
        label=_("Price per kg"),
        min_value=Decimal(0),
        required=False,
        help_text=_("Left empty: the price list."),
    )
    received_on = forms.DateField(label=_("Day"), widget=DayInput(), validators=[today_or_earlier])
    mark = forms.CharField(
        label=_("Lot or maker's mark"),
        max_length=MARK_LENGTH,
        required=False,
        help_text=_("As on the foot of the bottles. It keeps the glass on a heap of its own."),
    )
    note = forms.CharField(label=_("Note"), max_length=200, required=False)
    photo = PhotoBox(required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.colours = bottle_colours()
        prices = general_prices(timezone.localdate())
        for colour in self.colours:
            colour.price_now = prices[colour.pk]
        self.fields["colour"].choices = [
            *((str(colour.pk), colour.name) for colour in self.colours),
            (MIXED, _("mixed")),
        ]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if not data.get("collector") and not data.get("new_collector"):
            self.add_error("collector", _("Tap who brought the sack, or write a new name."))
        gross, tare = data.get("gross_g"), data.get("tare_g") or 0
        if gross is not None and tare >= gross:
            self.add_error(
                "tare_g",
                _("The empty sack must weigh less than the full one; weigh again, or swap them."),
            )
        return data

    def chosen_colour(self) -> GlassColour | None:
        """The colour tapped; None for mixed glass."""
        code = self.cleaned_data["colour"]
        return None if code == MIXED else next(c for c in self.colours if str(c.pk) == code)


class SortForm(SaysWhatIsMissing, forms.Form):
    """Mixed glass sorted by colour: a box for each colour."""

    taken_g = MassField(label=_("Mixed glass taken"), smallest=1)
    dirt_g = MassField(label=_("Dirt thrown away"), smallest=0, required=False)
    on = forms.DateField(label=_("Day"), widget=DayInput(), validators=[today_or_earlier])
    minutes = minutes_field(label=_("Minutes"), required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.colours = bottle_colours()
        for colour in self.colours:
            self.fields[f"colour_{colour.pk}"] = MassField(
                label=colour.name, smallest=0, required=False
            )

    @property
    def colour_boxes(self) -> list[tuple[GlassColour, forms.BoundField]]:
        return [(colour, self[f"colour_{colour.pk}"]) for colour in self.colours]

    def parts(self) -> dict[GlassColour, int]:
        return {
            colour: mass_g
            for colour in self.colours
            if (mass_g := self.cleaned_data.get(f"colour_{colour.pk}"))
        }


class ClearForm(SaysWhatIsMissing, forms.Form):
    """The owner's word on glass kept apart: what becomes of it, and how she knows."""

    becomes = forms.ChoiceField(
        label=_("What becomes of it"),
        choices=[
            (ITS_OWN, _("it stays on its own heap and may be melted alone")),
            (WITH_BOTTLES, _("it goes with the bottle glass of its colour")),
        ],
        widget=forms.RadioSelect,
        error_messages={"required": _("Tap what becomes of the glass.")},
    )
    why = forms.CharField(
        label=_("How you know"),
        max_length=200,
        help_text=_("A laboratory's word, a test piece that held, the maker's sheet."),
        error_messages={"required": _("Write how you know; it stays with the sack.")},
    )
    sure = forms.BooleanField(
        label=_("I know what this glass is, and it may be melted so."),
        error_messages={"required": _("Tick this once you know; until then it stays apart.")},
    )

    def __init__(self, *args: Any, sack: Sack, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not sack.held_apart or sack.colour is None or sack.colour.is_bottle:
            # A heap of its own it has already; or it lies apart from before there were heaps.
            del self.fields["becomes"]

    @property
    def chosen(self) -> str:
        return self.cleaned_data.get("becomes") or WITH_BOTTLES


class TwoGlassesForm(forms.Form):
    """Two glasses by their heaps: colour, kind and mark."""

    one = forms.ChoiceField(label=_("One glass"))
    other = forms.ChoiceField(label=_("The other glass"))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.glasses = {self.code(glass): glass for glass in glasses_there_are()}
        choices = [("", _("choose")), *((code, str(each)) for code, each in self.glasses.items())]
        for name in ("one", "other"):
            self.fields[name].choices = choices
            self.fields[name].error_messages["required"] = _("Choose a glass.")

    @staticmethod
    def code(glass: Glass) -> str:
        return f"{glass.colour.pk}:{glass.mark}" if glass.mark else str(glass.colour.pk)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("one") and data.get("one") == data.get("other"):
            self.add_error("other", _("A glass always goes with itself; choose another."))
        return data

    def pair(self) -> tuple[Glass, Glass]:
        data = self.cleaned_data
        return self.glasses[data["one"]], self.glasses[data["other"]]


class GlassTestForm(SaysWhatIsMissing, TwoGlassesForm):
    """A joint of two glasses, looked at when it was cold."""

    held = forms.TypedChoiceField(
        label=_("The joint"),
        choices=[("yes", pgettext_lazy("joint of two glasses", "held")), ("no", _("cracked"))],
        coerce=lambda value: value == "yes",
        widget=forms.RadioSelect,
        error_messages={"required": _("Tap whether the joint held or cracked.")},
    )
    tested_on = forms.DateField(
        label=_("Looked at"), widget=DayInput(), validators=[today_or_earlier]
    )
    how = forms.CharField(
        label=_("How"),
        max_length=200,
        required=False,
        help_text=_("Two chips fused, cooled in ash, looked at under crossed films."),
    )

    def test(self) -> GlassTest:
        one, other = self.pair()
        data = self.cleaned_data
        return GlassTest(
            one=one.colour, one_mark=one.mark, other=other.colour, other_mark=other.mark,
            held=data["held"], tested_on=data["tested_on"], how=data["how"],
        )  # fmt: skip


class PayForm(SaysWhatIsMissing, forms.Form):
    """Which owed sacks are paid now; all of them unless some are taken out."""

    sacks = forms.ModelMultipleChoiceField(
        Sack.objects.none(),
        label=_("Sacks paid now"),
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": _("Tick at least one sack to pay.")},
    )

    def __init__(self, *args: Any, owed: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["sacks"].queryset = owed


class CollectorForm(SaysWhatIsMissing, forms.ModelForm):
    class Meta:
        model = Collector
        fields = ["name", "phone", "note", "in_use"]
        widgets = {"note": forms.Textarea(attrs={"rows": 3})}


class CollectorPriceForm(SaysWhatIsMissing, forms.ModelForm):
    price_per_kg = MoneyBox(label=_("price per kg"), min_value=Decimal(0))

    class Meta:
        model = CollectorPrice
        fields = ["colour", "collector", "price_per_kg", "valid_from"]
        widgets = {"valid_from": DayInput()}
        help_texts = {"collector": _("Left empty: the price for everyone.")}


class ColourForm(SaysWhatIsMissing, FewAsked, forms.ModelForm):
    FOLDED = ((_("Further languages"), ("further_names",)),)
    # Every cost is worked out from these.
    OWNERS = (
        *("price_per_kg", "washing_yield", "powder_yield", "chunk_yield"),
        *("density_g_cm3", "expansion_e7"),
    )

    washing_yield = PercentField(label=_("left after washing, %"))
    powder_yield = PercentField(label=_("left after grinding to powder, %"))
    chunk_yield = PercentField(label=_("left after breaking to chunks, %"))
    bottle_g = MassField(label=_("mass of one bottle"), unit="g", smallest=1)
    reorder_g = MassField(
        label=_("collect more below"),
        smallest=0,
        required=False,
        if_empty=0,
        help_text=_("Raw glass in the yard; below this the Glass room says it is short."),
    )
    price_per_kg = MoneyBox(label=_("price per kg, raw"), min_value=Decimal(0))
    further_names = FurtherNames(longest=40)

    class Meta:
        model = GlassColour
        fields = [
            "name",
            "kind",
            "swatch",
            "see_through",
            "price_per_kg",
            "reorder_g",
            "lead_days",
            "washing_yield",
            "powder_yield",
            "chunk_yield",
            "bottle_g",
            "density_g_cm3",
            "expansion_e7",
            "in_use",
            "further_names",
        ]
        widgets = {"swatch": forms.TextInput(attrs={"type": "color"})}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["kind"].required = False

    def clean_kind(self) -> str:
        """The kind of a glass that was ever in the book is no slip of the pen any more."""
        kind = self.cleaned_data["kind"] or GlassKind.BOTTLE
        glass = self.instance
        if (
            glass.pk is not None
            and kind != GlassColour.objects.get(pk=glass.pk).kind
            and (glass.kept_from_id is not None or glass.items.exists())
        ):
            raise ValidationError(
                _(
                    "%(glass)s is in the book as it is, and its kind would turn with it. Add a "
                    "glass of the other kind, and move what belongs there by the owner's word on "
                    "the sack's page."
                )
                % {"glass": glass.name}
            )
        return kind


@dataclass(frozen=True)
class ColourRow:
    """A usual colour as the page lists it: its tick, its boxes, or that it is there already."""

    colour: UsualColour
    tick: forms.BoundField | None = None
    boxes: tuple[forms.BoundField, ...] = ()

    @property
    def wrong(self) -> bool:
        return any(box.errors for box in self.boxes)


class UsualColoursForm(SaysWhatIsMissing, forms.Form):
    """Which of the usual bottle colours are collected, at what price, and what lies here."""

    price_per_kg = MoneyBox(
        label=_("paid for a kilogram of bottles"),
        min_value=Decimal(0),
        help_text=_("For every colour that has no price of its own."),
    )
    FORMS = (
        (GlassForm.RAW, _("bottles here")),
        (GlassForm.POWDER, _("powder here")),
        (GlassForm.CHUNKS, _("chunks here")),
    )

    def __init__(self, *args: Any, there: set[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fresh = [each for each in USUAL_COLOURS if str(each.name) not in there]
        for each in self.fresh:
            self.fields[each.key] = forms.BooleanField(label=each.name, required=False)
            for form, label in self.FORMS:
                self.fields[f"{each.key}-{form}"] = MassField(
                    label=label, smallest=0, required=False
                )
            self.fields[f"{each.key}-price"] = MoneyBox(
                label=_("own price per kg"), min_value=Decimal(0), required=False
            )

    def rows(self) -> list[ColourRow]:
        return [
            ColourRow(each, self[each.key], tuple(self._boxes(each)))
            if each in self.fresh
            else ColourRow(each)
            for each in USUAL_COLOURS
        ]

    def _boxes(self, each: UsualColour) -> Iterator[forms.BoundField]:
        for name, _label in self.FORMS:
            yield self[f"{each.key}-{name}"]
        yield self[f"{each.key}-price"]

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if not any(said.get(each.key) for each in self.fresh):
            raise ValidationError(_("Tick at least one colour, or add one of your own."))
        for each in self.fresh:
            typed = any(box.value() for box in self._boxes(each))
            if typed and not said.get(each.key):
                self.add_error(each.key, _("Tick this colour too, or empty its boxes."))
        return said

    def colours(self) -> list[NewColour]:
        said = self.cleaned_data
        return [
            NewColour(
                GlassColour(
                    name=str(each.name),
                    swatch=each.swatch,
                    see_through=each.see_through,
                    bottle_g=each.bottle_g,
                    price_per_kg=said["price_per_kg"]
                    if said[f"{each.key}-price"] is None
                    else said[f"{each.key}-price"],
                ),
                {form: grams for form, _l in self.FORMS if (grams := said[f"{each.key}-{form}"])},
            )
            for each in self.fresh
            if said[each.key]
        ]
