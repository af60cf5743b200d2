"""The hands at the bench, what each can do, and the minutes of theirs that are promised already."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Q, Sum

from orders.floor.open_days import OpenDays
from orders.models import BenchShare, Order, Stage
from workshop.models import Person, Role, Skill

BENCH_SKILLS = tuple(skill.value for skill in Skill if skill != Skill.FIRING)
ANYTHING = "hands"  # a hand for whom nothing is ticked does every kind of bench work

# Until an order has come to this stage, its minutes of a skill are work still to be done.
DONE_AT = {
    Skill.PREPARING: Stage.GLASS,
    Skill.MOULDING: Stage.MOULDED,
    Skill.PAINTING: Stage.FIRED,
    Skill.PIERCING: Stage.FINISHED,
    Skill.POLISHING: Stage.FINISHED,
    Skill.STRINGING: Stage.STRUNG,
}


@dataclass(frozen=True)
class Hands:
    """Groups of bench hands who can do the same things.

    count   how many hands are in each group
    able    by skill, the groups that can do it; those who can do least besides come first
    """

    count: Mapping[str, int]
    able: Mapping[str, tuple[str, ...]]

    @property
    def all(self) -> int:
        return sum(self.count.values())

    def free(self, days: OpenDays, first_day: date, ahead: int) -> dict[tuple[int, str], float]:
        """Hand minutes by (day from the first, group), nothing promised yet."""
        found = {}
        for number in range(ahead):
            minutes = days.minutes(first_day + timedelta(days=number))
            for group, count in self.count.items():
                found[number, group] = float(minutes * count)
        return found


def bench_hands() -> Hands:
    """Everybody at the bench by what they do there (1 query).

    A skill that nobody is ticked for is done by anybody, and an empty bench counts as one hand.
    """
    people = Person.objects.filter(role=Role.BENCH, is_active=True).values_list("skills", flat=True)
    return hands_of(people)


def hands_of(people: Iterable[Iterable[str]]) -> Hands:
    """
    >>> hands_of([["painting"], []]).able["painting"]
    ('painting', 'hands')
    """
    count: dict[str, int] = {}
    skills: dict[str, tuple[str, ...]] = {}
    for ticked in people:
        chosen = tuple(sorted(ticked or ()))
        group = ",".join(chosen) or ANYTHING
        skills[group] = chosen or BENCH_SKILLS
        count[group] = count.get(group, 0) + 1
    if not count:
        return Hands({ANYTHING: 1}, dict.fromkeys(BENCH_SKILLS, (ANYTHING,)))
    by_width = sorted(count, key=lambda group: (len(skills[group]), group))
    able = {}
    for skill in BENCH_SKILLS:
        groups = tuple(group for group in by_width if skill in skills[group])
        able[skill] = groups or tuple(by_width)
    return Hands(count, able)


def promised_minutes(order: Order | None = None) -> list[tuple[date, str, int]]:
    """Bench minutes promised to open orders and not worked yet: day, skill, minutes (1 query).

    order  one whose own minutes do not count, because it is being asked about
    """
    undone = Q()
    for skill, stage in DONE_AT.items():
        undone |= Q(skill=skill, order__stage__lt=stage)
    rows = BenchShare.objects.filter(undone, order__state=Order.State.CONFIRMED)
    if order is not None and order.pk:
        rows = rows.exclude(order=order.pk)
    return list(
        rows.order_by("day", "skill")
        .values("day", "skill")
        .annotate(sum=Sum("minutes"))
        .values_list("day", "skill", "sum")
    )
