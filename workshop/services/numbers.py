"""Numbers that rise without a gap, one series per kind of thing."""

from datetime import date

from django.db import transaction

from workshop.models import NumberPattern, NumberSequence
from workshop.services.clock import refuse_doubtful_day


def take_number(kind: str, *, year: int = 0) -> int:
    """The next number of a series; kept only if the surrounding transaction is."""
    return take_numbers(kind, 1, year=year)[0]


@transaction.atomic(savepoint=False)
def take_numbers(kind: str, count: int, *, year: int = 0) -> range:
    """The next `count` numbers of a series; kept only if the surrounding transaction is.

    The counter row is changed by one UPDATE, so two takers wait for each other and a
    rolled-back taker gives its numbers back.
    """
    series, _made = NumberSequence.objects.get_or_create(kind=kind, year=year)
    return series.take_numbers(count)


def next_number(kind: str, on: date) -> tuple[int, int, str]:
    """Year, place in the series and printed number of a paper issued on a day.

    A series of year 0 runs on for ever.
    """
    refuse_doubtful_day()
    series = {each.year: each for each in NumberSequence.objects.filter(kind=kind)}
    year = 0 if 0 in series else on.year
    own = series.get(year)
    sequence = own.take_numbers(1)[0] if own else take_number(kind, year=year)
    return year, sequence, NumberPattern.of(kind).written(year, sequence)
