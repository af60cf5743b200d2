"""Forms of the money room: taking payments, issuing and crediting papers, giving money back."""

from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext as said
from django.utils.translation import gettext_lazy as _

from orders.models import Document, DocumentLine, Order, Payment
from orders.money.queries.charging import rates_on, strands_to_charge, supply_day
from orders.money.services.payments import PaymentDetails
from workshop.form_fields import CountField, MoneyBox
from workshop.models import Business


class DayInput(forms.DateInput):
    """A day, by the browser's own picker."""

    input_type = "date"

    def __init__(self) -> None:
        super().__init__(format="%Y-%m-%d")


WAY_BOXES = ("method", "drawer", "network", "payer_number", "reference")


class WayBoxes(forms.Form):
    """How money moves; the boxes of mobile money are asked for only when it is that."""

    method = forms.ChoiceField(
        label=_("How"), choices=Payment.WAYS, initial=Payment.Method.CASH, widget=forms.RadioSelect
    )
    drawer = forms.CharField(
        label=_("Drawer"), max_length=40, required=False, help_text=_("If there is more than one.")
    )
    network = forms.CharField(label=_("Network of mobile money"), max_length=40, required=False)
    payer_number = forms.CharField(
        label=_("Payer’s number"),
        max_length=30,
        required=False,
        widget=forms.TextInput(attrs={"inputmode": "tel", "autocomplete": "off"}),
    )
    reference = forms.CharField(
        label=_("Reference"),
        max_length=60,
        required=False,
        help_text=_("Of the transfer, card slip or mobile payment."),
    )

    @property
    def ways_open(self) -> bool:
        """Whether one of the folded boxes was filled in, or is to be looked at again."""
        boxes = [self[name] for name in WAY_BOXES[1:]]
        return any(box.errors or box.value() not in ("", None, box.initial) for box in boxes)

    def way(self) -> PaymentDetails | None:
        return PaymentDetails(**{name: self.cleaned_data[name] for name in WAY_BOXES})


class WayForm(WayBoxes):
    """An amount, how it moves, and what the network kept of it."""

    amount = MoneyBox(label=_("Amount"))
    fee = MoneyBox(label=_("Fee kept by the network"), required=False)

    field_order = ("amount",)

    def way(self) -> PaymentDetails:
        return replace(super().way(), fee=self.cleaned_data["fee"] or Decimal(0))


class PaymentForm(WayForm):
    """Money that came in, and what it is for."""

    on = forms.DateField(label=_("Day"), widget=DayInput)
    lay_on = forms.ChoiceField(label=_("For"), widget=forms.RadioSelect)

    field_order = ["amount", "method", "lay_on", "on"]

    def __init__(self, *args: Any, open_papers: list[Document], order: Order | None, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.open_papers = {str(paper.pk): paper for paper in open_papers}
        self.order = order
        choices = []
        if order is not None:
            choices.append(("order", _("order %d") % order.number))
        choices.append(("oldest", _("what is owed longest, the rest as credit")))
        choices += [(key, str(paper)) for key, paper in self.open_papers.items()]
        choices.append(("credit", _("nothing yet: hold it as credit")))
        self.fields["lay_on"].choices = choices
        self._offer_rates()
        self.initial.setdefault("lay_on", choices[0][0])
        self.initial.setdefault("on", timezone.localdate())

    def _offer_rates(self) -> None:
        """Where several rates hold, the one of an invoice on account may be chosen."""
        self.rates = {rate.name: rate for rate in rates_on(timezone.localdate())}
        several = len(self.rates) > 1 and Business.in_force().tax_registered
        if self.order is None or not several or not strands_to_charge(self.order):
            return
        own = [("", _("as the order’s lines"))]
        self.fields["rate"] = forms.ChoiceField(
            label=_("VAT on what is paid on account"),
            choices=own + [(name, str(rate)) for name, rate in self.rates.items()],
            required=False,
        )

    def clean(self):
        """A rate goes by its name: the day of the payment says how high it was."""
        said = super().clean()
        name, on = said.get("rate"), said.get("on")
        if name and on:
            held = {rate.name: rate for rate in rates_on(on)}
            if name in held:
                said["rate"] = held[name]
            else:
                self.add_error("rate", _("This rate did not hold yet on that day."))
        return said

    def clean_on(self):
        on = self.cleaned_data["on"]
        if on > timezone.localdate():
            raise forms.ValidationError(
                _("Money cannot have come in on a day still ahead; write today or earlier.")
            )
        return on

    def laid(self) -> dict[str, Any]:
        """What `record_payment` is told."""
        choice = self.cleaned_data["lay_on"]
        if choice == "order":
            return {"order": self.order, "rate": self.cleaned_data.get("rate") or None}
        if choice == "oldest":
            return {}
        if choice == "credit":
            return {"oldest_first": False}
        paper = self.open_papers[choice]
        return {"papers": [(paper, min(self.cleaned_data["amount"], paper.open_amount))]}


class RefundForm(WayForm):
    """Money given back."""

    field_order = ["amount", "method"]

    def __init__(self, *args: Any, **kwargs: Any):
        super().__init__(*args, **kwargs)
        del self.fields["fee"]

    def way(self) -> PaymentDetails:
        self.cleaned_data["fee"] = None
        return super().way()


class DepositBackForm(RefundForm):
    """How a deposit goes back; how much, the rule says."""

    def __init__(self, *args: Any, **kwargs: Any):
        super().__init__(*args, **kwargs)
        del self.fields["amount"]


class ReasonForm(forms.Form):
    """Why something is taken back."""

    reason = forms.CharField(label=_("Why"), max_length=200)


class CompensationForm(ReasonForm):
    """Why a payment on account is kept, and the word that no VAT falls due on it."""

    adviser_agrees = forms.BooleanField(
        label=_("My tax adviser agrees that no VAT falls due on it"), required=False
    )


class InvoiceForm(forms.Form):
    """What an invoice needs beyond the order: tax, discount, carriage, day of supply."""

    supplied_on = forms.DateField(label=_("Supplied"), widget=DayInput)
    discount = MoneyBox(label=_("Discount on the whole"), required=False, min_value=Decimal(0))
    carriage = MoneyBox(label=_("Carriage"), required=False, min_value=Decimal(0))

    def __init__(self, *args: Any, order: Order, business: Business, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.order = order
        self.initial.setdefault("supplied_on", supply_day(order))
        self.to_charge = strands_to_charge(order)
        # A rate goes by its name, so that another day of supply finds the rate it had then.
        self.rates = {rate.name: rate for rate in rates_on(self._day_of_supply())}
        if business.tax_registered and len(self.rates) > 1:
            choices = [(name, str(rate)) for name, rate in self.rates.items()]
            self.fields["rate"] = forms.ChoiceField(label=_("VAT on all of it"), choices=choices)
            if len(self.to_charge) > 1:
                own = [("", _("as all of it")), *choices]
                for line, _left in self.to_charge:
                    self.fields[f"rate_{line.pk}"] = forms.ChoiceField(
                        label=line.design.name, choices=own, required=False
                    )

    def _day_of_supply(self) -> date:
        """The day typed, if it is one; else the day the order was collected, or today."""
        field, usual = self.fields["supplied_on"], self.initial["supplied_on"]
        if not self.is_bound:
            return usual
        try:
            return field.clean(self["supplied_on"].data)
        except forms.ValidationError:
            return usual

    @property
    def line_rates(self) -> list[Any]:
        return [self[name] for name in self.fields if name.startswith("rate_")]

    def told(self) -> dict[str, Any]:
        """What `issue_invoice` is told."""
        said = self.cleaned_data
        rates = {
            int(name.removeprefix("rate_")): self.rates[said[name]]
            for name in self.fields
            if name.startswith("rate_") and said[name]
        }
        return {
            "supplied_on": said["supplied_on"],
            "discount": said["discount"] or Decimal(0),
            "carriage": said["carriage"] or Decimal(0),
            "rate": self.rates.get(said.get("rate", "")),
            "rates": rates,
        }


class CreditForm(ReasonForm):
    """How many strands of each line are credited, and how many of them came back; carriage too.

    `n_<line>` credited, `good_<line>` back on the shelf, `broken_<line>` to the rejects.
    """

    def __init__(self, *args: Any, invoice: Document, **kwargs: Any):
        super().__init__(*args, **kwargs)
        lines = invoice.lines.select_related("order_line__design")
        self.goods = [line for line in lines if line.role == "goods"]
        for line in self.goods:
            self.fields[f"n_{line.pk}"] = CountField(
                label=line.words,
                required=False,
                help_text=_("of %d left") % line.left_quantity,
                disabled=not line.left_quantity,
            )
            if self._could_come_back(line):
                words = {"what": line.words}
                self.fields[f"good_{line.pk}"] = CountField(
                    label=said("%(what)s: back on the shelf") % words, required=False
                )
                self.fields[f"broken_{line.pk}"] = CountField(
                    label=said("%(what)s: broken, to the rejects") % words, required=False
                )
        if any(line.role == "carriage" and line.left_quantity for line in invoice.lines.all()):
            self.fields["carriage"] = forms.BooleanField(label=_("carriage too"), required=False)

    @staticmethod
    def _could_come_back(line: DocumentLine) -> bool:
        own = line.order_line
        return bool(line.left_quantity and own and own.with_customer > 0 and not own.design.is_work)

    def rows(self) -> list[dict[str, Any]]:
        """The boxes of each line, side by side; none for goods where nothing could come back."""
        return [
            {
                "line": line,
                **{
                    name: self[f"{name}_{line.pk}"]
                    for name in ("n", "good", "broken")
                    if f"{name}_{line.pk}" in self.fields
                },
            }
            for line in self.goods
        ]

    def came_back(self) -> dict[int, tuple[int, int]]:
        """Of each line of the invoice, good strands and broken ones that are here again."""
        given = self.cleaned_data
        return {
            line.pk: (given.get(f"good_{line.pk}") or 0, given.get(f"broken_{line.pk}") or 0)
            for line in self.goods
        }

    def quantities(self) -> dict[int, int]:
        return {line.pk: self.cleaned_data.get(f"n_{line.pk}") or 0 for line in self.goods}


class LayForm(forms.Form):
    """How much of a credit is laid on which open paper."""

    def __init__(self, *args: Any, open_papers: list[Document], **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.open_papers = open_papers
        for paper in open_papers:
            self.fields[f"a_{paper.pk}"] = MoneyBox(
                label=str(paper), required=False, min_value=Decimal(0)
            )

    @property
    def boxes(self) -> list[Any]:
        return [(paper, self[f"a_{paper.pk}"]) for paper in self.open_papers]

    def clean(self):
        said = super().clean()
        if not self.errors and not any(said.values()):
            raise forms.ValidationError(_("Write at least one amount to lay on."))
        return said

    def laid(self) -> list[tuple[Document, Decimal]]:
        said = self.cleaned_data
        return [(p, said[f"a_{p.pk}"]) for p in self.open_papers if said.get(f"a_{p.pk}")]
