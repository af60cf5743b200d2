"""Check values worked outside the program: `true_cost_checks.csv`, each row with its source.

Rows that say "worked by hand" were worked with fractions by a reckoner that shares no code with
the program; the others name the exercise, standard or directive they are from.
"""

import csv
from decimal import Decimal
from pathlib import Path
from typing import Any

PLACE = Path(__file__).with_name("true_cost_checks.csv")

with PLACE.open(encoding="utf-8") as file:
    ROWS = {row["id"]: row for row in csv.DictReader(file)}


def expected(check: str) -> Decimal:
    """The number that a row asks for."""
    return Decimal(ROWS[check]["expected"])


def agrees(check: str, found: Any) -> None:
    """What the program found is what the row says, within its own tolerance."""
    row = ROWS[check]
    tolerance = row["tolerance"].removeprefix("abs ")
    if not row["unit"] and not row["expected"].replace(".", "", 1).lstrip("-").isdigit():
        assert str(found) == row["expected"], f"{check}: {found}"
        return
    within = Decimal(0) if tolerance == "exact" else Decimal(tolerance)
    difference = abs(Decimal(str(found)) - expected(check))
    assert difference <= within, f"{check}: found {found}, the row says {row['expected']}"
