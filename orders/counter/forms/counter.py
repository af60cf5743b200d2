"""The counter's one form: who, what, how many, at what price, until when, what was paid."""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.http import QueryDict
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from orders.floor.open_days import due_problem, open_days
from orders.models import BY_HAND, Customer, CustomerGroup, Order, Payment, StrandDesign, WantedLine
from workshop.form_fields import CountField, MoneyBox, WeighedCountField

MOST_STRANDS = 100_000


class CounterForm(forms.Form):
    """Fixed boxes, and for each design on the order `n_<id>` (how many) and `p_<id>` (price).

    `line` boxes, hidden, carry the designs in their order; a blank price means the price in
    force: agreed with the customer, of the list, or suggested.
    """

    customer = forms.ModelChoiceField(
        Customer.objects.filter(in_use=True),
        widget=forms.HiddenInput,
        required=False,
        label=gettext_lazy("customer"),
        error_messages={
            "invalid_choice": gettext_lazy("That customer is not on the list any more."),
        },
    )
    due_on = forms.DateField(
        required=False,
        label=gettext_lazy("wanted for"),
        help_text=gettext_lazy("Left empty: the day promised."),
        widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date", "data-tells": ""}),
        error_messages={"invalid": gettext_lazy("Write a day, such as 2026-12-04.")},
    )
    note = forms.CharField(
        required=False,
        max_length=300,
        label=gettext_lazy("note"),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    deposit = MoneyBox(required=False, min_value=Decimal(0), label=gettext_lazy("deposit taken"))
    deposit_how = forms.ChoiceField(required=False, label=gettext_lazy("how"), choices=Payment.WAYS)
    network = forms.CharField(
        required=False, max_length=40, label=gettext_lazy("network, of mobile money")
    )
    reference = forms.CharField(
        required=False, max_length=60, label=gettext_lazy("reference of the payment")
    )
    owner_word = forms.CharField(
        required=False,
        max_length=200,
        label=gettext_lazy("Why sell below the lowest price all the same"),
        help_text=gettext_lazy("Your word and the reason; both are kept with the order."),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    def __init__(
        self,
        data: Any,
        designs: Iterable[StrandDesign],
        *,
        each_g: Mapping[int, Decimal] | None = None,
        **kwargs: Any,
    ) -> None:
        """each_g: what one loose bead weighs, by design; its number may be told by weight."""
        super().__init__(data, **kwargs)
        # What changes a sentence of the sheet once it is written.
        self.fields["deposit"].widget.attrs["data-tells"] = ""
        self.designs = list(designs)
        for design in self.designs:
            self.fields[f"n_{design.pk}"] = _count_box(design, (each_g or {}).get(design.pk))
            self.fields[f"n_{design.pk}"].widget.attrs.update(
                {"data-number": "", "enterkeyhint": "next", "inputmode": "decimal"}
            )
            self.fields[f"p_{design.pk}"] = MoneyBox(
                label=_("%(design)s: price each") % {"design": design.name},
                required=False,
                min_value=Decimal(0),
                max_digits=9,
            )
            self.fields[f"p_{design.pk}"].widget.attrs.update(
                {"data-number": "", "placeholder": _("own price")}
            )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for design in self.designs:
            name = f"n_{design.pk}"
            count = cleaned.get(name)
            if count is None:
                continue
            if count < 1:
                self.add_error(
                    name, _("Write at least 1 strand, or take %s off the order.") % design.name
                )
            elif count > MOST_STRANDS:
                self.add_error(
                    name,
                    _("%(count)s strands of one design are more than anybody strings; look again.")
                    % {"count": count},
                )
        return cleaned

    def clean_due_on(self):
        due_on = self.cleaned_data["due_on"]
        if due_on is not None:
            today = timezone.localdate()
            if problem := due_problem(due_on, today, open_days(today)):
                raise ValidationError(problem)
        return due_on

    def clean_deposit_how(self) -> str:
        return self.cleaned_data["deposit_how"] or Payment.Method.CASH

    def wanted(self) -> list[WantedLine]:
        """The lines that can be read; those that cannot are named by `errors`."""
        lines = []
        for design in self.designs:
            count = self.cleaned_data.get(f"n_{design.pk}")
            if (
                count
                and f"n_{design.pk}" not in self.errors
                and f"p_{design.pk}" not in self.errors
            ):
                lines.append(WantedLine(design.pk, count, self.cleaned_data.get(f"p_{design.pk}")))
        return lines

    def line_problems(self) -> list[str]:
        """What is wrong with the figures of the lines, in sentences; blank counts are not."""
        found = []
        for design in self.designs:
            for name in (f"n_{design.pk}", f"p_{design.pk}"):
                if self.data.get(name, "").strip():
                    found += [f"{design.name}: {error}" for error in self.errors.get(name, ())]
        return found


def _count_box(design: StrandDesign, each_g: Decimal | None) -> CountField:
    words = {"design": design.name}
    if design.is_loose:
        return WeighedCountField(
            each_g=each_g,
            label=_("%(design)s: beads") % words,
            error_messages={
                "required": _("Write how many beads are wanted, such as 144, 1 gross or 500 g.")
            },
        )
    if design.is_work:
        return CountField(
            label=_("%(design)s: how many") % words,
            error_messages={"required": _("Write how many there are, such as 1.")},
        )
    return CountField(
        label=_("%(design)s: strands") % words,
        error_messages={"required": _("Write how many strands are wanted, such as 30.")},
    )


class NewCustomerForm(forms.ModelForm):
    """A new name at the counter: no more than is needed to find it again."""

    prefix = "new"

    class Meta:
        model = Customer
        fields = ["name", "group", "phone"]
        widgets = {
            "name": forms.TextInput(attrs={"autocomplete": "off"}),
            # The price depends on who they are.
            "group": forms.Select(attrs={"data-tells": ""}),
            "phone": forms.TextInput(
                attrs={"type": "tel", "inputmode": "tel", "autocomplete": "off"}
            ),
        }

    def clean_name(self) -> str:
        name = " ".join(self.cleaned_data["name"].split())
        if Customer.objects.filter(name__iexact=name, in_use=True).exists():
            raise ValidationError(
                _("%(name)s is on the list already; choose it there, or add what tells them apart.")
                % {"name": name}
            )
        return name


def data_of_order(order: Order) -> QueryDict:
    """A written-down order as the counter's form would have sent it."""
    data = QueryDict(mutable=True)
    data["customer"] = str(order.customer_id)
    data["due_on"] = order.due_on.isoformat() if order.due_on else ""
    data["note"] = order.note
    lines = list(order.lines.all())
    data.setlist("line", [str(line.design_id) for line in lines])
    for line in lines:
        data[f"n_{line.design_id}"] = str(line.strands)
        data[f"p_{line.design_id}"] = (
            f"{line.price.normalize():f}" if line.price_from == BY_HAND else ""
        )
    return data


GROUPS = CustomerGroup.choices
