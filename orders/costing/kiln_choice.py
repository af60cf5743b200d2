"""Which kiln a bead is fired in: the owner's choice, else the first hot and large enough."""

from orders.costing.checks import UNKNOWN, loss, number, plain, whole
from orders.costing.errors import CostingError
from orders.costing.facts import BeadFacts, KilnFacts, MouldFacts, ProgrammeFacts, WorkshopFacts
from workshop.physics.heat import heating_value_mj
from workshop.physics.sentences import gettext_noop

MOULD_TOO_BIG = gettext_noop(
    "The mould %(mould)s of %(subject)s takes %(places)s places and the largest kiln has "
    "%(most)s. Choose a smaller mould, or correct its places."
)
NO_KILN_THAT_HOT = gettext_noop(
    "%(subject)s is fired at %(temperature)s °C and no kiln reaches that: %(ranges)s. "
    "Choose another programme, or correct the kiln's range."
)
CHOSEN_KILN_UNFIT = gettext_noop(
    "%(subject)s cannot be fired in %(kiln)s, which holds %(places)s places from %(low)s to "
    "%(high)s °C: it needs %(needed)s places at %(temperature)s °C. Choose another kiln."
)
TOO_WET = gettext_noop(
    "The wood of %(subject)s holds %(percent)s %% water and gives no heat: drying it takes all it "
    "has. Correct the moisture, or write the fuel weighed for a load."
)
NO_KILNS = gettext_noop("There is no kiln in use, so nothing can be fired. Add a kiln first.")


def kiln_for(
    workshop: WorkshopFacts, bead: BeadFacts, programme: ProgrammeFacts, mould: MouldFacts
) -> KilnFacts:
    """The kiln chosen by the owner, else the first that is hot and large enough."""
    kilns = workshop.kilns
    if not kilns:
        raise CostingError("kiln", NO_KILNS, subject=bead.name)
    if "kilns" not in workshop._kept:
        for kiln in kilns:
            _check_kiln(kiln)
        workshop._kept["kilns"] = True
    kilns = tuple(kiln for kiln in kilns if _right_kind(kiln, bead)) or kilns
    chosen = workshop.choices.kiln
    if chosen is not None:
        kiln = next((kiln for kiln in kilns if kiln.key == chosen), kilns[0])
        if kiln.key != chosen:
            raise CostingError("kiln", UNKNOWN, subject=bead.name, what="kiln")
        if not (_hot_enough(kiln, programme) and mould.places <= kiln.places):
            raise CostingError(
                "kiln",
                CHOSEN_KILN_UNFIT,
                subject=bead.name,
                kiln=kiln.name,
                places=kiln.places,
                low=kiln.lowest_c,
                high=kiln.highest_c,
                needed=mould.places,
                temperature=programme.temperature_c,
            )
        return kiln
    largest = max(kiln.places for kiln in kilns)
    if mould.places > largest:
        raise CostingError(
            "mould",
            MOULD_TOO_BIG,
            subject=bead.name,
            mould=mould.name,
            places=mould.places,
            most=largest,
        )
    hot = [kiln for kiln in kilns if _hot_enough(kiln, programme)]
    if not hot:
        ranges = ", ".join(f"{kiln.name} {kiln.lowest_c}–{kiln.highest_c} °C" for kiln in kilns)
        raise CostingError(
            "programme",
            NO_KILN_THAT_HOT,
            subject=bead.name,
            temperature=programme.temperature_c,
            ranges=ranges,
        )
    for kiln in hot:
        if mould.places <= kiln.places:
            return kiln
    raise CostingError(
        "mould",
        MOULD_TOO_BIG,
        subject=bead.name,
        mould=mould.name,
        places=mould.places,
        most=max(kiln.places for kiln in hot),
    )


def _right_kind(kiln: KilnFacts, bead: BeadFacts) -> bool:
    """Pierced beads come hot out of a kiln kept hot; others as the owner said."""
    if kiln.usual is None:
        return bead.fired_in != "hot" and not bead.pierced
    return bead.fired_in != "closed"


def _hot_enough(kiln: KilnFacts, programme: ProgrammeFacts) -> bool:
    return kiln.lowest_c <= programme.temperature_c <= kiln.highest_c


def _check_kiln(kiln: KilnFacts) -> None:
    whole(kiln.places, "places", kiln.name, least=1)
    for field in ("preheat_min", "cooling_min", "fuel_price"):
        number(getattr(kiln, field), field, kiln.name)
    if kiln.fuel_per_load is not None:
        number(kiln.fuel_per_load, "fuel_per_load", kiln.name)
    number(kiln.wear_per_load, "wear_per_load", kiln.name)
    number(kiln.efficiency, "efficiency", kiln.name, above=True, most=1)
    moisture = loss(kiln.moisture, "moisture", kiln.name)
    if kiln.fuel_per_load is None and heating_value_mj(kiln.fuel, moisture) <= 0:
        raise CostingError("moisture", TOO_WET, subject=kiln.name, percent=plain(moisture * 100))
