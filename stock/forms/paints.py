"""Which paints go on a bead, and how much of each."""

from collections.abc import Iterator
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from stock.forms.missing import SaysWhatIsMissing
from stock.models import Bead, BeadPaint, Item
from workshop.form_fields import NumberBox

MG_EACH_OF_G_PER_100 = 10


class BeadPaintsForm(SaysWhatIsMissing, forms.ModelForm):
    """A tick for each paint in stock, and what a hundred beads take of it."""

    class Meta:
        model = Bead
        fields: tuple[str, ...] = ()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.pots = list(Item.objects.filter(use="paint").order_by("name"))
        before = {row.item_id: row.mg_each for row in self.instance.paints.all()}
        for pot in self.pots:
            mg = before.get(pot.pk)
            self.fields[f"on_{pot.pk}"] = forms.BooleanField(
                label=pot.name, required=False, initial=pot.pk in before
            )
            self.fields[f"g_{pot.pk}"] = NumberBox(
                label=_("of it on 100 beads, g"), required=False, min_value=Decimal("0.001"),
                max_value=Decimal(100_000), max_digits=9, decimal_places=3,
                initial=None if mg is None else mg / MG_EACH_OF_G_PER_100,
            )  # fmt: skip

    def beside(self, bead: Bead) -> list[str]:
        """What else the form changes: for its mark of what it was filled from."""
        return [f"{row.item_id} {row.mg_each}" for row in bead.paints.all()]

    @property
    def rows(self) -> Iterator[tuple[forms.BoundField, forms.BoundField]]:
        return ((self[f"on_{pot.pk}"], self[f"g_{pot.pk}"]) for pot in self.pots)

    def paints(self) -> list[BeadPaint]:
        """The paints as they were told; one that is weighed is on the bead, ticked or not."""
        found = []
        for pot in self.pots:
            grams = self.cleaned_data.get(f"g_{pot.pk}")
            if grams or self.cleaned_data.get(f"on_{pot.pk}"):
                mg = grams * MG_EACH_OF_G_PER_100 if grams else None
                found.append(BeadPaint(bead=self.instance, item=pot, mg_each=mg))
        return found
