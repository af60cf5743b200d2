"""Minutes that one load of a kiln takes, in the parts they are made of.

A closed load: heat-up, hold and cooling, or the stretches of its whole curve where it soaks or its
own cooling was timed. A round in a kiln kept hot: change, turn of heat, hold, and its part of
warm-up and waiting of its run.
"""

from dataclasses import dataclass
from decimal import Decimal

from orders.costing.facts import KilnFacts, ProgrammeFacts
from orders.costing.numbers import ZERO
from workshop.physics.cycle import Stage, cycle_stages
from workshop.physics.sentences import PhysicsError, gettext_noop

HUNDREDTH = Decimal("0.01")

STAGE_WORDS = {
    "heat-up": gettext_noop("Heat-up"),
    "hold": gettext_noop("Minutes held"),
    "fall": gettext_noop("Fall to the soak"),
    "soak": gettext_noop("Soak"),
    "slow": gettext_noop("Slow cooling"),
    "cooling": gettext_noop("Cooling"),
}


@dataclass(frozen=True, slots=True)
class Part:
    """One stretch of a load. source: "kiln" or "programme", and the name of which."""

    name: str
    minutes: Decimal
    source: str
    subject: str


def parts_of_load(kiln: KilnFacts, programme: ProgrammeFacts) -> list[Part]:
    """What a load's minutes are made of; of a round without what it shares with its run."""
    held = Part(gettext_noop("Minutes held"), programme.minutes, "programme", programme.name)
    if kiln.usual is not None:
        found = [Part(gettext_noop("Changing moulds"), kiln.usual.change_min, "kiln", kiln.name)]
        if kiln.usual.turn_min:
            turn = gettext_noop("Usual turn of heat")
            found.append(Part(turn, kiln.usual.turn_min, "measured", kiln.name))
        return [*found, held]
    stages = _stages(kiln, programme)
    if stages is None:
        return [
            Part(gettext_noop("Preheat"), kiln.preheat_min, "kiln", kiln.name),
            held,
            Part(gettext_noop("Cooling"), kiln.cooling_min, "kiln", kiln.name),
        ]
    return [
        Part(
            STAGE_WORDS[stage.name],
            Decimal(str(stage.minutes)).quantize(HUNDREDTH),
            "programme" if stage.name in {"hold", "soak", "slow"} else "kiln",
            programme.name if stage.name in {"hold", "soak", "slow"} else kiln.name,
        )
        for stage in stages
    ]


def _stages(kiln: KilnFacts, programme: ProgrammeFacts) -> tuple[Stage, ...] | None:
    """The stretches of the whole curve; None where preheat, hold and cooling say it all."""
    closed = kiln.closed
    if closed is None or (
        programme.soak is None and closed.heat_c_per_min is None and closed.open_c is None
    ):
        return None
    try:
        return cycle_stages(
            closed, float(programme.temperature_c), float(programme.minutes), programme.soak
        )
    except PhysicsError:
        return None


def shared_min(kiln: KilnFacts) -> Decimal:
    """A round's part of warm-up and waiting of its run; 0 in a closed kiln."""
    if kiln.usual is None:
        return ZERO
    return (kiln.usual.warm_up_min + kiln.usual.waiting_min) / kiln.usual.rounds


def load_min(kiln: KilnFacts, programme: ProgrammeFacts) -> Decimal:
    """Minutes of one load or round, its part of the run included.

    Source: the sum of `parts_of_load` and `shared_min` (convention of the workshop).
    """
    own = sum((part.minutes for part in parts_of_load(kiln, programme)), ZERO)
    return own + shared_min(kiln)


def fire_on_min(kiln: KilnFacts, programme: ProgrammeFacts) -> Decimal:
    """Minutes of a load for which the fire is on: of a closed one to the end of hold or soak."""
    if kiln.usual is not None:
        return load_min(kiln, programme)
    total = on = ZERO
    for part in parts_of_load(kiln, programme):
        total += part.minutes
        if part.name in {STAGE_WORDS["hold"], STAGE_WORDS["soak"]}:
            on = total
    return on
