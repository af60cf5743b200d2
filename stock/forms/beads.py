"""Forms of the beads: what a bead is, moulding it, finishing it."""

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from stock.forms.glass import today_or_earlier
from stock.forms.missing import SaysWhatIsMissing
from stock.models import (
    DIMENSIONS,
    Bead,
    BeadBatch,
    GlassColour,
    GlassForm,
    LocationKind,
    StockLocation,
)
from stock.services.beads import TO_GLASS, TO_REMAKE
from stock.services.fitness import kiln_fault, mould_fault, practice_sentence
from workshop.form_fields import (
    CountField,
    LengthField,
    MassField,
    MoneyBox,
    PercentField,
    minutes_field,
)
from workshop.forms import DayInput, FurtherNames
from workshop.models import BeadKind, Mould, Programme
from workshop.physics.shapes import SHAPE_FIELDS, ShapeError

USUAL_BORE_MM = Decimal(2)  # common practice, no source
# What the glass of each kind is broken to; common practice, no source.
FORM_OF = {
    BeadKind.POWDER: GlassForm.POWDER,
    BeadKind.PAINTED: GlassForm.POWDER,
    BeadKind.FUSED: GlassForm.CHUNKS,
    BeadKind.REMADE: GlassForm.CHUNKS,
    BeadKind.CENTREPIECE: GlassForm.CHUNKS,
}


class BeadForm(SaysWhatIsMissing, forms.ModelForm):
    """A kind of bead; shows only the sizes that the chosen shape has."""

    reject_rate = PercentField(label=_("rejects, first firing, %"), max_value=Decimal("99.9"))
    second_reject_rate = PercentField(
        label=_("rejects, second firing, %"), max_value=Decimal("99.9"), required=False
    )
    polishing_loss = PercentField(label=_("lost in polishing, %"), max_value=Decimal("99.9"))
    porosity = PercentField(label=_("porosity, %"), max_value=Decimal("99.9"), required=False)
    spill_share = PercentField(label=_("spilt at the mould, %"), max_value=Decimal("99.9"))
    pierced_waste = PercentField(
        label=_("lost in piercing, %"),
        max_value=Decimal("99.9"),
        required=False,
        help_text=_("Of the fired glass, where the hole is pierced hot."),
    )
    grain_mm = LengthField(label=_("grain size"), smallest=0)
    pigment_price_per_kg = MoneyBox(
        label=_("pigment price per kg"), min_value=Decimal(0), required=False
    )
    paint_price_each = MoneyBox(label=_("paint for one bead"), min_value=Decimal(0), required=False)
    further_names = FurtherNames(longest=80)
    meant = forms.BooleanField(label=_("Keep it all the same; it is meant so."), required=False)
    here = CountField(
        label=_("how many lie here already"),
        smallest=0,
        largest=1_000_000,
        required=False,
        help_text=_("Good ones, finished. Their glass counts as not recycled."),
    )
    worth_each = MoneyBox(
        label=_("what one of them cost to make"),
        min_value=Decimal(0),
        required=False,
        help_text=_("Left empty: what one costs to make by your glass, minutes, pay and fuel."),
    )

    class Meta:
        model = Bead
        fields = [
            "name",
            "kind",
            "shape",
            "pattern",
            "form",
            "grain_mm",
            "mould",
            "programme",
            "second_programme",
            "paint",
            "reject_rate",
            "second_reject_rate",
            "polishing_loss",
            "porosity",
            "spill_share",
            "pierced_waste",
            "pigment_g_per_kg",
            "pigment_price_per_kg",
            "paint_price_each",
            "pierced_hot",
            "pierce_min",
            "soft_min",
            "drawn_together",
            "fired_in",
            "anneal_min",
            "made_to_order",
            "in_use",
            "further_names",
            *DIMENSIONS,
        ]

    # Every cost is worked out from these.
    OWNERS = ("pigment_price_per_kg", "paint_price_each")
    LAST = (
        "reject_rate",
        "second_reject_rate",
        "polishing_loss",
        "porosity",
        "spill_share",
        "pigment_g_per_kg",
        "pigment_price_per_kg",
        "paint_price_each",
        "pierced_waste",
        "made_to_order",
        "in_use",
    )
    HOT = ("fired_in", "pierced_hot", "pierce_min", "soft_min", "drawn_together", "anneal_min")

    def __init__(self, *args: Any, shape: str, may_open: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.shape = shape if shape in SHAPE_FIELDS else "round"
        if self.instance.pk or not may_open:
            del self.fields["here"], self.fields["worth_each"]
        if not self.instance.pk:
            self._propose()
        self.size_names = SHAPE_FIELDS[self.shape]
        for name in DIMENSIONS:
            if name not in self.size_names:
                del self.fields[name]
            elif name != "points":
                label = str(Bead._meta.get_field(name).verbose_name).removesuffix(", mm")
                self.fields[name] = LengthField(label=label, smallest=0)
            else:
                self.fields[name].required = True
        serving = [mould.pk for mould in Mould.objects.all() if mould.serves(self.shape)]
        self.fields["mould"].queryset = Mould.objects.filter(pk__in=serving) or Mould.objects.all()
        self.fields["programme"].queryset = Programme.objects.filter(in_use=True)
        self.fields["second_programme"].queryset = Programme.objects.filter(in_use=True)
        for name in ("soft_min", "anneal_min"):
            self.fields[name].required = False
        self.warnings: list[str] = []

    def _propose(self) -> None:
        """What a new bead most likely is: made in the one mould of its shape, fired as usual."""
        moulds = list(Mould.objects.filter(shape=self.shape)[:2])
        programmes = list(Programme.objects.filter(in_use=True)[:2])
        proposed: dict[str, Any] = {"bore_mm": USUAL_BORE_MM}
        if len(moulds) == 1:
            proposed |= {"mould": moulds[0].pk, "diameter_mm": moulds[0].bead_across_mm}
        if len(programmes) == 1:
            kind = programmes[0].kind
            proposed |= {"programme": programmes[0].pk, "kind": kind, "form": FORM_OF[kind]}
        self.initial = {
            **self.initial,
            **{name: value for name, value in proposed.items() if not self.initial.get(name)},
        }

    def here_boxes(self):
        return [self[name] for name in ("here", "worth_each") if name in self.fields]

    @property
    def usual_open(self) -> bool:
        return bool(self.instance.pk) or any(name in self.errors for name in self.LAST)

    def beside(self, bead: Bead) -> list[Any]:
        """The colours, which the same page changes (1 query)."""
        return list(bead.colours.values_list("colour", "share", "layer"))

    def size_boxes(self):
        return [self[name] for name in self.size_names]

    def first_boxes(self):
        return [self[name] for name in ("kind", "form", "grain_mm", "mould", "programme")]

    def last_boxes(self):
        return [self[name] for name in self.LAST if name in self.fields]

    def hot_boxes(self):
        return [self[name] for name in self.HOT]

    @property
    def hot_open(self) -> bool:
        return self.instance.pierced_hot or any(name in self.errors for name in self.HOT)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        for name in ("second_reject_rate", "porosity", "pierced_waste"):
            data[name] = data.get(name) or Decimal(0)
        # A rate that is typed is no longer the one the records showed.
        for name, kept in (("reject_rate", "reject"), ("second_reject_rate", "second_reject")):
            if self.fields[name].has_changed(self[name].initial, self[name].data):
                setattr(self.instance, f"{kept}_from", "")
                setattr(self.instance, f"{kept}_scatter", None)
        for name in {*self.OWNERS} & {*self.fields}:
            data[name] = data.get(name) or Decimal(0)
        data["soft_min"] = data.get("soft_min") or Decimal(1)
        data["anneal_min"] = data.get("anneal_min") or 0
        self._check_piercing(data)
        for name in set(DIMENSIONS) - set(self.size_names):
            setattr(self.instance, name, None)
        for field in ("programme", "second_programme"):
            programme = data.get(field)
            if programme and (fault := kiln_fault(programme)):
                self.add_error(field, fault)
        if data.get("kind") and data.get("programme") and not data.get("meant"):
            warning = practice_sentence(data["kind"], data["programme"])
            if warning and not data["programme"].unusual_on_purpose:
                self.warnings.append(warning)
                self.add_error("meant", warning)
        return data

    def _check_piercing(self, data: dict[str, Any]) -> None:
        if not data.get("pierced_hot"):
            return
        if data.get("fired_in") == "closed":
            self.add_error(
                "fired_in",
                _(
                    "A bead pierced by hand while hot comes out of a kiln kept hot. Choose another "
                    "kiln, or untick the piercing."
                ),
            )
        takes, soft = data.get("pierce_min"), data["soft_min"]
        if takes is not None and takes <= 0:
            self.add_error("pierce_min", _("Write more than 0 minutes, or leave it empty."))
        elif takes is not None and takes > soft:
            self.add_error(
                "pierce_min",
                _(
                    "A mould stays soft for %(soft)s min and one hand takes %(takes)s to pierce "
                    "it. Use a mould with fewer cavities, or fire hotter and time it again."
                )
                % {"soft": f"{soft.normalize():f}", "takes": f"{takes.normalize():f}"},
            )

    def _update_errors(self, errors: Any) -> None:
        # A box that is empty has said so; the shape need not say it once more.
        for name in set(getattr(errors, "error_dict", {})) & set(self._errors):
            del errors.error_dict[name]
        super()._update_errors(errors)

    def _post_clean(self) -> None:
        super()._post_clean()
        mould = self.cleaned_data.get("mould")
        if mould is None or self.errors.keys() & {"shape", *self.size_names}:
            return
        try:
            fault = mould_fault(mould, self.instance.measure())
        except ShapeError:
            return
        if fault:
            self.add_error("mould", fault)


class ColourShareForm(SaysWhatIsMissing, forms.Form):
    """One colour of a bead and its share of the glass."""

    colour = forms.ModelChoiceField(
        GlassColour.objects.filter(in_use=True),
        label=_("Colour"),
        required=False,
        error_messages={
            "invalid_choice": _(
                "That is no colour the workshop keeps. Choose one of the list, or add it to the "
                "glass colours first."
            )
        },
    )
    share = PercentField(label=_("Share, %"), required=False)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("colour") and not data.get("share"):
            self.add_error("share", _("Write this colour's share, above 0 %."))
        if data.get("share") and not data.get("colour"):
            self.add_error("colour", _("Choose the colour of this share."))
        return data


class BaseColourShares(forms.BaseFormSet):
    def clean(self) -> None:
        if any(form.errors for form in self.forms):
            return
        rows = self.rows()
        if not rows:
            raise ValidationError(_("Choose at least one colour of glass."))
        if len({colour.pk for colour, _share in rows}) < len(rows):
            raise ValidationError(_("A colour stands in two rows; add its shares together in one."))
        total = sum(share for _colour, share in rows)
        if total != 1:
            raise ValidationError(
                _("The shares add up to %(total)s %%; make them 100 %%: %(way)s.")
                % {
                    "total": f"{(total * 100).normalize():f}",
                    "way": _("add %s %%") % f"{((1 - total) * 100).normalize():f}"
                    if total < 1
                    else _("take away %s %%") % f"{((total - 1) * 100).normalize():f}",
                }
            )

    def typed(self) -> list[tuple[int, GlassColour, Decimal]]:
        """The rows that can be read, each with its number, before they need to add up."""
        return [
            (number, form.cleaned_data["colour"], form.cleaned_data["share"])
            for number, form in enumerate(self.forms)
            if form.cleaned_data.get("colour") and form.cleaned_data.get("share")
        ]

    def rows(self) -> list[tuple[GlassColour, Decimal]]:
        return [
            (form.cleaned_data["colour"], form.cleaned_data["share"])
            for form in self.forms
            if form.cleaned_data.get("colour") and form.cleaned_data.get("share")
        ]


ColourShares = forms.formset_factory(
    ColourShareForm, formset=BaseColourShares, extra=0, max_num=12, absolute_max=12
)


class MouldForm(SaysWhatIsMissing, forms.Form):
    """Filling moulds with one kind of bead."""

    bead = forms.ModelChoiceField(Bead.objects.filter(in_use=True), label=_("Bead"))
    count = CountField(
        label=_("Beads moulded"), smallest=1, largest=100_000, help_text=_("96, or 8 dozen.")
    )
    weighed_g = MassField(
        label=_("Glass weighed out"),
        unit="g",
        smallest=1,
        required=False,
        help_text=_("Left empty: what the bead's size and losses ask for."),
    )
    on = forms.DateField(label=_("Day"), widget=DayInput(), validators=[today_or_earlier])
    minutes = minutes_field(label=_("Minutes"), required=False)
    note = forms.CharField(label=_("Note"), max_length=200, required=False)


class PaintForm(SaysWhatIsMissing, forms.Form):
    """Beads of a batch that were painted."""

    count = CountField(label=_("Beads painted"), smallest=1, largest=100_000)
    on = forms.DateField(label=_("Day"), widget=DayInput(), validators=[today_or_earlier])
    minutes = minutes_field(label=_("Minutes"), required=False)


class FinishForm(SaysWhatIsMissing, forms.Form):
    """What came out: good beads, rejects, and those that are gone altogether."""

    good = CountField(label=_("Good"), smallest=0)
    rejected = CountField(label=_("Rejects"), smallest=0, initial="0")
    broken = CountField(
        label=_("Gone altogether"),
        smallest=0,
        required=False,
        help_text=_("Melted to the shelf or lost: their glass is written off as an accident."),
    )
    rejects_to = forms.ChoiceField(
        label=_("Rejects go to"),
        choices=[(TO_REMAKE, _("rejects for remade beads")), (TO_GLASS, _("raw glass again"))],
        widget=forms.RadioSelect,
        initial=TO_REMAKE,
    )
    place = forms.ModelChoiceField(
        StockLocation.objects.none(), label=_("Good beads go to"), required=False, empty_label=None
    )
    on = forms.DateField(label=_("Day"), widget=DayInput(), validators=[today_or_earlier])
    minutes = minutes_field(label=_("Minutes"), required=False)

    def __init__(self, *args: Any, batch: BeadBatch, waiting: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.batch, self.waiting = batch, waiting
        shelves = StockLocation.objects.filter(kind=LocationKind.BEAD_SHELF)
        self.fields["place"].queryset = shelves
        if shelves.count() < 2:
            del self.fields["place"]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if self.errors:
            return data
        out = data["good"] + data["rejected"] + (data.get("broken") or 0)
        if not out:
            raise ValidationError(_("Write how many came good and how many are rejects."))
        if out > self.waiting:
            raise ValidationError(
                _(
                    "%(out)s came out and only %(waiting)s of this batch wait to be finished. "
                    "Count again, or look whether somebody finished some already."
                )
                % {"out": out, "waiting": self.waiting}
            )
        return data
