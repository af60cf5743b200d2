"""Forms of the kiln: lighting a load and logging it."""

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.http import QueryDict
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from orders.firing.queries.piercing import is_pierced
from orders.firing.queries.trays import most_ready, moulds_in_kilns, not_ready
from orders.firing.services.log import (
    TO_GLASS,
    TO_REMAKE,
    TrayIn,
    TrayOut,
    count_problem,
    first_out_at,
    run_step,
)
from orders.models import Finding
from stock.models import KilnLoad, LoadTray, RejectCause
from stock.services.moulds import too_many_gone
from stock.services.rejects import too_many_causes
from workshop import formats
from workshop.form_fields import CountField, NumberBox, minutes_field, whole_field
from workshop.formats import decimal_mark
from workshop.models import Mould, Person, Role
from workshop.physics.units import UnitError, parse_litres

TO_BENCH, TO_SHELF = "bench", "shelf"
HOTTEST_C = 1400


class MomentInput(forms.DateTimeInput):
    """A day and a time by the workshop's clock."""

    input_type = "datetime-local"

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(format="%Y-%m-%dT%H:%M", **kwargs)


def moment_field(**kwargs: Any) -> forms.DateTimeField:
    wrong = _("Write a day and a time, such as 2026-11-25 14:30.")
    return forms.DateTimeField(
        widget=MomentInput(),
        input_formats=["%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S", "%Y-%m-%d %H:%M"],
        error_messages={"invalid": wrong, "required": wrong},
        **kwargs,
    )


def degrees_field(**kwargs: Any) -> forms.IntegerField:
    words = {
        "invalid": _("Write the temperature in whole degrees Celsius, such as 720."),
        "required": _("Write the temperature in whole degrees Celsius, such as 720."),
        "min_value": _("That is colder than a room; write a temperature from 20 to 1400 °C."),
        "max_value": _("No kiln here gets so hot; write a temperature from 20 to 1400 °C."),
    }
    return whole_field(20, HOTTEST_C, words, **kwargs)


def litre_of(fuel: str) -> Decimal | None:
    """What a litre of a fuel weighs, in kilograms, where it is bought as a liquid (1 query)."""
    rows = Finding.objects.filter(kind=Finding.Kind.FUEL, fuel=fuel, kg_per_litre__isnull=False)
    return rows.values_list("kg_per_litre", flat=True).first()


GRAM = Decimal("0.001")  # in kilograms


class FuelField(NumberBox):
    """Fuel as it was weighed or read off; a unit may stand by."""

    def __init__(
        self, *, unit: str = "kg", kg_per_litre: Decimal | None = None, **kwargs: Any
    ) -> None:
        self.unit, self.kg_per_litre = unit, kg_per_litre
        words = {
            "invalid": _("Write the fuel in figures, such as 12.5."),
            "min_value": _("Fuel cannot be below 0; write what was weighed, such as 12.5."),
            "max_value": _("That is more than any load burns here; write at most 50,000."),
            "max_digits": _("Write the fuel with at most 8 figures, such as 12.5."),
            "max_decimal_places": _("Write the fuel with at most three decimals, such as 12.5."),
            "max_whole_digits": _("That is more than any load burns here; write at most 50,000."),
        }
        super().__init__(
            min_value=Decimal(0), max_value=Decimal(50_000), max_digits=8, decimal_places=3,
            error_messages=words, **kwargs,
        )  # fmt: skip

    def to_python(self, value: Any) -> Decimal | None:
        if isinstance(value, str) and self.kg_per_litre and value.strip()[-1:] in ("l", "L"):
            try:
                litres = parse_litres(value, decimal_mark=decimal_mark())
            except UnitError as error:
                raise ValidationError(error.said(gettext)) from error
            return super().to_python((litres * self.kg_per_litre).quantize(GRAM))
        return super().to_python(
            value.strip().removesuffix(self.unit) if isinstance(value, str) else value
        )


def now_to_the_minute() -> datetime:
    return timezone.localtime().replace(second=0, microsecond=0)


class VersionedForm(forms.Form):
    """A form that remembers which state of the load it was opened on."""

    version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def seen_version(self) -> int:
        """The version the keeper saw; without one, none that there is."""
        seen = self.cleaned_data.get("version")
        return UNSEEN if seen is None else seen


UNSEEN = -1


def version_in(data: QueryDict) -> int:
    """The version that a page without boxes says the keeper saw."""
    seen = VersionedForm(data)
    return seen.seen_version() if seen.is_valid() else UNSEEN


class OnceAsked(VersionedForm):
    """A form that asks once about what is unusual; its box stands there only when it does."""

    as_meant = forms.BooleanField(label=_("yes, it is so"), required=False)

    @property
    def asked_box(self) -> forms.BoundField | None:
        tick = self["as_meant"]
        return tick if tick.errors or tick.value() else None

    def ask_once(self, sentence: str) -> None:
        if not self.cleaned_data.get("as_meant"):
            self.add_error("as_meant", sentence)


class StartForm(OnceAsked):
    """Which trays really go in, and how many beads of each."""

    signs = {"beads": "beads", "at": "hour"}

    at = moment_field(label=_("Lit at"))

    def __init__(
        self, *args: Any, trays: Sequence[LoadTray], joins: bool = False, **kwargs: Any
    ) -> None:
        """joins  a round of a kiln that is hot already"""
        super().__init__(*args, **kwargs)
        if joins:
            self.fields["at"].label = _("Kiln opened at")
        self.trays = list(trays)
        self.problems = {tray.pk: not_ready(tray) for tray in self.trays}
        for tray in self.trays:
            self.fields[f"beads_{tray.pk}"] = CountField(
                label=_("Beads of %(bead)s") % {"bead": tray.bead},
                smallest=0,
                largest=tray.moulds * tray.bead.mould.cavities + tray.beads,
                initial="0" if self.problems[tray.pk] else str(most_ready(tray)),
            )

    def rows(self) -> list[dict[str, Any]]:
        return [
            {
                "tray": tray,
                "field": self[f"beads_{tray.pk}"],
                "problem": self.problems[tray.pk],
                "orders": [share.job.order for share in tray.shares.all()],
            }
            for tray in self.trays
        ]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        fills: dict[Mould, int] = {}
        for tray in self.trays:
            mould, beads = tray.bead.mould, data.get(f"beads_{tray.pk}") or 0
            fills[mould] = fills.get(mould, 0) - (-beads // mould.cavities)
        kilns = {tray.load.kiln_id for tray in self.trays}
        elsewhere = moulds_in_kilns(fills, besides=kilns)
        for mould, filled in fills.items():
            away = elsewhere.get(mould.pk, 0)
            if filled and filled + away > mould.owned:
                self.ask_once(too_many_moulds(mould, filled, away))
        return data

    def going_in(self) -> list[TrayIn]:
        return [TrayIn(tray, self.cleaned_data[f"beads_{tray.pk}"]) for tray in self.trays]


def too_many_moulds(mould: Mould, filled: int, away: int) -> str:
    words = {"mould": mould, "filled": filled, "owned": mould.owned, "away": away}
    if away:
        return (
            _(
                "%(mould)s: %(filled)s go in and %(away)s stand in another kiln, but you own "
                "%(owned)s. Write fewer beads, or tick this if there are more moulds by now."
            )
            % words
        )
    return (
        _(
            "%(mould)s: %(filled)s go in, but you own %(owned)s. Write fewer beads, or tick this "
            "if there are more moulds by now."
        )
        % words
    )


class PiercedForm(VersionedForm):
    """Who pierced a round, until when; its beads are counted when they are cold."""

    def __init__(self, *args: Any, load: KilnLoad, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.load = load
        self.fields |= piercing_fields(required=True)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        check_piercing(self, data)
        return data


def piercing_fields(*, required: bool) -> dict[str, forms.Field]:
    """When the last bead was pierced, and the hands that pierced."""
    people = Person.objects.filter(is_active=True, role__in=(Role.BENCH, Role.KILN))
    return {
        "pierced_until": moment_field(
            label=_("Pierced until"),
            required=required,
            help_text=_("When the last bead was done; the minutes of the hands are paid by it."),
        ),
        "pierced_by": forms.ModelMultipleChoiceField(
            people,
            label=_("Pierced by"),
            required=required,
            widget=forms.CheckboxSelectMultiple,
            error_messages={"required": _("Tick who pierced; nobody pierces without hands.")},
        ),
    }


def check_piercing(form: Any, data: dict[str, Any]) -> None:
    """Hands and an end go together, and no bead is pierced before the first mould is out."""
    until, hands = data.get("pierced_until"), data.get("pierced_by")
    if hands and not until and "pierced_until" not in form.errors:
        form.add_error("pierced_until", _("Write when the last bead was pierced."))
    if until and not hands and "pierced_by" not in form.errors:
        form.add_error("pierced_by", _("Tick who pierced; nobody pierces without hands."))
    if until and until < first_out_at(form.load):
        form.add_error(
            "pierced_until",
            _("The first mould came out at %(first)s; write a time after that.")
            % {"first": formats.time_short(timezone.localtime(first_out_at(form.load)))},
        )


class EndForm(OnceAsked):
    """What the kiln did, and what came out of each tray."""

    signs = {
        "good": "beads", "all": "good", "rejected": "broken", "gone": "gone", "ended_at": "hour",
    }  # fmt: skip

    ended_at = moment_field(label=_("Cooled and opened at"))
    peak_c = degrees_field(label=_("Hottest measured, °C"), required=False)
    held_min = minutes_field(label=_("Minutes held"), required=False)
    fuel_used = FuelField(label=_("Fuel weighed"), required=False)
    tended_min = minutes_field(label=_("Minutes you tended it"), required=False)
    beads_go = forms.ChoiceField(
        label=_("The good beads go"),
        choices=[
            (TO_BENCH, _("to the bench, to be polished and sorted")),
            (TO_SHELF, _("to the shelf: polished and sorted already")),
        ],
        widget=forms.RadioSelect,
        initial=TO_BENCH,
    )
    rejects_to = forms.ChoiceField(
        label=_("Rejects sorted out go"),
        choices=[(TO_REMAKE, _("to rejects for remade beads")), (TO_GLASS, _("to raw glass"))],
        widget=forms.RadioSelect,
        initial=TO_REMAKE,
    )
    note = forms.CharField(label=_("Note"), max_length=200, required=False)

    def __init__(
        self, *args: Any, trays: Sequence[LoadTray], load: KilnLoad, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.trays = list(trays)
        self.load, kiln = load, load.kiln
        if run_step(load):
            self.fields["lit_min"] = minutes_field(
                label=_("Minutes of lighting and warming up"), required=False
            )
            self.fields["tended_min"].label = _("Minutes you tended this round")
        if kiln.is_kept_hot:
            self._of_a_round()
        unit = "kWh" if kiln.fuel == "electricity" else "kg"
        label = _("Fuel used, %(unit)s") % {"unit": unit}
        if kiln.is_kept_hot:
            label = _("Fuel of the whole run, %(unit)s") % {"unit": unit}
        self.fields["fuel_used"] = FuelField(
            unit=unit, kg_per_litre=litre_of(kiln.fuel), label=label, required=False
        )
        for tray in self.trays:
            words = {"bead": tray.bead}
            # Empty at first: what was not counted is not good.
            self.fields[f"good_{tray.pk}"] = CountField(
                label=_("%(bead)s: good") % words, smallest=0, required=False
            )
            self.fields[f"all_{tray.pk}"] = forms.BooleanField(
                label=_("All %(beads)s good") % {"beads": tray.beads}, required=False
            )
            self.fields[f"rejected_{tray.pk}"] = CountField(
                label=_("%(bead)s: rejects") % words, smallest=0, required=False, initial="0"
            )
            self.fields[f"gone_{tray.pk}"] = CountField(
                label=_("%(bead)s: gone altogether") % words, smallest=0, required=False,
                initial="0",
            )  # fmt: skip
            self.fields[f"breakage_{tray.pk}"] = forms.CharField(
                label=_("%(bead)s: what went wrong") % words, max_length=80, required=False
            )
            for cause, label in RejectCause.choices:
                self.fields[f"{cause}_{tray.pk}"] = CountField(
                    label=label, smallest=0, required=False
                )
        self.moulds = {tray.bead.mould.pk: tray.bead.mould for tray in self.trays}
        for mould in self.moulds.values():
            self.fields[f"mould_{mould.pk}"] = CountField(
                label=mould.name, smallest=0, largest=1000, required=False
            )

    @property
    def mould_boxes(self) -> list[forms.BoundField]:
        return [self[f"mould_{key}"] for key in self.moulds]

    @property
    def moulds_open(self) -> bool:
        return any(box.errors or box.value() for box in self.mould_boxes)

    def moulds_gone(self) -> dict[int, int]:
        """How many of which mould broke or wore out, by mould key."""
        said = {key: self.cleaned_data.get(f"mould_{key}") or 0 for key in self.moulds}
        return {key: count for key, count in said.items() if count}

    def _check_moulds(self) -> None:
        for key, count in self.moulds_gone().items():
            if count > self.moulds[key].owned:
                self.add_error(f"mould_{key}", too_many_gone(self.moulds[key], count))

    @property
    def fire_boxes(self) -> list[forms.BoundField]:
        names = ("peak_c", "held_min", "fuel_used", "lit_min", "tended_min")
        return [self[name] for name in names if name in self.fields]

    def _of_a_round(self) -> None:
        """Out of a hot kiln: when, and who pierced until when."""
        self.fields["ended_at"].label = _("Beads cold and counted at")
        told = self.load.pierced_until is not None
        if told or not any(is_pierced(tray) for tray in self.trays):
            return
        self.fields |= piercing_fields(required=False)

    @property
    def pierced_boxes(self) -> list[forms.BoundField]:
        return [self[name] for name in ("pierced_until", "pierced_by") if name in self.fields]

    def rows(self) -> list[dict[str, Any]]:
        return [
            {
                "tray": tray,
                "good": self[f"good_{tray.pk}"],
                "all": self[f"all_{tray.pk}"],
                "rejected": self[f"rejected_{tray.pk}"],
                "gone": self[f"gone_{tray.pk}"],
                "breakage": self[f"breakage_{tray.pk}"],
                "causes": self._cause_boxes(tray),
                "causes_open": any(box.errors or box.value() for box in self._cause_boxes(tray)),
                "orders": [share.job.order for share in tray.shares.all()],
            }
            for tray in self.trays
        ]

    def _cause_boxes(self, tray: LoadTray) -> list[forms.BoundField]:
        return [self[f"{cause}_{tray.pk}"] for cause in RejectCause.values]

    def _check_causes(self, out: TrayOut) -> None:
        """No more rejects have a cause than were counted."""
        named, lost = sum(out.causes.values()), out.rejected + out.gone
        if named > lost:
            first = next(cause for cause, beads in out.causes.items() if beads)
            self.add_error(f"{first}_{out.tray.pk}", too_many_causes(named, lost))

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        for out in self.came_out():
            counted = ("good", "rejected", "gone", "breakage", *RejectCause.values)
            boxes = [f"{part}_{out.tray.pk}" for part in counted]
            if self.errors.keys() & set(boxes):
                continue
            if data.get(f"good_{out.tray.pk}") is None and not data.get(f"all_{out.tray.pk}"):
                self.add_error(
                    f"good_{out.tray.pk}",
                    _("Write how many came out good, or tick “All %(beads)s good”.")
                    % {"beads": out.tray.beads},
                )
                continue
            found = out.good + out.rejected + out.gone
            if found != out.tray.beads:
                self.add_error(f"good_{out.tray.pk}", count_problem(out, found))
            self._check_causes(out)
            lost = out.rejected + out.gone
            if lost * 2 > out.tray.beads and not out.breakage:
                self.add_error(
                    f"breakage_{out.tray.pk}",
                    _("More than half of this tray failed; write what went wrong."),
                )
        check_piercing(self, data)
        self._check_moulds()
        if data.get("held_min") == 0:
            self.ask_once(
                _("0 minutes held is no firing. Correct it, leave it empty, or tick this.")
            )
        return data

    def _good(self, tray: LoadTray) -> int:
        """As counted, else all of them where that is ticked."""
        counted = self.cleaned_data.get(f"good_{tray.pk}")
        if counted is None and self.cleaned_data.get(f"all_{tray.pk}"):
            return tray.beads
        return counted or 0

    def came_out(self) -> list[TrayOut]:
        data = self.cleaned_data
        return [
            TrayOut(
                tray,
                self._good(tray),
                data.get(f"rejected_{tray.pk}") or 0,
                data.get(f"gone_{tray.pk}") or 0,
                data.get(f"breakage_{tray.pk}") or "",
                {cause: data.get(f"{cause}_{tray.pk}") or 0 for cause in RejectCause.values},
            )
            for tray in self.trays
        ]


class SpoiltForm(VersionedForm):
    """A load that is lost."""

    why = forms.CharField(label=_("What went wrong"), max_length=80)
    glass = forms.ChoiceField(
        label=_("The beads"),
        choices=[
            ("kept", _("are rejects: their glass can be used again")),
            ("gone", _("are gone: melted to the shelf or swept up")),
        ],
        widget=forms.RadioSelect,
        initial="kept",
    )
    ended_at = moment_field(label=_("Opened at"))
    peak_c = degrees_field(label=_("Hottest, °C"), required=False)
