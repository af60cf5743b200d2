"""Forms of kilns, firing programmes and moulds."""

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from workshop.form_fields import FewAsked, LengthField, MassField, MoneyBox, PercentField
from workshop.models import BeadKind, Kiln, Mould, Programme
from workshop.physics.practice import programme_warning
from workshop.physics.shapes import SHAPE_FIELDS
from workshop.usual import EFFICIENCY, mould_clay_g, programme_limits


class KilnForm(FewAsked, forms.ModelForm):
    efficiency = PercentField(
        label=_("efficiency, %"),
        required=False,
        min_value=Decimal(1),
        help_text=_(
            "Share of the fuel’s heat that reaches the load. Left empty: wood 12, charcoal 15, "
            "bottled gas 22, electricity 50."
        ),
    )
    moisture = PercentField(
        label=_("moisture of the wood, %"), required=False, help_text=_("Left empty: 20, air-dry.")
    )
    fuel_price = MoneyBox(label=_("fuel price"), help_text=_("Per kilogram, or per kWh."))

    class Meta:
        model = Kiln
        fields = [
            "name",
            "fuel",
            "moisture",
            "fuel_price",
            "places",
            "highest_c",
            "lowest_c",
            "preheat_min",
            "cooling_min",
            "fuel_per_load",
            "efficiency",
            "in_use",
        ]
        widgets = {"fuel": forms.RadioSelect(attrs={"class": "fuels"})}
        help_texts = {"places": _("How many moulds stand in it at once.")}

    USUAL = ("lowest_c", "preheat_min", "cooling_min", "fuel_per_load", "efficiency", "in_use")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["fuel"].choices = Kiln._meta.get_field("fuel").choices
        if self.instance._state.adding:
            self.initial |= {
                "name": _("Kiln") if not Kiln.objects.exists() else "",
                "efficiency": None,
                "fuel_price": None,
            }

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        fuel = cleaned.get("fuel")
        # Only wood is wet; a box that nobody sees is not asked.
        if cleaned.get("moisture", 0) is None:
            cleaned["moisture"] = Kiln._meta.get_field("moisture").default
        if fuel and cleaned.get("efficiency", 0) is None:
            cleaned["efficiency"] = EFFICIENCY[fuel]
        return cleaned


class ProgrammeForm(FewAsked, forms.ModelForm):
    class Meta:
        model = Programme
        fields = [
            "kind",
            "hold_c",
            "hold_min",
            "unusual_on_purpose",
            "name",
            "from_c",
            "to_c",
            "from_min",
            "to_min",
            "in_use",
        ]
        widgets = {"kind": forms.RadioSelect}
        help_texts = {
            "hold_c": _("Common practice: powder 600 to 800 °C, fused chunks 800 to 1000 °C."),
            "hold_min": _("Common practice: powder 20 to 35, fused chunks 30 to 45."),
            "name": _("Left empty: its kind, heat and minutes."),
            "from_c": _("Left empty: 20 °C below."),
            "to_c": _("Left empty: 20 °C above."),
            "from_min": _("Left empty: 5 less."),
            "to_min": _("Left empty: 5 more."),
        }

    LIMITS = ("from_c", "to_c", "from_min", "to_min")
    USUAL = ("name", *LIMITS, "in_use")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["kind"].choices = Programme._meta.get_field("kind").choices
        for name in ("name", *self.LIMITS):
            self.fields[name].required = False

    def asked_boxes(self) -> list[forms.BoundField]:
        """The tick for what is unusual is asked only where something is unusual."""
        unusual = self["unusual_on_purpose"]
        return [
            box
            for box in super().asked_boxes()
            if box.name != unusual.name or unusual.errors or unusual.value()
        ]

    def _fill_in(self, cleaned: dict[str, Any]) -> None:
        """Name and limits that were left empty, from the heat and the minutes."""
        kind, hold_c, hold_min = (cleaned.get(name) for name in ("kind", "hold_c", "hold_min"))
        if not (kind and hold_c and hold_min):
            return
        limits = programme_limits(kind, hold_c, hold_min)
        for name in self.LIMITS:
            if name in cleaned and cleaned[name] is None:
                cleaned[name] = getattr(limits, name)
        if "name" in cleaned and not cleaned["name"]:
            cleaned["name"] = _("%(kind)s, %(heat)s °C, %(minutes)s min") % {
                "kind": str(BeadKind(kind).label).capitalize(),
                "heat": hold_c,
                "minutes": hold_min,
            }

    def clean(self) -> dict[str, Any]:
        """Common practice warns once; the owner's tick keeps the programme as it is."""
        cleaned = super().clean() or {}
        self._fill_in(cleaned)
        kind, hold_c, hold_min = (cleaned.get(name) for name in ("kind", "hold_c", "hold_min"))
        if kind and hold_c and hold_min and not cleaned.get("unusual_on_purpose"):
            sentence = programme_warning(BeadKind(kind).value, hold_c, hold_min)
            if sentence:
                self.add_error(
                    "unusual_on_purpose",
                    _("%s Then tick “unusual on purpose”.") % sentence,
                )
        if hold_c and cleaned.get("in_use") and (sentence := self._out_of_reach(hold_c)):
            self.add_error("hold_c", sentence)
        return cleaned

    @staticmethod
    def _out_of_reach(hold_c: int) -> str:
        """The sentence for a temperature that none of the kilns in use has; "" where one has it."""
        kilns = list(Kiln.objects.filter(in_use=True))
        if not kilns or any(kiln.lowest_c <= hold_c <= kiln.highest_c for kiln in kilns):
            return ""
        return _(
            "No kiln in use is fired at %(hold)s °C: %(kilns)s. Write a temperature that one of "
            "them reaches, or correct the kiln first."
        ) % {
            "hold": hold_c,
            "kilns": ", ".join(f"{k.name} {k.lowest_c}–{k.highest_c} °C" for k in kilns),
        }


class MouldForm(FewAsked, forms.ModelForm):
    bead_across_mm = LengthField(
        label=_("bead size across"), smallest=1, largest=200, help_text=_("e.g. 12 mm or 1/2 in")
    )
    clay_g = MassField(
        label=_("clay mass"),
        unit="kg",
        required=False,
        help_text=_("e.g. 1.2 kg. Left empty: worked out from the cavities; it counts for fuel."),
    )
    shape = forms.ChoiceField(
        label=_("bead shape"), choices=[(kind, kind.replace("_", " ")) for kind in SHAPE_FIELDS]
    )

    class Meta:
        model = Mould
        fields = [
            "shape",
            "bead_across_mm",
            "cavities",
            "owned",
            "name",
            "places",
            "clay_g",
            "held_min",
        ]
        help_texts = {
            "cavities": _("Beads that one mould makes."),
            "name": _("Left empty: its shape and size."),
        }

    USUAL = ("name", "places", "clay_g", "held_min")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["name"].required = False
        if self.instance._state.adding:
            self.initial |= {"shape": "round", "held_min": 30}

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        across, cavities = cleaned.get("bead_across_mm"), cleaned.get("cavities")
        if not (across and cavities):
            return cleaned
        if cleaned.get("clay_g", 0) is None:
            cleaned["clay_g"] = mould_clay_g(float(across), cavities)
        if "name" in cleaned and not cleaned["name"]:
            cleaned["name"] = (
                f"{cleaned['shape'].replace('_', ' ').capitalize()} {across.normalize():f}"
            )
        return cleaned

    def clean_places(self) -> int:
        places = self.cleaned_data["places"]
        largest = max(Kiln.objects.filter(in_use=True).values_list("places", flat=True), default=0)
        if largest and places > largest:
            raise ValidationError(
                _(
                    "This mould takes %(places)d places and the largest kiln has %(largest)d; "
                    "it fits in none."
                )
                % {"places": places, "largest": largest}
            )
        return places
