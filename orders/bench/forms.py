"""Small forms of the bench: how many, how long, done."""

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from orders.bench.queries.packing import minutes_once, steps_to_pack
from orders.bench.services import finish_problem
from orders.models import Order
from stock.models import Balance, RejectCause
from stock.services.beads import TO_GLASS, TO_REMAKE
from stock.services.rejects import too_many_causes
from workshop import formats
from workshop.form_fields import CountField, minutes_field
from workshop.models import LabourRate

PLAIN_HEAP = "mark:"  # of a choice of heaps; what follows is the mark


class MouldedForm(forms.Form):
    """Beads moulded and the minutes it took."""

    signs = {"count": "beads", "minutes": "hour"}

    count = CountField(label=_("Beads"), smallest=1, largest=100_000)
    minutes = minutes_field(label=_("Minutes"), required=False)

    def __init__(
        self, *args: Any, heaps: Mapping[int, Sequence[Balance]] | None = None, **kwargs: Any
    ) -> None:
        """heaps  those of a lot or maker that may be taken, by colour key"""
        super().__init__(*args, **kwargs)
        for colour, rows in (heaps or {}).items():
            self.fields[f"heap_{colour}"] = forms.ChoiceField(
                label=_("%(colour)s from") % {"colour": rows[0].item.colour},
                choices=[
                    ("", _("whichever has enough")),
                    (PLAIN_HEAP, _("the heap without a mark")),
                    *((_heap_code(row), _heap_words(row)) for row in rows),
                ],
                required=False,
            )

    def marks(self) -> dict[int, str]:
        """Which heap of a colour was chosen, by colour key; none where any will do."""
        chosen = {
            int(name.removeprefix("heap_")): value
            for name, value in self.cleaned_data.items()
            if name.startswith("heap_") and value
        }
        return {colour: value.removeprefix(PLAIN_HEAP) for colour, value in chosen.items()}


def _heap_code(row: Balance) -> str:
    return PLAIN_HEAP + row.item.mark


def _heap_words(row: Balance) -> str:
    return f"{row.item.mark}, {formats.mass(Decimal(row.free_quantity) / 1000)}"


class PaintedForm(forms.Form):
    signs = {"minutes": "hour"}

    minutes = minutes_field(label=_("Minutes"), required=False)


class FinishedForm(forms.Form):
    """Sorted beads: good, rejects, gone; they make what lay there."""

    signs = {"good": "good", "rejected": "broken", "gone": "gone", "minutes": "hour"}

    good = CountField(label=_("Good"), smallest=0, largest=100_000)
    rejected = CountField(label=_("Rejects"), smallest=0, largest=100_000, required=False)
    gone = CountField(label=_("Gone"), smallest=0, largest=100_000, required=False)
    minutes = minutes_field(label=_("Minutes"), required=False)
    rejects_to = forms.ChoiceField(
        label=_("Rejects go"),
        choices=[(TO_REMAKE, _("to rejects for remade beads")), (TO_GLASS, _("to raw glass"))],
        required=False,
        widget=forms.RadioSelect,
        initial=TO_REMAKE,
    )

    def __init__(
        self,
        *args: Any,
        there: int | None = None,
        told: Mapping[str, int] | None = None,
        **kwargs: Any,
    ) -> None:
        """told  rejects by the cause that was tapped at the kiln already"""
        super().__init__(*args, **kwargs)
        self.there, self.told = there, dict(told or {})
        for cause, label in RejectCause.choices:
            self.fields[f"cause_{cause}"] = CountField(
                label=label, smallest=0, largest=100_000, required=False
            )

    @property
    def cause_boxes(self) -> list[forms.BoundField]:
        return [self[f"cause_{cause}"] for cause in RejectCause.values]

    @property
    def told_words(self) -> str:
        """What was tapped at the kiln, in words."""
        labels = dict(RejectCause.choices)
        return ", ".join(f"{beads} {labels[cause]}" for cause, beads in self.told.items())

    @property
    def causes_open(self) -> bool:
        return any(box.errors or box.value() for box in self.cause_boxes)

    @property
    def plain_boxes(self) -> list[forms.BoundField]:
        return [box for box in self.visible_fields() if not box.name.startswith("cause_")]

    @property
    def line_boxes(self) -> list[forms.BoundField]:
        """What has room in one line of the bench's list."""
        return [box for box in self.plain_boxes if box.name != "rejects_to"]

    def causes(self) -> dict[str, int]:
        """Rejects by what is wrong with them, as far as that was tapped."""
        return {cause: self.cleaned_data.get(f"cause_{cause}") or 0 for cause in RejectCause.values}

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if self.errors or self.there is None:
            return data
        found = data["good"] + (data["rejected"] or 0) + (data["gone"] or 0)
        if found != self.there:
            raise ValidationError({"good": finish_problem(self.there, found)})
        lost = (data["rejected"] or 0) + (data["gone"] or 0)
        left = max(0, lost - sum(self.told.values()))
        named = sum(self.causes().values())
        if named > left:
            first = next(cause for cause, beads in self.causes().items() if beads)
            raise ValidationError({f"cause_{first}": too_many_causes(named, left)})
        return data


class StrungForm(forms.Form):
    signs = {"strands": "string", "minutes": "hour"}

    strands = CountField(label=_("Strands"), smallest=1, largest=100_000)
    minutes = minutes_field(label=_("Minutes"), required=False)


class PackedForm(forms.Form):
    """Minutes of each step that is done once an order; the standard stands there to start from."""

    signs = {"step": "hour"}

    def __init__(self, *args: Any, steps: Sequence[LabourRate], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.steps = {f"step_{number}": rate for number, rate in enumerate(steps)}
        for name, rate in self.steps.items():
            label = _("Minutes") if len(steps) == 1 else rate.step_id
            self.fields[name] = minutes_field(
                label=label, required=False, initial=minutes_once(rate)
            )

    def minutes(self) -> dict[str, int]:
        """By step."""
        said = self.cleaned_data
        return {rate.step_id: said[name] or 0 for name, rate in self.steps.items()}


def packing_form(order: Order) -> PackedForm | None:
    """The small form for packing an order; None where there is nothing to tell."""
    steps = steps_to_pack(order)
    return PackedForm(steps=steps, auto_id=f"id_pack_{order.number}_%s") if steps else None
