"""What is typed when strands are lent to a shop, and when they are counted there."""

from collections.abc import Iterable
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from orders.counter.forms.carrying import CountedStrands
from orders.counter.services.consigning import There
from orders.models import Consignment, Customer, CustomerGroup, StrandDesign
from orders.money.forms.money import DayInput
from workshop.form_fields import CountField, MoneyBox, PercentField


class LendForm(CountedStrands):
    """To which shop, at which share, and for each design that lies free `n_<id>`."""

    OWNERS = ("share",)

    shop = forms.ModelChoiceField(
        Customer.objects.filter(in_use=True, nameless=False).exclude(group=CustomerGroup.WALK_IN),
        label=gettext_lazy("Shop"),
        error_messages={"required": gettext_lazy("Choose the shop.")},
    )
    share = PercentField(
        label=gettext_lazy("The shop’s share"),
        required=False,
        help_text=gettext_lazy("Of the price to buyers. Left empty: as it was agreed before."),
    )
    on = forms.DateField(label=gettext_lazy("Day"), widget=DayInput)

    def __init__(self, *args: Any, designs: Iterable[StrandDesign], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial.setdefault("on", timezone.localdate())
        self.ask_of_each(designs, _("%(design)s: how many are lent"))


class CountForm(forms.Form):
    """For each design with a shop: `still_<id>`, `back_<id>`, `gone_<id>`, `p_<id>`."""

    OWNERS = ("owner_word",)

    on = forms.DateField(label=gettext_lazy("Counted on"), widget=DayInput)
    owner_word = forms.CharField(
        required=False,
        max_length=200,
        label=gettext_lazy("Why sell below the lowest price all the same"),
        help_text=gettext_lazy("Your word and the reason; both are kept with the sale."),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    def __init__(
        self, *args: Any, goods: Consignment, designs: Iterable[StrandDesign], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.initial.setdefault("on", timezone.localdate())
        self.goods, self.designs = goods, list(designs)
        for design in self.designs:
            words = {"design": design.name}
            self.fields[f"still_{design.pk}"] = CountField(
                label=_("%(design)s: still there") % words,
                error_messages={"required": _("Count what lies there; write 0 for none.")},
            )
            for name, label in (
                ("back", _("%(design)s: taken back")),
                ("gone", _("%(design)s: missing or broken")),
            ):
                self.fields[f"{name}_{design.pk}"] = CountField(label=label % words, required=False)
            self.fields[f"p_{design.pk}"] = MoneyBox(
                label=_("%(design)s: price each to buyers, if another") % words,
                required=False,
                min_value=0,
                max_digits=9,
            )

    def counted(self) -> list[There]:
        said = self.cleaned_data
        return [
            There(
                design.pk,
                said[f"still_{design.pk}"],
                said[f"back_{design.pk}"] or 0,
                said[f"gone_{design.pk}"] or 0,
                said[f"p_{design.pk}"],
            )
            for design in self.designs
        ]
