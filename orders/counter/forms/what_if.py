"""What may be changed in a what-if."""

from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from orders.models import DesignPart, Order
from stock.forms.missing import SaysWhatIsMissing
from stock.models import Bead, BeadColour
from workshop.form_fields import CountField, MoneyBox, PercentField
from workshop.models import Kiln


class WhatIfForm(SaysWhatIsMissing, forms.Form):
    """Quantities by line, reject rate by bead, the kiln, the fuel's price, margin, assurance."""

    kiln = forms.ModelChoiceField(
        Kiln.objects.filter(in_use=True),
        required=False,
        label=gettext_lazy("fire everything in"),
        empty_label=gettext_lazy("the first kiln that can"),
        error_messages={
            "invalid_choice": gettext_lazy("That kiln is not in use. Choose one of the list.")
        },
    )
    fuel_price = MoneyBox(
        required=False,
        min_value=0,
        label=gettext_lazy("price of wood or other fuel, per kg or kWh"),
    )
    margin = PercentField(
        required=False, label=gettext_lazy("margin, %"), max_value=Decimal("99.9")
    )
    assurance = PercentField(
        required=False,
        label=gettext_lazy("assurance, %"),
        min_value=Decimal("0.01"),
        max_value=Decimal("99.99"),
    )

    def __init__(self, data: Any, *, order: Order) -> None:
        self.lines = list(order.lines.select_related("design"))
        designs = [line.design_id for line in self.lines]
        self.beads = list(
            Bead.objects.filter(pk__in=DesignPart.objects.filter(design__in=designs).values("bead"))
        )
        super().__init__(data)
        for index, line in enumerate(self.lines):
            self.fields[f"n_{index}"] = CountField(
                label=_("%(design)s: strands") % {"design": line.design.name},
                smallest=1,
                largest=100_000,
                initial=str(line.strands),
            )
        self.shares = {
            share.pk: share
            for share in BeadColour.objects.filter(bead__in=self.beads)
            .select_related("colour", "bead")
            .order_by("bead__sorts_as", "layer", "id")
        }
        for pk, share in self.shares.items():
            if sum(other.bead_id == share.bead_id for other in self.shares.values()) > 1:
                self.fields[f"s_{pk}"] = PercentField(
                    label=_("%(bead)s: %(colour)s, %%")
                    % {"bead": share.bead.name, "colour": share.colour.name},
                    initial=share.share,
                    required=False,
                )
        for bead in self.beads:
            self.fields[f"q_{bead.pk}"] = PercentField(
                label=_("%(bead)s: rejects, %%") % {"bead": bead.name},
                initial=bead.reject_rate,
                required=False,
            )

    def line_boxes(self) -> list:
        return [self[f"n_{index}"] for index in range(len(self.lines))]

    def bead_boxes(self) -> list:
        return [self[f"q_{bead.pk}"] for bead in self.beads]

    def share_boxes(self) -> list:
        return [self[f"s_{pk}"] for pk in self.shares if f"s_{pk}" in self.fields]

    def other_boxes(self) -> list:
        return [self[name] for name in ("kiln", "fuel_price", "margin", "assurance")]

    def clean(self) -> dict[str, Any]:
        """What cannot be is said at its box; the costing would refuse it for the whole order."""
        said = super().clean() or {}
        if self.errors:
            return said
        for bead in self.beads:
            if (said.get(f"q_{bead.pk}") or 0) >= 1:
                self.add_error(
                    f"q_{bead.pk}",
                    _(
                        "With 100 %% rejects no bead ever comes good. Write a share below 100 %%, "
                        "such as 8."
                    )
                    % (),
                )
        for key, shares in self._changed_shares().items():
            if (total := sum(shares.values())) != 1:
                self.add_error(self._last_share_box(key), self._shares_off(key, total))
        return said

    def _last_share_box(self, bead: int) -> str:
        return [f"s_{pk}" for pk, share in self.shares.items() if share.bead_id == bead][-1]

    def _shares_off(self, bead: int, total: Decimal) -> str:
        name = next(each.name for each in self.beads if each.pk == bead)
        words = {
            "bead": name,
            "total": f"{(total * 100).normalize():f}",
            "off": f"{(abs(1 - total) * 100).normalize():f}",
        }
        if total > 1:
            return (
                _(
                    "The colour shares of %(bead)s add up to %(total)s %%, and they must add up to "
                    "100 %%. Take away %(off)s %%."
                )
                % words
            )
        return (
            _(
                "The colour shares of %(bead)s add up to %(total)s %%, and they must add up to "
                "100 %%. Add %(off)s %%."
            )
            % words
        )

    def refuse(self, sentence: str, field: str, subject: str) -> None:
        """What the costing refuses, at its box where there is one."""
        bead = next((b for b in self.beads if b.name == subject), None)
        box = f"q_{bead.pk}" if bead and field == "reject_rate" else field
        self.add_error(box if box in self.fields else None, sentence)

    def changes(self) -> dict[str, Any]:
        """Only what differs from the order as it is, in the words of the costing's what-if."""
        said = self.cleaned_data
        found: dict[str, Any] = {}
        quantity = {
            index: said[f"n_{index}"]
            for index, line in enumerate(self.lines)
            if said[f"n_{index}"] != line.strands
        }
        rejects = {
            bead.pk: said[f"q_{bead.pk}"]
            for bead in self.beads
            if said[f"q_{bead.pk}"] is not None and said[f"q_{bead.pk}"] != bead.reject_rate
        }
        if quantity:
            found["quantity"] = quantity
        if shares := self._changed_shares():
            found["colour_shares"] = shares
        if rejects:
            found["reject_rate"] = rejects
        if said["kiln"]:
            found["kiln"] = said["kiln"].pk
        for name in ("fuel_price", "margin", "assurance"):
            if said[name] is not None:
                found[name] = said[name]
        return found

    def _changed_shares(self) -> dict[int, dict[int, Decimal]]:
        """All shares of each bead of which one was changed; what was left empty stays."""
        by_bead: dict[int, dict[int, Decimal]] = {}
        changed = set()
        for pk, share in self.shares.items():
            typed = self.cleaned_data.get(f"s_{pk}")
            by_bead.setdefault(share.bead_id, {})[share.colour_id] = (
                share.share if typed is None else typed
            )
            if typed is not None and typed != share.share:
                changed.add(share.bead_id)
        return {bead: shares for bead, shares in by_bead.items() if bead in changed}
