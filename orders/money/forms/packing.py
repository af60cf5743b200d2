"""What goes into which box."""

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from orders.models import DocumentLine
from orders.money.papers.packing import Package
from workshop.form_fields import CountField, MassField

MOST_BOXES = 20


class PackingForm(forms.Form):
    """For each box its kind, size, empty mass and how many of each line; sums equal the invoice."""

    marks = forms.CharField(label=gettext_lazy("Marks on the boxes"), max_length=80, required=False)
    heading = forms.CharField(label=gettext_lazy("Customs heading"), max_length=20, required=False)
    origin = forms.CharField(label=gettext_lazy("Country of origin"), max_length=40, required=False)

    def __init__(self, *args: Any, lines: list[DocumentLine], boxes: int, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.lines, self.box_count = lines, max(1, min(boxes, MOST_BOXES))
        for box in range(1, self.box_count + 1):
            self.fields[f"kind_{box}"] = forms.CharField(
                label=gettext_lazy("Box or bag"), max_length=40, initial=_("carton")
            )
            self.fields[f"size_{box}"] = forms.CharField(
                label=gettext_lazy("Size"), max_length=40, required=False
            )
            self.fields[f"tare_{box}"] = MassField(
                label=gettext_lazy("Empty, weighs"), unit="g", initial=250
            )
            for line in lines:
                self.fields[f"n_{box}_{line.pk}"] = CountField(
                    label=line.words, required=False, initial=line.quantity if box == 1 else None
                )

    @property
    def boxes(self) -> list[dict[str, Any]]:
        """The boxes as the page shows them."""
        return [
            {
                "number": box,
                "kind": self[f"kind_{box}"],
                "size": self[f"size_{box}"],
                "tare": self[f"tare_{box}"],
                "lines": [self[f"n_{box}_{line.pk}"] for line in self.lines],
            }
            for box in range(1, self.box_count + 1)
        ]

    def clean(self):
        said = super().clean()
        for line in self.lines:
            packed = sum(
                said.get(f"n_{box}_{line.pk}") or 0 for box in range(1, self.box_count + 1)
            )
            if packed != line.quantity:
                raise ValidationError(
                    _(
                        "%(what)s: the invoice says %(invoiced)d and %(packed)d are in the boxes. "
                        "Make the boxes hold %(invoiced)d together."
                    )
                    % {"what": line.words, "invoiced": line.quantity, "packed": packed}
                )
        return said

    def packages(self) -> list[Package]:
        said = self.cleaned_data
        return [
            Package(
                number=box,
                kind=said[f"kind_{box}"],
                size=said[f"size_{box}"],
                tare_g=Decimal(said[f"tare_{box}"]),
                strands={
                    line.pk: said[f"n_{box}_{line.pk}"]
                    for line in self.lines
                    if said.get(f"n_{box}_{line.pk}")
                },
            )
            for box in range(1, self.box_count + 1)
        ]
