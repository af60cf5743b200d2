"""Forms of kilns, firing programmes and moulds."""

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.text import capfirst
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from workshop import formats
from workshop.form_fields import FewAsked, LengthField, MassField, MoneyBox, PercentField
from workshop.models import (
    HOT_FIGURES,
    BeadKind,
    Kiln,
    KnownFrom,
    Mould,
    Programme,
    WayOfWorking,
    WorkingHours,
)
from workshop.physics.kiln_body import first_guess
from workshop.physics.practice import programme_warning
from workshop.physics.shapes import SHAPE_FIELDS, SHAPE_WORDS
from workshop.usual import EFFICIENCY, mould_clay_g, programme_limits

ROOM_C = 20


def longest_opening_min() -> int:
    """The longest stretch of working hours, in minutes; 0 while none is written down (1 query)."""
    spans = WorkingHours.objects.values_list("opens", "closes")
    lengths = ((b.hour - a.hour) * 60 + b.minute - a.minute for a, b in spans)
    return max(lengths, default=0)


def _rough(value: float) -> str:
    """Two figures are enough for a guess."""
    return formats.decimal(Decimal(f"{value:.2g}"), most=1)


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
    fire_efficiency = PercentField(
        label=_("efficiency of the fire, %"),
        required=False,
        min_value=Decimal(1),
        help_text=_("Share of the fuel’s heat that does not leave by the flue; electricity 100."),
    )
    usual_fill = PercentField(
        label=_("usual fill, % of the places"),
        required=False,
        min_value=Decimal(1),
        help_text=_("Your own word. Left empty, it is measured on the loads of a year."),
    )
    wear_per_load = MoneyBox(
        label=_("wear of a load"),
        required=False,
        min_value=Decimal(0),
        help_text=_("Price of shelves and lining, divided by the loads they last."),
    )

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
            "way",
            *HOT_FIGURES,
            "heat_c_per_min",
            "open_c",
            "ref_c",
            "body_mj",
            "body_from",
            "loss_kw",
            "loss_from",
            "fire_efficiency",
            "fire_from",
            "usual_fill",
            "wear_per_load",
        ]
        widgets = {
            "fuel": forms.RadioSelect(attrs={"class": "fuels"}),
            "way": forms.RadioSelect,
        }
        help_texts = {"places": _("How many moulds stand in it at once.")}

    USUAL = ("lowest_c", "preheat_min", "cooling_min", "fuel_per_load", "efficiency", "in_use")
    FROM = ("body_from", "loss_from", "fire_from")
    FOLDED = (
        (_("Kept hot: moulds go in and come out in rounds"), ("way", *HOT_FIGURES)),
        (_("How it heats and cools, measured"), ("heat_c_per_min", "open_c", "ref_c")),
        (
            _("Heat of the kiln itself, for its fuel"),
            ("body_mj", "body_from", "loss_kw", "loss_from", "fire_efficiency", "fire_from"),
        ),
        (_("What a load costs beside fuel and hands"), ("usual_fill", "wear_per_load")),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["way"].choices = WayOfWorking.choices
        for name in ("way", *self.FROM):
            self.fields[name].required = False
        self.fields["fuel"].choices = Kiln._meta.get_field("fuel").choices
        self._say_first_guesses()
        if self.instance._state.adding:
            self.initial |= {
                "name": _("Kiln") if not Kiln.objects.exists() else "",
                "efficiency": None,
                "fuel_price": None,
            }

    def _say_first_guesses(self) -> None:
        """What a small kiln of its sort takes, where nobody measured it: said to be a guess."""
        for name, place, unit in (("body_mj", 0, "MJ"), ("loss_kw", 1, "kW")):
            clay, electric = (first_guess(electric=each)[place] for each in (False, True))
            said = _(
                "First guesses from the building: a small clay kiln about %(clay)s %(unit)s, a "
                "small electric one about %(electric)s %(unit)s. Weighed runs correct it."
            ) % {"clay": _rough(clay), "electric": _rough(electric), "unit": unit}
            self.fields[name].help_text = f"{self.fields[name].help_text} {said}".strip()

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        fuel = cleaned.get("fuel")
        # Only wood is wet; a box that nobody sees is not asked.
        if cleaned.get("moisture", 0) is None:
            cleaned["moisture"] = Kiln._meta.get_field("moisture").default
        if fuel and cleaned.get("efficiency", 0) is None:
            cleaned["efficiency"] = EFFICIENCY[fuel]
        cleaned["way"] = cleaned.get("way") or WayOfWorking.CLOSED
        if cleaned.get("wear_per_load", 0) is None:
            cleaned["wear_per_load"] = Decimal(0)
        for name in self.FROM:
            cleaned[name] = cleaned.get(name) or KnownFrom.GUESS
        if cleaned["way"] == WayOfWorking.HOT:
            self._check_hot(cleaned)
        self._check_cooling(cleaned)
        return cleaned

    def _check_cooling(self, cleaned: dict[str, Any]) -> None:
        opened, timed = cleaned.get("open_c"), cleaned.get("ref_c")
        if opened is not None and opened <= ROOM_C:
            self.add_error("open_c", _("It never gets as cold as that; write more than 20 °C."))
        elif opened is not None and timed is not None and timed <= opened:
            self.add_error(
                "ref_c",
                _("From %(timed)s to %(opened)s °C is not cooling. Write more than %(opened)s.")
                % {"timed": timed, "opened": opened},
            )
        for name in ("heat_c_per_min", "body_mj", "loss_kw"):
            if cleaned.get(name) is not None and cleaned[name] <= 0:
                self.add_error(name, _("Write more than 0, or leave it empty."))

    def _check_hot(self, cleaned: dict[str, Any]) -> None:
        for name in HOT_FIGURES:
            if name in self.errors:
                continue
            value = cleaned.get(name)
            if value is None:
                self.add_error(name, _("A kiln kept hot needs this figure; time it once."))
            elif name.endswith("c_per_min") and value <= 0:
                self.add_error(name, _("Write more than 0 °C a minute, such as 8."))
        warm_up, change = cleaned.get("warm_up_min"), cleaned.get("change_min")
        longest = longest_opening_min()
        if warm_up is not None and change is not None and longest and warm_up + change >= longest:
            self.add_error(
                "warm_up_min",
                _(
                    "Warm-up and changing moulds take %(needed)s minutes and the longest working "
                    "day has %(longest)s: no round is ever done. Write fewer minutes."
                )
                % {"needed": warm_up + change, "longest": longest},
            )


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
            "soak_c",
            "soak_min",
            "slow_to_c",
            "slow_c_per_min",
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
    SOAK = ("soak_c", "soak_min", "slow_to_c", "slow_c_per_min")
    FOLDED = ((_("Soak and slow cooling, in a closed kiln"), SOAK),)

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
                "kind": capfirst(BeadKind(kind).label),
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
        self._check_soak(cleaned)
        self._check_day(cleaned)
        return cleaned

    def _check_soak(self, cleaned: dict[str, Any]) -> None:
        given = [name for name in self.SOAK if cleaned.get(name) is not None]
        if not given or any(name in self.errors for name in self.SOAK):
            return
        for name in self.SOAK:
            if name not in given:
                self.add_error(name, _("A soak needs all four figures; write this one too."))
        soak, hold, slow_to = (cleaned.get(name) for name in ("soak_c", "hold_c", "slow_to_c"))
        if soak and hold and soak >= hold:
            self.add_error(
                "soak_c",
                _(
                    "A soak comes on the way down from the %(hold)s °C held: write less than that, "
                    "such as 565."
                )
                % {"hold": hold},
            )
        if soak and slow_to and slow_to >= soak:
            self.add_error(
                "slow_to_c",
                _("From %(soak)s to %(to)s °C it would rise while cooling: write less, as 480.")
                % {"soak": soak, "to": slow_to},
            )
        elif slow_to is not None and slow_to <= ROOM_C:
            self.add_error("slow_to_c", _("It never gets as cold as that; write more than 20 °C."))
        rate = cleaned.get("slow_c_per_min")
        if rate is not None and rate <= 0:
            self.add_error("slow_c_per_min", _("Write more than 0 °C a minute, such as 1."))

    def _check_day(self, cleaned: dict[str, Any]) -> None:
        """Where every kiln is kept hot, a round must be done within the working day."""
        hold = cleaned.get("hold_min")
        kilns = list(Kiln.objects.filter(in_use=True))
        longest = longest_opening_min()
        if not (hold and kilns and longest and all(kiln.is_kept_hot for kiln in kilns)):
            return
        before = min((kiln.warm_up_min or 0) + (kiln.change_min or 0) for kiln in kilns)
        if before + hold > longest:
            self.add_error(
                "hold_min",
                _(
                    "With %(before)s minutes of warm-up and change the round takes %(whole)s, and "
                    "the longest working day has %(longest)s. Write at most %(most)s."
                )
                % {
                    "before": before,
                    "whole": before + hold,
                    "longest": longest,
                    "most": longest - before,
                },
            )

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


class ShapesField(forms.CharField):
    """Shapes written one after the other, with commas."""

    def prepare_value(self, value: Any) -> Any:
        if not isinstance(value, list):
            return value
        return ", ".join(gettext(SHAPE_WORDS.get(kind, kind)) for kind in value)

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        own = {gettext(word).lower(): kind for kind, word in SHAPE_WORDS.items()}
        # English words are understood in every language: sheets are carried from book to book.
        known = {word: kind for kind, word in SHAPE_WORDS.items()} | own
        words = [word.strip().lower() for word in text.split(",") if word.strip()]
        for word in words:
            if word not in known and word.replace(" ", "_") not in SHAPE_FIELDS:
                raise ValidationError(
                    _("“%(word)s” is no shape here; write some of: %(known)s.")
                    % {"word": word, "known": ", ".join(own)}
                )
        return [known.get(word, word.replace(" ", "_")) for word in words]


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
    price = MoneyBox(label=_("price of one"), required=False, min_value=Decimal(0))
    wash_per_fill = MoneyBox(
        label=_("kiln wash of a filling"),
        required=False,
        min_value=Decimal(0),
        help_text=_("Grams × price."),
    )
    shape = forms.ChoiceField(
        label=_("bead shape"), choices=[(kind, _(SHAPE_WORDS[kind])) for kind in SHAPE_FIELDS]
    )
    also_shapes = ShapesField(
        label=_("serves also for"),
        required=False,
        max_length=200,
        help_text=_("Other shapes whose beads are made in it, e.g. fish, cross."),
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
            "held_hot_min",
            "also_shapes",
            "price",
            "usual_life",
            "wash_per_fill",
        ]
        help_texts = {
            "cavities": _("Beads that one mould makes."),
            "name": _("Left empty: its shape and size."),
        }

    USUAL = ("name", "places", "clay_g", "held_min", "held_hot_min", "also_shapes")
    FOLDED = ((_("What a filling costs"), ("price", "usual_life", "wash_per_fill")),)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["name"].required = False
        if self.instance._state.adding:
            self.initial |= {"shape": "round", "held_min": 30}

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for name in ("price", "wash_per_fill"):
            if cleaned.get(name, 0) is None:
                cleaned[name] = Decimal(0)
        across, cavities = cleaned.get("bead_across_mm"), cleaned.get("cavities")
        if not (across and cavities):
            return cleaned
        if cleaned.get("clay_g", 0) is None:
            cleaned["clay_g"] = mould_clay_g(float(across), cavities)
        if "name" in cleaned and not cleaned["name"]:
            shape = str(dict(self.fields["shape"].choices)[cleaned["shape"]])
            cleaned["name"] = f"{capfirst(shape.partition(',')[0])} {across.normalize():f}"
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
