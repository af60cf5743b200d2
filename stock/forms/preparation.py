"""The form of a preparation: what went in, what came out, what was lost."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from stock.forms.glass import today_or_earlier
from stock.forms.missing import SaysWhatIsMissing
from stock.models import GlassColour, GlassForm, LossName, said_glass
from stock.queries import glass_to_prepare
from stock.services.convert import Made, Taken
from stock.services.preparation import ready
from workshop.form_fields import LengthField, MassField
from workshop.forms import DayInput
from workshop.models import Person

MG_PER_G = 1000
WEIGHED_LOSSES = (LossName.DIRT, LossName.DUST, LossName.SPILL)
INTO = [(GlassForm.POWDER, _("powder")), (GlassForm.CHUNKS, _("chunks"))]


def _by_mark(glass: tuple[GlassColour | None, str]) -> str:
    return glass[1]


class PreparationForm(SaysWhatIsMissing, forms.Form):
    """Boxes for every heap there is to take from, and for every colour that can come out."""

    signs = {
        "minutes": "hour", "form=powder": "powder", "form=chunks": "chunks",
    }  # fmt: skip

    form = forms.ChoiceField(
        label=_("Into"), choices=INTO, widget=forms.RadioSelect, initial=GlassForm.POWDER
    )
    sieve_mm = LengthField(
        label=_("Sieve"),
        required=False,
        smallest=0,
        largest=50,
        help_text=_("Millimetres, or inches: 0.25 mm, 1/4 in."),
    )
    minutes = forms.IntegerField(
        label=_("Minutes"), min_value=0, max_value=6000, required=False,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )  # fmt: skip
    hand = forms.ModelChoiceField(Person.objects.filter(is_active=True), label=_("Done by"))
    on = forms.DateField(label=_("Day"), widget=DayInput(), validators=[today_or_earlier])

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.heaps = list(glass_to_prepare())
        self.glasses = self._can_come_out()
        for heap in self.heaps:
            self.fields[f"in_{heap.pk}"] = MassField(
                label=heap.item.name, smallest=0, required=False
            )
        for glass in self.glasses:
            self.fields[self._out(*glass)] = MassField(
                label=said_glass(*glass), smallest=0, required=False
            )
        for name in WEIGHED_LOSSES:
            self.fields[f"lost_{name}"] = MassField(
                label=LossName(name).label, smallest=0, required=False
            )

    def _can_come_out(self) -> list[tuple[GlassColour | None, str]]:
        """Bottle glass of every colour in use; other kinds and marks where a heap of them lies."""
        lies = {(heap.item.colour, heap.item.mark) for heap in self.heaps}
        kinds = {colour.kind for colour, _mark in lies if colour is not None}
        found: list[tuple[GlassColour | None, str]] = []
        for colour in GlassColour.objects.filter(in_use=True):
            if colour.is_bottle or colour.kind in kinds:
                found.append((colour, ""))
            found += sorted((each for each in lies if each[0] == colour and each[1]), key=_by_mark)
        return found + sorted((each for each in lies if each[0] is None), key=_by_mark)

    @staticmethod
    def _out(colour: GlassColour | None, mark: str) -> str:
        name = f"out_{colour.pk if colour else 'mixed'}"
        return f"{name}_{mark.encode().hex()}" if mark else name

    def take_from_heaps(self, colour: int | None, grams: int | None) -> None:
        """Write so much raw glass of a colour beside its heaps, for somebody to correct."""
        left = grams or 0
        for heap in self.heaps:
            if heap.item.form != GlassForm.RAW or heap.item.colour_id != colour:
                continue
            take = min(left, heap.free_quantity // MG_PER_G)
            if take > 0:
                self.initial[f"in_{heap.pk}"] = take
                left -= take

    def raw_boxes(self):
        return [(h, self[f"in_{h.pk}"]) for h in self.heaps if h.item.form == GlassForm.RAW]

    def other_boxes(self):
        return [(h, self[f"in_{h.pk}"]) for h in self.heaps if h.item.form != GlassForm.RAW]

    @property
    def other_used(self) -> bool:
        return any(box.value() for _heap, box in self.other_boxes())

    def out_boxes(self):
        return [(glass[0], self[self._out(*glass)]) for glass in self.glasses]

    def loss_boxes(self):
        return [self[f"lost_{name}"] for name in WEIGHED_LOSSES]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if self.errors:
            return data
        if not self.inputs():
            raise ValidationError(_("Write how much glass went in, beside at least one heap."))
        if not self.outputs():
            raise ValidationError(_("Write how much glass came out, beside at least one colour."))
        return data

    def inputs(self) -> list[Taken]:
        return [
            Taken(heap.item, heap.place, mass_g * MG_PER_G)
            for heap in self.heaps
            if (mass_g := self.cleaned_data.get(f"in_{heap.pk}"))
        ]

    def outputs(self) -> list[Made]:
        return [
            ready(colour, self.cleaned_data["form"], mass_g * MG_PER_G, mark)
            for colour, mark in self.glasses
            if (mass_g := self.cleaned_data.get(self._out(colour, mark)))
        ]

    def losses(self) -> dict[str, int]:
        return {
            name: mass_g * MG_PER_G
            for name in WEIGHED_LOSSES
            if (mass_g := self.cleaned_data.get(f"lost_{name}"))
        }
