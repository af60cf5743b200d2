"""What is typed when strands go out to a stall and come home."""

from collections.abc import Iterable
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from orders.counter.forms.carrying import CountedStrands
from orders.counter.services.stall import Home
from orders.models import Payment, StrandDesign
from orders.money.forms.money import DayInput, WayBoxes
from workshop.form_fields import CountField, MoneyBox


class CarryOutForm(CountedStrands):
    """Which stall, which day, and for each design that lies free `n_<id>`."""

    stall = forms.CharField(
        label=gettext_lazy("Stall"),
        max_length=60,
        required=False,
        help_text=gettext_lazy("Where it stands, if there is more than one."),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    on = forms.DateField(label=gettext_lazy("Day"), widget=DayInput)

    def __init__(
        self, *args: Any, designs: Iterable[StrandDesign], more: bool, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.initial.setdefault("on", timezone.localdate())
        if more:  # to a day that has begun
            del self.fields["stall"], self.fields["on"]
        self.ask_of_each(designs, _("%(design)s: how many go out"))


class ComeHomeForm(WayBoxes):
    """For each design that is out: `home_<id>`, `gone_<id>`, `p_<id>`; how the rest was paid."""

    method = forms.ChoiceField(
        label=gettext_lazy("How the rest was paid"),
        choices=Payment.WAYS,
        initial=Payment.Method.CASH,
        widget=forms.RadioSelect,
    )
    owner_word = forms.CharField(
        required=False,
        max_length=200,
        label=gettext_lazy("Why sell below the lowest price all the same"),
        help_text=gettext_lazy("Your word and the reason; both are kept with the sale."),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    def __init__(self, *args: Any, designs: Iterable[StrandDesign], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.designs = list(designs)
        for design in self.designs:
            words = {"design": design.name}
            self.fields[f"home_{design.pk}"] = CountField(
                label=_("%(design)s: came home") % words,
                error_messages={"required": _("Count what came home; write 0 for none.")},
            )
            self.fields[f"gone_{design.pk}"] = CountField(
                label=_("%(design)s: missing or broken") % words, required=False
            )
            self.fields[f"p_{design.pk}"] = MoneyBox(
                label=_("%(design)s: price each, if another") % words,
                required=False,
                min_value=0,
                max_digits=9,
            )

    def counted(self) -> list[Home]:
        said = self.cleaned_data
        return [
            Home(
                each.pk, said[f"home_{each.pk}"], said[f"gone_{each.pk}"] or 0, said[f"p_{each.pk}"]
            )
            for each in self.designs
        ]
