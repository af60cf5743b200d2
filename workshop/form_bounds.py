"""How far any number and any day may go, in every box of every form.

No box of a workshop needs more; past it, databases and calendars give way.
"""

from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext as _

from workshop import formats
from workshop.models.fields import LARGEST
from workshop.typed import LARGEST_WHOLE

FIRST_DAY = date(2000, 1, 1)
YEARS_AHEAD = 20


def bound_every_box() -> None:
    """Give Django's own boxes our bounds; before the first form is read in."""
    forms.IntegerField.default_validators = [within_reach]
    forms.DateField.default_validators = [within_sense]
    forms.DateTimeField.default_validators = [within_sense]


def within_reach(number: Any) -> None:
    """A number the book can keep: a whole one by its column, an amount by money's own bound."""
    most = LARGEST if isinstance(number, (Decimal, float)) else LARGEST_WHOLE
    if not -most <= number <= most:
        raise ValidationError(_("That is far more than can be; write a smaller number."))


def within_sense(day: date | datetime) -> None:
    """A day on which the workshop may have worked, or may yet."""
    on = day.date() if isinstance(day, datetime) else day
    last = timezone.localdate() + timedelta(days=366 * YEARS_AHEAD)
    if not FIRST_DAY <= on <= last:
        raise ValidationError(
            _("%(day)s cannot be meant; write a day between %(first)s and %(last)s.")
            % {
                "day": on.isoformat(),
                "first": formats.date_long(FIRST_DAY),
                "last": formats.date_long(last),
            }
        )
