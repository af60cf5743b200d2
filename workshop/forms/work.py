"""Forms of hours, closed days and labour rates: one by one, a week at once, the usual steps."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, time
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from workshop import formats
from workshop.costs.minutes import employer_share
from workshop.form_fields import MoneyBox, NumberBox, PercentField
from workshop.forms.boxes import DayInput, TimeInput
from workshop.models import (
    BeadKind,
    ClosedDay,
    LabourRate,
    PreparedForm,
    Skill,
    StandingCost,
    Weekday,
    WorkingHours,
)
from workshop.usual import USUAL_STEPS, UsualStep

SHARE_PLACES = Decimal("0.00001")

Stretches = tuple[tuple[time, time], ...]
# Common practice, no source.
USUAL_WEEK: dict[int, Stretches] = dict.fromkeys(
    (day for day in Weekday if day < Weekday.SATURDAY),
    ((time(8), time(12)), (time(13), time(17))),
)


class HoursForm(forms.ModelForm):
    class Meta:
        model = WorkingHours
        fields = ["weekday", "opens", "closes"]
        widgets = {"opens": TimeInput(), "closes": TimeInput()}


class ClosedDayForm(forms.ModelForm):
    class Meta:
        model = ClosedDay
        fields = ["day", "why"]
        widgets = {"day": DayInput()}


class LabourRateForm(forms.ModelForm):
    allowance = PercentField(label=_("allowance, %"), max_value=300)
    hourly = MoneyBox(label=_("pay by the hour"))
    piece = MoneyBox(label=_("pay by the piece"), required=False)
    kind = forms.ChoiceField(
        label=_("only for beads of kind"),
        required=False,
        choices=[("", _("every kind")), *BeadKind.choices],
    )
    form = forms.ChoiceField(
        label=_("only for glass made to"),
        required=False,
        choices=[("", _("chunks and powder alike")), *PreparedForm.choices],
        help_text=_("For preparing glass: breaking to chunks is not pounding to powder."),
    )
    as_meant = forms.BooleanField(label=_("yes, this pay is meant"), required=False)

    class Meta:
        model = LabourRate
        fields = [
            "step",
            "skill",
            "basis",
            "kind",
            "form",
            "minutes_each",
            "setup_min",
            "allowance",
            "hourly",
            "piece",
            "valid_from",
        ]
        widgets = {"valid_from": DayInput()}

    ODD_HOURLY = 10_000

    @property
    def asked_boxes(self) -> list[forms.BoundField]:
        """The tick for odd pay is asked only where the pay is odd."""
        tick = self["as_meant"]
        return [
            box
            for box in self.visible_fields()
            if box.name != tick.name or tick.errors or tick.value()
        ]

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        hourly, piece = said.get("hourly"), said.get("piece")
        if said.get("form") and said.get("skill") != Skill.PREPARING:
            self.add_error("form", _("Only preparing glass has a form; leave it empty here."))
        if hourly is None or said.get("as_meant"):
            return said
        if hourly >= self.ODD_HOURLY or (hourly == 0 and piece is None):
            self.add_error(
                "as_meant",
                _("Pay of %(pay)s an hour is unusual. Tick this if it is meant, or correct it.")
                % {"pay": formats.money(hourly)},
            )
        return said


class StandingCostForm(forms.ModelForm):
    """What the workshop costs beside glass, fuel and pay."""

    employer_share = PercentField(
        label=_("employer’s share, % of pay"),
        max_value=300,
        help_text=_(
            "Social charges, holidays and sick pay, on top of pay for hours worked. Left empty: "
            "worked out from the three boxes below."
        ),
        required=False,
    )
    contributions = PercentField(
        label=_("employer’s contributions, % of gross pay"), max_value=200, required=False
    )
    paid_hours = NumberBox(
        label=_("hours paid in a year"),
        min_value=Decimal(1),
        max_value=Decimal(9000),
        required=False,
        help_text=_("With holidays and sick days, of one hand: 52 weeks of 40 hours are 2080."),
    )
    worked_hours = NumberBox(
        label=_("of them worked"),
        min_value=Decimal(1),
        max_value=Decimal(9000),
        required=False,
        help_text=_("Both left empty where hands are paid for hours worked only."),
    )
    workshop_month = MoneyBox(
        label=_("workshop costs of a month"),
        min_value=Decimal(0),
        help_text=_("Rent, insurance, water, tools, depreciation; no office, no selling."),
    )
    office_month = MoneyBox(
        label=_("office and selling in a month"),
        min_value=Decimal(0),
        help_text=_("Never part of what goods cost; it stands in the month’s account."),
    )

    class Meta:
        model = StandingCost
        fields = [
            "valid_from",
            "employer_share",
            "contributions",
            "paid_hours",
            "worked_hours",
            "workshop_month",
            "usual_minutes",
            "office_month",
        ]
        widgets = {"valid_from": DayInput()}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.stood = self.instance.employer_share if self.instance.pk else None

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if not self.errors:
            self._find_share(said)
        return said

    def _find_share(self, said: dict[str, Any]) -> None:
        """The employer's share: as typed, else from contributions and hours."""
        paid, worked = said["paid_hours"], said["worked_hours"]
        if (paid is None) != (worked is None):
            missing = "worked_hours" if worked is None else "paid_hours"
            self.add_error(missing, _("Write both, the hours paid and those of them worked."))
        elif paid is not None and worked is not None and worked > paid:
            self.add_error("worked_hours", _("No more hours can be worked than are paid."))
        elif paid is None and said["contributions"] is None:
            if said["employer_share"] is None:
                self.add_error(
                    "employer_share", _("Write the share, or the contributions below; 0 if none.")
                )
        elif said["employer_share"] not in {None, self.stood}:
            self.add_error(
                "employer_share",
                _("Write either the share or the boxes below it, and leave the other empty."),
            )
        else:
            share = employer_share(
                paid or Decimal(1), worked or Decimal(1), said["contributions"] or Decimal(0)
            )
            said["employer_share"] = self.instance.employer_share = share.quantize(SHARE_PLACES)


class HoursOfDaysForm(forms.Form):
    """Days with the same hours: when work begins and ends, and once more after a pause."""

    days = forms.TypedMultipleChoiceField(
        label=_("Days"),
        choices=Weekday.choices,
        coerce=int,
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    opens = forms.TimeField(label=_("From"), required=False, widget=TimeInput())
    closes = forms.TimeField(label=_("To"), required=False, widget=TimeInput())
    opens_again = forms.TimeField(label=_("And again from"), required=False, widget=TimeInput())
    closes_again = forms.TimeField(label=_("To"), required=False, widget=TimeInput())

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if self.errors or not said.get("days"):
            return said
        for opens, closes in (("opens", "closes"), ("opens_again", "closes_again")):
            if said[opens] is None and said[closes] is None and opens != "opens":
                continue
            if said[opens] is None:
                self.add_error(opens, _("Write when work begins."))
            elif said[closes] is None:
                self.add_error(closes, _("Write when work ends."))
            elif said[opens] >= said[closes]:
                self.add_error(closes, _("Work must end after it begins."))
        again = said["opens_again"]
        if again and said["closes"] and again <= said["closes"] and not self.errors:
            self.add_error("opens_again", _("Work goes on after the pause, not within it."))
        return said

    @property
    def is_spare(self) -> bool:
        """Whether it began without days: the set in which other days may be written."""
        return not self.initial

    def stretches(self) -> Stretches:
        said = self.cleaned_data
        pairs = ((said["opens"], said["closes"]), (said["opens_again"], said["closes_again"]))
        return tuple(pair for pair in pairs if pair[0] is not None)


class BaseWeek(forms.BaseFormSet):
    """A week as a few sets of days that have the same hours."""

    def clean(self) -> None:
        if any(form.errors for form in self.forms):
            return
        seen: set[int] = set()
        for form in self.forms:
            days = set(form.cleaned_data.get("days") or [])
            if twice := sorted(seen & days):
                raise ValidationError(
                    _("%(day)s is ticked twice; leave it with one set of hours.")
                    % {"day": Weekday(twice[0]).label}
                )
            seen |= days
        if not seen:
            raise ValidationError(
                _("Tick at least one day; without hours no date can be promised.")
            )

    def week(self) -> dict[int, Stretches]:
        return {
            day: form.stretches()
            for form in self.forms
            for day in form.cleaned_data.get("days", ())
        }


WeekForm = forms.formset_factory(
    HoursOfDaysForm, formset=BaseWeek, extra=0, max_num=7, absolute_max=7
)


def week_of(hours: Iterable[WorkingHours]) -> dict[int, list[tuple[time, time]]]:
    """Stretches by day, earliest first."""
    week: dict[int, list[tuple[time, time]]] = {}
    for row in sorted(hours, key=lambda row: (row.weekday, row.opens)):
        week.setdefault(Weekday(row.weekday), []).append((row.opens, row.closes))
    return week


def week_rows(week: Mapping[int, Sequence[tuple[time, time]]]) -> list[dict[str, Any]]:
    """The sets of days a week consists of, for `WeekForm`; an empty one stands last."""
    by_hours: dict[Stretches, list[int]] = {}
    for day, stretches in week.items():
        by_hours.setdefault(tuple(stretches), []).append(day)
    rows: list[dict[str, Any]] = []
    for hours, days in by_hours.items():
        boxes = [moment for stretch in hours for moment in stretch]
        names = ("opens", "closes", "opens_again", "closes_again")
        rows.append({"days": days, **dict(zip(names, boxes, strict=False))})
    return [*rows, {}][:7]


@dataclass(frozen=True)
class StepRow:
    """A usual step as the page lists it: its tick and minutes, or that it is there already."""

    step: UsualStep
    unit: str
    tick: forms.BoundField | None = None
    minutes: forms.BoundField | None = None


class UsualRatesForm(forms.Form):
    """The usual steps with their minutes; what an hour is paid, for all or by skill."""

    hourly = MoneyBox(
        label=_("pay by the hour"),
        min_value=Decimal(0),
        help_text=_("For every skill that has no pay of its own below."),
    )

    def __init__(self, *args: Any, there: set[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.there = there
        self.steps = [step for step in USUAL_STEPS if (str(step.name), step.kind) not in there]
        for step in self.steps:
            self.fields[f"{step.key}-use"] = forms.BooleanField(
                label=step.name, required=False, initial=True
            )
            self.fields[f"{step.key}-minutes"] = NumberBox(
                label=_("minutes"),
                required=False,
                min_value=Decimal(0),
                max_value=Decimal(10_000),
                decimal_places=4,
                initial=step.minutes,
            )
        for skill in Skill:
            if any(step.skill == skill for step in self.steps):
                self.fields[f"pay-{skill}"] = MoneyBox(
                    label=format_lazy(_("pay for {skill}"), skill=skill.label),
                    min_value=Decimal(0),
                    required=False,
                )

    def rows(self) -> list[StepRow]:
        units = dict(LabourRate.Basis.choices)
        return [
            StepRow(step, units[step.basis], self[f"{step.key}-use"], self[f"{step.key}-minutes"])
            if step in self.steps
            else StepRow(step, units[step.basis])
            for step in USUAL_STEPS
        ]

    def pay_boxes(self) -> list[forms.BoundField]:
        return [self[name] for name in self.fields if name.startswith("pay-")]

    @property
    def pay_open(self) -> bool:
        return any(box.errors or box.value() for box in self.pay_boxes())

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        used = [step for step in self.steps if said.get(f"{step.key}-use")]
        for step in used:
            box = f"{step.key}-minutes"
            if box not in self.errors and said.get(box) is None:
                self.add_error(box, _("Write the minutes of this step, or untick it."))
        if not used:
            raise ValidationError(_("Tick at least one step."))
        return said

    def rates(self, since: date) -> list[LabourRate]:
        """The steps that are ticked, as rates from a day on."""
        said = self.cleaned_data
        return [
            LabourRate(
                step_id=str(step.name),
                skill=step.skill,
                basis=step.basis,
                kind=step.kind,
                minutes_each=said[f"{step.key}-minutes"],
                setup_min=step.setup_min,
                allowance=step.allowance,
                hourly=_first(said[f"pay-{step.skill}"], said["hourly"]),
                valid_from=since,
            )
            for step in self.steps
            if said[f"{step.key}-use"]
        ]


def _first(own: Decimal | None, for_all: Decimal) -> Decimal:
    return for_all if own is None else own
