"""Minutes of the plan to moments and back, by the clock on the workshop's wall."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, tzinfo

from orders.planning.instance import DAY_MIN


@dataclass(frozen=True)
class Clock:
    """Minutes are counted from 00:00 of the first day; what was before it is below 0."""

    first_day: date
    zone: tzinfo

    def minute(self, moment: datetime) -> int:
        here = moment.astimezone(self.zone)
        return self.start_of(here.date()) + here.hour * 60 + here.minute

    def start_of(self, day: date) -> int:
        return (day - self.first_day).days * DAY_MIN

    def moment(self, minute: int) -> datetime:
        days, rest = divmod(minute, DAY_MIN)
        day = self.first_day + timedelta(days=days)
        return datetime.combine(day, time(rest // 60, rest % 60), self.zone)

    def day(self, minute: int) -> date:
        return self.first_day + timedelta(days=minute // DAY_MIN)
