"""Small forms on an order's own page."""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext as said
from django.utils.translation import gettext_lazy as _

from orders.counter.services.standing import Rhythm
from orders.models import Customer, OrderLine, Payment, StandingOrder, StrandDesign, WantedLine
from orders.money.forms.money import WayBoxes
from orders.money.services.payments import PaymentDetails
from workshop.form_fields import CountField, MoneyBox, minutes_field
from workshop.forms.boxes import DayInput


class CancelForm(forms.Form):
    why = forms.CharField(
        label=_("why"),
        required=False,
        max_length=200,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )


class StringForm(forms.Form):
    strands = CountField(
        label=_("strung now"),
        smallest=1,
        error_messages={"required": _("Write how many strands were strung.")},
    )
    minutes = minutes_field(label=_("minutes"), required=False)


ON_ACCOUNT = "later"


class PartForm(WayBoxes):
    """For each line `n_<id>`, how many strands leave now; and how what they ask for is paid."""

    method = forms.ChoiceField(
        label=_("How it is paid"), initial=Payment.Method.CASH, widget=forms.RadioSelect
    )

    def __init__(
        self, *args: Any, lines: Iterable[OrderLine], may_wait: bool, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        later = [(ON_ACCOUNT, _("later, on account"))] if may_wait else []
        self.fields["method"].choices = Payment.WAYS + later
        self.lines = list(lines)
        for line in self.lines:
            self.fields[f"n_{line.pk}"] = CountField(
                label=said("%(design)s: handed over now") % {"design": line.design.name},
                required=False,
                initial=line.ready or None,
            )

    def strands(self) -> dict[int, int]:
        return {line.pk: self.cleaned_data.get(f"n_{line.pk}") or 0 for line in self.lines}

    def way(self) -> PaymentDetails | None:
        """None: it is paid later."""
        return None if self.cleaned_data["method"] == ON_ACCOUNT else super().way()


class LinesForm(forms.Form):
    """For each line, old or new, `n_<design>` and `p_<design>`."""

    def __init__(
        self,
        *args: Any,
        lines: Mapping[int, Any],
        designs: Iterable[StrandDesign],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.designs = list(designs)
        for design in self.designs:
            line, words = lines.get(design.pk), {"design": design.name}
            self.fields[f"n_{design.pk}"] = CountField(
                label=said("%(design)s: how many") % words,
                required=False,
                initial=line.strands if line else 1,
            )
            price = MoneyBox(
                label=said("%(design)s: another price each") % words,
                required=False,
                min_value=Decimal(0),
                max_digits=9,
            )
            price.widget.attrs.update({"placeholder": said("other price")})
            self.fields[f"p_{design.pk}"] = price

    def wanted(self) -> list[WantedLine]:
        given = self.cleaned_data
        return [
            WantedLine(design.pk, given.get(f"n_{design.pk}") or 0, given.get(f"p_{design.pk}"))
            for design in self.designs
        ]


class ChangeForm(LinesForm):
    """For each line, old or new, `n_<design>` and `p_<design>`; another day; the owner's word."""

    due_on = forms.DateField(
        label=_("Wanted for"),
        required=False,
        widget=DayInput,
        error_messages={"invalid": _("Write a day, such as 24.12.2026.")},
    )
    note = forms.CharField(
        label=_("Note"),
        required=False,
        max_length=300,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    owner_word = forms.CharField(
        required=False,
        max_length=200,
        label=_("Why sell below the lowest price all the same"),
        help_text=_("Your word and the reason; both are kept with the order."),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    OWNERS = ("owner_word",)


class StandingForm(LinesForm):
    """For whom, how often, from when, how long before it is taken; and its lines."""

    customer = forms.ModelChoiceField(
        Customer.objects.filter(in_use=True, nameless=False),
        label=_("Customer"),
        error_messages={"required": _("Choose who it is for.")},
    )
    every = forms.IntegerField(label=_("Every"), min_value=1, max_value=52, initial=1)
    unit = forms.ChoiceField(
        label=_("weeks or months"),
        choices=StandingOrder.Unit,
        initial=StandingOrder.Unit.MONTHS,
        widget=forms.RadioSelect,
    )
    from_on = forms.DateField(label=_("Wanted first on"), widget=DayInput)
    ahead_days = forms.IntegerField(
        label=_("Taken so many days before"),
        min_value=0,
        max_value=180,
        initial=14,
        help_text=_("So that its beads can be made; the page shows whether it is enough."),
    )
    note = forms.CharField(
        label=_("Note"),
        required=False,
        max_length=300,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    field_order = ["customer", "every", "unit", "from_on", "ahead_days", "note"]

    def rhythm(self) -> Rhythm:
        given = self.cleaned_data
        names = ("every", "unit", "from_on", "ahead_days", "note")
        return Rhythm(**{name: given[name] for name in names})


class PauseForm(forms.Form):
    """Until when; left empty, it goes on at once."""

    until = forms.DateField(
        label=_("Wanted again from"),
        required=False,
        widget=DayInput,
        help_text=_("Days before it are left out. Left empty: it goes on at once."),
    )
