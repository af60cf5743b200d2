"""What is typed for a line of its own kind: a design as it is wanted, loose beads, work."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from orders.designs.services.as_asked import Asked, skills_with_pay
from orders.models import StrandDesign
from stock.models import Bead
from workshop.form_fields import LengthField, MoneyBox, NumberBox
from workshop.models import Skill
from workshop.search import holding

BEAD_LIST = "beads-in-use"  # the page's one list of beads, for every box that names one


class BeadNameField(forms.CharField):
    """A bead in use by its name, as the page's list offers it; gives the bead or None."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(required=False, max_length=120, **kwargs)
        self.widget.attrs.update({"list": BEAD_LIST, "autocomplete": "off"})

    def clean(self, value: Any) -> Bead | None:
        words = " ".join(super().clean(value).split())
        if not words:
            return None
        in_use = Bead.objects.filter(in_use=True)
        found = list(in_use.filter(name__iexact=words)[:1])
        found = found or list(holding(in_use, words).order_by("sorts_as")[:2])
        if len(found) != 1:
            raise ValidationError(
                _("No bead is called “%(words)s”; choose one from the list.") % {"words": words}
                if not found
                else _("More than one bead is called so; choose one from the list.")
            )
        return found[0]


class AskedForm(forms.Form):
    """A design as it is wanted this time. Names of boxes begin with the design's key."""

    length = LengthField(
        unit="cm",
        required=False,
        label=gettext_lazy("another length"),
        widget=forms.TextInput(attrs={"placeholder": "40 cm"}),
    )
    where = forms.ChoiceField(
        required=False,
        label=gettext_lazy("or worn at the"),
        choices=[("", "–"), *StrandDesign.Worn.choices],
    )
    around = LengthField(
        unit="cm",
        required=False,
        smallest=Decimal(10),
        label=gettext_lazy("measured there"),
        widget=forms.TextInput(attrs={"placeholder": "16 cm"}),
    )
    old = forms.ChoiceField(required=False, label=gettext_lazy("instead of"))
    new = BeadNameField(label=gettext_lazy("this bead"))

    def __init__(
        self, data: Any, design: StrandDesign, beads: Sequence[tuple[int, str]], **kwargs: Any
    ) -> None:
        """beads: those of the design, by key and name."""
        super().__init__(data, prefix=f"as{design.pk}", **kwargs)
        self.design = design
        self.fields["old"].choices = beads  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if self.errors:
            return said
        if said["length"] is not None and said["around"] is not None:
            self.add_error("length", _("Write a length or a size, not both."))
        elif bool(said["where"]) != (said["around"] is not None):
            field = "around" if said["where"] else "where"
            self.add_error(field, _("Say where it is worn, and what was measured there."))
        elif said["length"] is None and said["around"] is None and said["new"] is None:
            self.add_error(
                "length", _("Write another length, a size, or a bead that takes another’s place.")
            )
        return said

    def asked(self) -> Asked:
        said = self.cleaned_data
        worn = (said["where"], said["around"]) if said["where"] else None
        instead = ((int(said["old"]), said["new"].pk),) if said["new"] else ()
        return Asked(said["length"], worn, instead)


class LooseForm(forms.Form):
    """Loose beads of a kind; how many stands in the line itself."""

    prefix = "loose"

    bead = BeadNameField(label=gettext_lazy("bead"))

    def clean_bead(self) -> Bead:
        bead = self.cleaned_data["bead"]
        if bead is None:
            raise ValidationError(_("Write which bead is wanted."))
        return bead


class WorkForm(forms.Form):
    """Work on a piece: in words, how long one takes and whose work it is, and its price."""

    prefix = "work"

    name = forms.CharField(
        max_length=60,
        required=False,
        label=gettext_lazy("what is done"),
        widget=forms.TextInput(
            attrs={"autocomplete": "off", "placeholder": gettext_lazy("restring a bracelet")}
        ),
    )
    minutes = NumberBox(
        required=False,
        max_digits=6,
        decimal_places=1,
        label=gettext_lazy("minutes for one"),
        error_messages={"invalid": gettext_lazy("Write minutes in figures, such as 20.")},
    )
    skill = forms.ChoiceField(required=False, label=gettext_lazy("work of"))
    price = MoneyBox(
        required=False, min_value=Decimal(0), max_digits=9, label=gettext_lazy("price each")
    )

    def __init__(self, data: Any = None, **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        self.fields["skill"].choices = skills_with_pay()  # type: ignore[attr-defined]
        self.fields["skill"].initial = Skill.STRINGING

    def minutes_by_skill(self) -> dict[str, Decimal]:
        said = self.cleaned_data
        return {said["skill"]: said["minutes"]} if said["minutes"] is not None else {}
