"""What the days of the invented workshop carry along."""

from dataclasses import dataclass, field
from datetime import date, datetime, time
from random import Random
from zoneinfo import ZoneInfo

from orders.demo.clock import clock_at
from orders.demo.firing import Waiting
from orders.models import Customer, StrandDesign
from stock.models import (
    Bead,
    Collector,
    GlassColour,
)
from workshop.models import BeadKind, Business, Person


@dataclass
class Story:
    """What the days carry along: the dice, the people, and what is on the benches."""

    today: date
    dice: Random = field(default_factory=lambda: Random(1874))
    drying: list[Waiting] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.business = Business.current()
        self.zone = ZoneInfo(self.business.time_zone)
        people = {person.role: person for person in Person.objects.all()}
        self.owner, self.counter = people["owner"], people["counter"]
        self.yard, self.kiln, self.bench = people["yard"], people["kiln"], people["bench"]
        self.colours = {colour.name: colour for colour in GlassColour.objects.all()}
        self.beads = list(Bead.objects.select_related("mould", "programme").order_by("pk"))
        self.designs = list(StrandDesign.objects.listed().order_by("pk"))
        self.remade = set(
            StrandDesign.objects.filter(parts__bead__kind=BeadKind.REMADE).values_list(
                "pk", flat=True
            )
        )
        self.customers = list(Customer.objects.order_by("pk"))
        self.collectors = list(Collector.objects.order_by("pk"))

    def at(self, day: date, hour: int):
        return clock_at(datetime.combine(day, time(hour), self.zone))
