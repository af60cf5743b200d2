"""Numbers that rise without a gap, one series per kind of thing."""

from django.db import transaction

from workshop.models import PaperSeries


@transaction.atomic
def take_number(kind: str, *, year: int = 0, prefix: str = "") -> int:
    """The next number of a series; kept only if the surrounding transaction is.

    The counter row is changed by one UPDATE, so two takers wait for each other and a
    rolled-back taker gives its number back.
    """
    series, _made = PaperSeries.objects.get_or_create(
        kind=kind, year=year, defaults={"prefix": prefix}
    )
    return series.take_number()
