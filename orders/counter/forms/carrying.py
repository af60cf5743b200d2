"""How many strands of each design leave the shelf: one box for each."""

from collections.abc import Iterable

from django import forms

from orders.models import StrandDesign
from workshop.form_fields import CountField


class CountedStrands(forms.Form):
    """`n_<id>` for each design, none where nothing was typed."""

    designs: list[StrandDesign]

    def ask_of_each(self, designs: Iterable[StrandDesign], label: str) -> None:
        """Lay out the boxes; `label` has a place for the design's name."""
        self.designs = list(designs)
        for design in self.designs:
            self.fields[f"n_{design.pk}"] = CountField(
                label=label % {"design": design.name}, required=False
            )

    def strands(self) -> dict[int, int]:
        """Counts by design, once the form is right."""
        return {each.pk: self.cleaned_data[f"n_{each.pk}"] or 0 for each in self.designs}
