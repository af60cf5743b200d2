"""The demo's weighed fuel: what the heat of each load takes in its kiln, some a little more.

Invented, around the efficiency that is written down for the kiln.
"""

from decimal import Decimal
from random import Random

from orders.learning.queries.fuel import heat_by_load
from stock.models import KilnLoad

HUNDREDTH = Decimal("0.01")


def weigh_fuel() -> None:
    """Weigh the fuel of every load that has cooled."""
    loads = []
    for load, heat_mj, held_mj in heat_by_load(KilnLoad.objects.filter(state="cooled")):
        share = Decimal(Random(load.number).randint(90, 125)) / 100
        amount = heat_mj / load.kiln.efficiency / held_mj * share
        load.fuel_used = max(HUNDREDTH, amount.quantize(HUNDREDTH))
        loads.append(load)
    KilnLoad.objects.bulk_update(loads, ["fuel_used"])
