"""Readings of a firing as people and loggers write them: pasted, or in a file."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

MOST_READINGS = 5000
HOTTEST_C = 1500
MOST_BYTES = 256 * 1024
CELSIUS, FAHRENHEIT = "C", "F"
DEGREES = ((CELSIUS, "°C"), (FAHRENHEIT, "°F"))


class CurveForm(forms.Form):
    """The readings of one load; a file goes into the box first, so that it can be put right."""

    degrees = forms.ChoiceField(
        label=gettext_lazy("degrees"), choices=DEGREES, initial=CELSIUS, required=False
    )
    readings = forms.CharField(
        label=gettext_lazy("readings"),
        max_length=MOST_BYTES,
        widget=forms.Textarea(attrs={"rows": 12, "autocomplete": "off", "spellcheck": "false"}),
        help_text=gettext_lazy(
            "One a line: minutes since it was lit, and degrees, such as “45, 720” or “0:45 720”."
        ),
        error_messages={
            "required": gettext_lazy("Write the readings, two or more, or choose a file of them."),
            "max_length": gettext_lazy("That is more text than a firing has; write every minute."),
        },
    )

    def clean_readings(self) -> list[tuple[float, float]]:
        unit = self.data.get("degrees", CELSIUS)
        readings = read_curve(self.cleaned_data["readings"], in_fahrenheit=unit == FAHRENHEIT)
        if len(readings) < 2:
            raise ValidationError(_("One reading makes no curve. Write at least two, one a line."))
        return readings


def text_of_file(sent: UploadedFile) -> str:
    """The text of a logger's file; raises ValidationError for one that is none."""
    if sent.size is None or sent.size > MOST_BYTES:
        raise ValidationError(
            _("%(file)s is larger than %(most)s kB. Save the readings alone as CSV, a minute each.")
            % {"file": sent.name, "most": MOST_BYTES // 1024}
        )
    raw = sent.read()
    for encoding in ("utf-16",) if raw[:2] in (b"\xff\xfe", b"\xfe\xff") else ("utf-8-sig",):
        try:
            text = raw.decode(encoding)
        except UnicodeDecodeError:
            text = raw.decode("latin-1")
    if "\0" in text or text.startswith(("PK", "%PDF")):
        raise ValidationError(
            _("%(file)s is no text. Save the readings as CSV: minute and degrees, one a line.")
            % {"file": sent.name}
        )
    return text


def read_curve(text: str, *, in_fahrenheit: bool = False) -> list[tuple[float, float]]:
    """(minute, °C) of each line; raises ValidationError that names the line that cannot be read.

    Parted by a comma, a semicolon, a tab or a space. A decimal comma is read where the two are
    not parted by one. Minutes may be written as hours and minutes, 1:30. A first line without
    figures is a heading. Of several readings in one minute the last counts.
    """
    readings: list[tuple[float, float]] = []
    for place, line in enumerate(text.splitlines(), 1):
        if not line.strip() or (not readings and not any(sign.isdecimal() for sign in line)):
            continue
        pair = _pair(line)
        if pair is None:
            raise ValidationError(
                _(
                    "Line %(place)s, “%(line)s”, is no reading. Write minute and °C, such as "
                    "“45, 720”."
                )
                % {"place": place, "line": line.strip()[:40]}
            )
        minute, heat = pair
        heat_c = round((heat - 32) / 1.8, 2) if in_fahrenheit else heat
        _check(place, minute, heat_c, readings)
        if readings and readings[-1][0] == minute:
            readings.pop()
        readings.append((minute, heat_c))
        if len(readings) > MOST_READINGS:
            raise ValidationError(
                _("That is more than %(most)s readings. Leave every second one out.")
                % {"most": MOST_READINGS}
            )
    if len(readings) == 1:
        raise ValidationError(_("One reading makes no curve. Write at least two, one a line."))
    return readings


def _check(place: int, minute: float, heat_c: float, before: list[tuple[float, float]]) -> None:
    if before and minute < before[-1][0]:
        raise ValidationError(
            _(
                "Line %(place)s is at minute %(minute)s and the one before at minute "
                "%(before)s. Put the readings in the order of time."
            )
            % {"place": place, "minute": f"{minute:g}", "before": f"{before[-1][0]:g}"}
        )
    # Written so that a NaN fails too.
    if not (0 <= minute <= 100_000 and -50 <= heat_c <= HOTTEST_C):
        raise ValidationError(
            _(
                "Line %(place)s says minute %(minute)s at %(heat)s °C, which no bead kiln "
                "does. Write minutes from 0 and degrees Celsius up to %(most)s."
            )
            % {"place": place, "minute": f"{minute:g}", "heat": f"{heat_c:g}", "most": HOTTEST_C}
        )


def _pair(line: str) -> tuple[float, float] | None:
    for sign in (";", "\t", None, ","):
        parts = [part.strip(' "°CF,') for part in line.split(sign) if part.strip(" ,")]
        if len(parts) == 2:
            try:
                return _minute(parts[0]), _number(parts[1])
            except ValueError:
                continue
    return None


def _minute(text: str) -> float:
    """Minutes, or hours and minutes (and seconds): 1:30 is 90."""
    hours, *rest = text.split(":")
    if not rest:
        return _number(text)
    minutes, *seconds = (_number(part) for part in rest)
    if len(seconds) > 1 or not (0 <= minutes < 60 and all(0 <= one < 60 for one in seconds)):
        raise ValueError(text)
    return _number(hours) * 60 + minutes + sum(seconds) / 60


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def as_text(readings: Any) -> str:
    """Readings for the box, one a line."""
    return "\n".join(f"{minute:g}, {heat_c:g}" for minute, heat_c in readings)
