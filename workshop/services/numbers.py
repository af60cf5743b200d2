"""Numbers that rise without a gap, one series per kind of thing."""

from datetime import date

from django.db import transaction

from workshop.models import NumberSequence
from workshop.services.clock import refuse_doubtful_day


def take_number(kind: str, *, year: int = 0, prefix: str = "") -> int:
    """The next number of a series; kept only if the surrounding transaction is."""
    return take_numbers(kind, 1, year=year, prefix=prefix)[0]


@transaction.atomic(savepoint=False)
def take_numbers(kind: str, count: int, *, year: int = 0, prefix: str = "") -> range:
    """The next `count` numbers of a series; kept only if the surrounding transaction is.

    The counter row is changed by one UPDATE, so two takers wait for each other and a
    rolled-back taker gives its numbers back.
    """
    series, _made = NumberSequence.objects.get_or_create(
        kind=kind, year=year, defaults={"prefix": prefix}
    )
    return series.take_numbers(count)


def next_number(kind: str, on: date, usual_prefix: str = "") -> tuple[int, int, str]:
    """Year, place in the series and printed number of a paper issued on a day.

    The owner's own prefix is carried over into a new year. A series of year 0 runs on for ever.
    """
    refuse_doubtful_day()
    series = list(NumberSequence.objects.filter(kind=kind).order_by("-year"))
    year = 0 if any(each.year == 0 for each in series) else on.year
    prefix = series[0].prefix if series else usual_prefix
    own = next((each for each in series if each.year == year), None)
    if own is None:
        sequence = take_number(kind, year=year, prefix=prefix)
    else:
        (sequence,) = own.take_numbers(1)
    printed = f"{prefix}{year}-{sequence:04d}" if year else f"{prefix}{sequence:04d}"
    return year, sequence, printed
