"""The handbook values against measured glasses: a small extract of SciGlass (ODbL, see the licence
beside it), an open database of glass properties.

Windows, in mole per cent (the eight oxides together above 98.5): bottle glass SiO2 70–77, Na2O
11–15.5, CaO 8–13, MgO to 3, Al2O3 to 2.5, K2O to 1.5; window glass SiO2 69–75, Na2O 11–15.5, CaO
7–11, MgO 4–7, Al2O3 to 2, K2O to 1.5.
"""

import csv
from pathlib import Path
from statistics import median, quantiles

import pytest

from workshop.physics.annealing import BOTTLE_GLASS
from workshop.physics.composition import weight_percent
from workshop.physics.expansion import (
    APPEN_READS_HIGH,
    CONTAINER_EXPANSION,
    WEST_GERROW_READS_HIGH,
    appen_expansion,
    west_gerrow_expansion,
)
from workshop.physics.sintering import TEMPERATURE_ERROR_C
from workshop.physics.viscosity import CONTAINER, curve_of_composition, softening_and_annealing_c

HERE = Path(__file__).parent
OXIDES = ("SiO2", "Na2O", "CaO", "MgO", "Al2O3", "K2O", "Fe2O3", "SO3")
with (HERE / "sciglass_extract.csv").open(encoding="utf-8") as file:
    GLASSES = list(csv.DictReader(file))


def measured(column: str, window: str = "container") -> list[float]:
    return [float(row[column]) for row in GLASSES if row["window"] == window and row[column]]


def middle_half(column: str) -> tuple[float, float]:
    low, _middle, high = quantiles(measured(column), n=4, method="inclusive")
    return low, high


def of_each(column: str, window: str = "container") -> list[tuple[dict[str, float], float]]:
    """Composition in mole per cent, and what was measured."""
    return [
        ({oxide: float(row[f"{oxide}_mol"]) for oxide in OXIDES}, float(row[column]))
        for row in GLASSES
        if row["window"] == window and row[column]
    ]


def test_the_extract_says_under_which_licence_it_stands():
    licence = (HERE / "sciglass_extract.LICENSE").read_text(encoding="utf-8")
    assert "ODC Open Database License (ODbL)" in licence
    assert "Copyright (c) 2019 EPAM Systems" in licence
    assert len(GLASSES) == 733


@pytest.mark.parametrize(
    ("column", "window", "count", "expected"),
    [
        # medians of the same windows, worked out once from the whole database by other means
        ("expansion_e7", "container", 192, 89.6),
        ("expansion_e7", "float", 247, 87.0),
        ("t5_c", "container", 91, 823.1),
        ("t6_c", "container", 81, 755.5),
        ("t7_c", "container", 73, 701.5),
        ("t12_c", "container", 71, 548.5),
        ("log_eta_600_c", "container", 90, 9.828),
        ("log_eta_700_c", "container", 75, 7.033),
        ("log_eta_800_c", "container", 81, 5.312),
    ],
)
def test_the_medians_of_the_extract_are_those_of_the_database(column, window, count, expected):
    found = measured(column, window)
    assert len(found) == count
    assert median(found) == pytest.approx(expected, abs=0.06 if expected > 20 else 0.001)


@pytest.mark.parametrize(
    ("column", "level"), [("t5_c", 5), ("t6_c", 6), ("t7_c", 7), ("t12_c", 12)]
)
def test_the_default_curve_lies_within_twenty_degrees_of_measured_bottles(column, level):
    ours = CONTAINER.temperature_c(level)
    assert abs(ours - median(measured(column))) <= TEMPERATURE_ERROR_C
    low, high = middle_half(column)
    assert low - TEMPERATURE_ERROR_C < ours < high + TEMPERATURE_ERROR_C


@pytest.mark.parametrize(
    ("column", "temperature_c", "most"),
    [
        ("log_eta_600_c", 599.85, 0.6),
        ("log_eta_700_c", 699.85, 0.3),
        ("log_eta_800_c", 799.85, 0.3),
    ],
)
def test_the_default_viscosity_is_that_of_measured_bottles(column, temperature_c, most):
    # 600 °C is 0.55 high, as much as 15 °C make; where grains sinter it is within 0.3
    assert abs(CONTAINER.log10_viscosity(temperature_c) - median(measured(column))) < most


def test_default_expansion_and_modulus_lie_among_measured_bottles():
    low, high = middle_half("expansion_e7")
    assert low < CONTAINER_EXPANSION < high
    assert pytest.approx(median(measured("expansion_e7")), abs=0.5) == CONTAINER_EXPANSION
    low, high = middle_half("modulus_gpa")
    assert low <= BOTTLE_GLASS.modulus_gpa <= high


def test_the_annealing_point_by_composition_is_right_for_measured_glasses():
    """Fluegel 2007 claims a standard error of 9 to 17 °C."""
    off = [softening_and_annealing_c(mol)[1] - found for mol, found in of_each("t12_c")]
    assert abs(median(off)) < 17
    assert median([abs(one) for one in off]) < 17


@pytest.mark.parametrize(("column", "level"), [("t6_c", 6), ("t7_c", 7)])
def test_the_viscosity_by_composition_is_right_where_grains_sinter(column, level):
    off = [curve_of_composition(mol).temperature_c(level) - found for mol, found in of_each(column)]
    assert abs(median(off)) < TEMPERATURE_ERROR_C
    assert median([abs(one) for one in off]) < TEMPERATURE_ERROR_C


def test_expansion_by_composition_reads_high_by_what_the_advice_says():
    pairs = [(mol, found) for mol, found in of_each("expansion_e7") if mol["SiO2"] > 67]
    models = (
        (appen_expansion, APPEN_READS_HIGH),
        (lambda mol: west_gerrow_expansion(weight_percent(mol)), WEST_GERROW_READS_HIGH),
    )
    for model, reads_high in models:
        off = [model(mol) - found for mol, found in pairs]
        assert round(median(off)) == reads_high
        # From one glass to the next it is off by more than the 2 that would decide a match.
        assert median([abs(one - median(off)) for one in off]) > 2
