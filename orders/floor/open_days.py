"""Which days the workshop is open, for due dates and promises."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, time, timedelta
from functools import cached_property

from django.utils.translation import gettext as _

from orders.planning.instance import Span
from workshop import formats
from workshop.models import ClosedDay, WorkingHours

USUAL_HOURS = (time(8), time(16))  # until the owner writes the hours down: our choice
LONGEST_AHEAD = timedelta(days=5 * 366)


@dataclass(frozen=True)
class OpenDays:
    """Working hours of each weekday (0 Monday), in their order, and the days it is closed."""

    hours: Mapping[int, Sequence[tuple[time, time]]]
    closed: Mapping[date, str]

    @cached_property
    def _windows(self) -> dict[int, list[Span]]:
        if not self.hours:
            return {day: [_span(*USUAL_HOURS)] for day in range(7)}
        return {day: [_span(*each) for each in hours] for day, hours in self.hours.items()}

    @cached_property
    def _minutes(self) -> dict[int, int]:
        return {day: sum(b - a for a, b in spans) for day, spans in self._windows.items()}

    def windows(self, day: date) -> Sequence[Span]:
        """From opening to closing, in minutes of the day; none on a closed one."""
        return () if day in self.closed else self._windows.get(day.weekday(), ())

    def minutes(self, day: date) -> int:
        """Open minutes of a day."""
        return 0 if day in self.closed else self._minutes.get(day.weekday(), 0)

    def is_open(self, day: date) -> bool:
        return self.minutes(day) > 0

    def from_day(self, day: date) -> Iterator[date]:
        """Open days from `day` on, for a bit over two years at most."""
        for ahead in range(800):
            candidate = day + timedelta(days=ahead)
            if self.is_open(candidate):
                yield candidate

    def first_open(self, day: date) -> date:
        return next(self.from_day(day), day)

    def last_open_before(self, day: date) -> date | None:
        """The open day next before `day`, within a month."""
        return next(
            (
                day - timedelta(days=back)
                for back in range(1, 32)
                if self.is_open(day - timedelta(days=back))
            ),
            None,
        )


def open_days(since: date) -> OpenDays:
    """Working hours and closed days from `since` on (2 queries)."""
    hours: dict[int, list[tuple[time, time]]] = {}
    for row in WorkingHours.objects.order_by("weekday", "opens"):
        hours.setdefault(row.weekday, []).append((row.opens, row.closes))
    closed = dict(ClosedDay.objects.filter(day__gte=since).values_list("day", "why"))
    return OpenDays(hours, closed)


def _span(opens: time, closes: time) -> Span:
    return opens.hour * 60 + opens.minute, closes.hour * 60 + closes.minute


def due_problem(due_on: date, today: date, days: OpenDays) -> str:
    """The sentence that says why nothing can be collected on that day; "" when it can."""
    if due_on < today:
        return _("%(day)s has passed. Choose today, %(today)s, or a later day.") % {
            "day": formats.date_short(due_on),
            "today": formats.date_short(today),
        }
    if due_on - today > LONGEST_AHEAD:
        return _("%(day)s is more than five years away; look at the year again.") % {
            "day": formats.date_long(due_on)
        }
    if days.is_open(due_on):
        return ""
    before, after = days.last_open_before(due_on), days.first_open(due_on)
    why = days.closed.get(due_on)
    opening = (
        _("The workshop is closed on %(day)s (%(why)s).")
        if why
        else _("The workshop is closed on %(day)s.")
    ) % {"day": formats.date_short(due_on), "why": why}
    if before is not None and before >= today:
        choice = _("Choose %(before)s or %(after)s.")
    else:
        choice = _("Choose %(after)s.")
    return "{} {}".format(
        opening,
        choice
        % {
            "before": formats.date_short(before) if before else "",
            "after": formats.date_short(after),
        },
    )
