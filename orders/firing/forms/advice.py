"""What is asked of the physics: a bead and a firing, a logged curve, an unusual glass."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from orders.firing.forms.curves import read_curve
from stock.models import Bead
from workshop.form_fields import NumberBox
from workshop.models import Kiln, Programme
from workshop.physics.composition import MOLAR_MASS, mol_percent


class AdviceForm(forms.Form):
    """A bead, a programme, a kiln, and the readings of a firing where there are some."""

    bead = forms.ModelChoiceField(Bead.objects.filter(in_use=True), label=gettext_lazy("bead"))
    programme = forms.ModelChoiceField(
        Programme.objects.filter(in_use=True),
        label=gettext_lazy("firing"),
        required=False,
        empty_label=gettext_lazy("the bead's own"),
    )
    kiln = forms.ModelChoiceField(
        Kiln.objects.filter(in_use=True),
        label=gettext_lazy("kiln"),
        required=False,
        empty_label=gettext_lazy("the first that can"),
    )
    readings = forms.CharField(
        label=gettext_lazy("readings of a firing"),
        required=False,
        widget=forms.Textarea(attrs={"rows": 5, "inputmode": "text", "autocomplete": "off"}),
        help_text=gettext_lazy("One a line: minute and °C, such as “45, 720”. Two or more."),
    )

    def clean_readings(self) -> list[tuple[float, float]]:
        return read_curve(self.cleaned_data["readings"])


OXIDES = tuple(MOLAR_MASS)
USUAL_OXIDES = ("SiO2", "Na2O", "CaO", "MgO", "Al2O3", "K2O", "Fe2O3")


class CompositionForm(forms.Form):
    """The oxides of a glass, in per cent by weight or by mole."""

    basis = forms.ChoiceField(
        label=gettext_lazy("shares are by"),
        choices=[("weight", gettext_lazy("weight")), ("mole", gettext_lazy("mole"))],
        initial="weight",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for oxide in OXIDES:
            self.fields[oxide] = NumberBox(
                label=oxide.translate(SMALL_DIGITS),
                required=False,
                min_value=0,
                max_value=100,
                error_messages={
                    "invalid": _("Write the share in per cent, such as 12.5."),
                    "max_value": _("A share is at most 100 %%.") % (),
                    "min_value": _("A share cannot be below 0."),
                },
            )

    def usual_boxes(self) -> list:
        return [self[oxide] for oxide in USUAL_OXIDES]

    def other_boxes(self) -> list:
        return [self[oxide] for oxide in OXIDES if oxide not in USUAL_OXIDES]

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if self.errors:
            return said
        shares = {oxide: float(said[oxide]) for oxide in OXIDES if said.get(oxide)}
        total = sum(shares.values())
        if not shares:
            raise ValidationError(
                _("Write the oxides of the glass; for bottle glass, SiO₂ is about 73 %%.") % ()
            )
        if not 95 <= total <= 105:
            raise ValidationError(
                _(
                    "The oxides add up to %(total)s %%, and a glass adds up to about 100 %%. "
                    "Check the shares, or write what is missing."
                )
                % {"total": f"{total:.1f}"}
            )
        by_mole = said["basis"] == "mole"
        said["mol"] = shares if by_mole else mol_percent(shares)
        return said


SMALL_DIGITS = str.maketrans("0123456789", "₀₁₂₃₄₅₆₇₈₉")
