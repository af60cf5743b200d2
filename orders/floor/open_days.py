"""Which days the workshop is open, for due dates and promises."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta

from django.utils.translation import gettext as _

from workshop import formats
from workshop.models import ClosedDay, WorkingHours

LONGEST_AHEAD = timedelta(days=5 * 366)


@dataclass(frozen=True)
class OpenDays:
    """Minutes the workshop is open on each weekday (0 Monday), and the days it is closed."""

    minutes_by_weekday: dict[int, int]
    closed: dict[date, str]
    spans: dict[int, tuple[time, time]] = field(default_factory=dict)

    def minutes(self, day: date) -> int:
        """Open minutes of a day; a workshop without written hours is open for 8 hours a day."""
        if day in self.closed:
            return 0
        if not self.minutes_by_weekday:
            return 480
        return self.minutes_by_weekday.get(day.weekday(), 0)

    def span(self, day: date) -> tuple[time, time] | None:
        """First opening and last closing of a day; None on a closed one."""
        if not self.is_open(day):
            return None
        return self.spans.get(day.weekday(), (time(8), time(16)))

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
    minutes: dict[int, int] = {}
    spans: dict[int, tuple[time, time]] = {}
    for row in WorkingHours.objects.all():
        first, last = spans.get(row.weekday, (row.opens, row.closes))
        spans[row.weekday] = (min(first, row.opens), max(last, row.closes))
        opens = datetime.combine(since, row.opens)
        closes = datetime.combine(since, row.closes)
        length = int((closes - opens).total_seconds() // 60)
        minutes[row.weekday] = minutes.get(row.weekday, 0) + length
    closed = dict(ClosedDay.objects.filter(day__gte=since).values_list("day", "why"))
    return OpenDays(minutes, closed, spans)


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
