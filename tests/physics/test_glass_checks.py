"""Every published or hand-worked figure in `glass_checks.csv`, each with its source beside it."""

import csv
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.physics.builders import fuel_needed
from workshop.physics.annealing import centre_to_surface_c, largest_cooling_rate_c_per_min
from workshop.physics.bottles import BOTTLES
from workshop.physics.composition import CONTAINER_WT, MOLAR_MASS, mol_percent
from workshop.physics.density import DEFAULT_DENSITY_G_CM3, density_g_cm3
from workshop.physics.expansion import (
    CONTAINER_EXPANSION,
    appen_expansion,
    mismatch_stress_mpa,
    west_gerrow_expansion,
)
from workshop.physics.heat import (
    FUELS,
    MJ_PER_KWH,
    mean_specific_heat_j_kg_k,
    sensible_heat_mj,
    wet_wood_mj_kg,
)
from workshop.physics.shapes import bead_shape
from workshop.physics.sintering import reduced_time, temperature_needed_c
from workshop.physics.surface_tension import surface_tension_mn_m
from workshop.physics.viscosity import (
    CONTAINER,
    DGG_1,
    SRM_710A,
    curve_through,
    hot_points_c,
    softening_and_annealing_c,
)

CURVES = {"container": CONTAINER, "dgg_1": DGG_1, "srm_710a": SRM_710A}
ROWS = list(csv.DictReader((Path(__file__).parent / "glass_checks.csv").open(encoding="utf-8")))


def _numbers(inputs: dict[str, str]) -> dict[str, float]:
    return {name: float(value) for name, value in inputs.items()}


def _volume(inputs: dict[str, str]) -> float:
    sizes = {name: float(value) for name, value in inputs.items() if name != "kind"}
    return bead_shape(inputs["kind"], **sizes).volume_mm3()


def _mass(inputs: dict[str, str]) -> float:
    sizes = {name: value for name, value in inputs.items() if name != "density"}
    return _volume(sizes) * float(inputs["density"]) / 1000


def _curve(given: dict[str, str]):
    levels = {"t1": 1.5, "t2": 6.6, "t3": 12.0}
    return curve_through([(float(given[name]), level) for name, level in levels.items()])


def _constants(given: dict[str, str]) -> dict[str, float]:
    curve = _curve(given)
    return {"A": curve.a, "B": curve.b, "T0": curve.t0_c}


def _amber_change(given: dict[str, str]) -> float:
    def with_iron(percent: float) -> float:
        glass = {**CONTAINER_WT, "SiO2": CONTAINER_WT["SiO2"] - percent, "Fe2O3": percent}
        return density_g_cm3(mol_percent(glass))

    return with_iron(float(given["high"])) - with_iron(float(given["low"]))


def _heat(given: dict[str, str]) -> float:
    return sensible_heat_mj(
        float(given["glass_kg"]) * 1000,
        float(given["glass_cp"]),
        float(given["clay_kg"]) * 1000,
        float(given["clay_cp"]),
        float(given["temperature_c"]),
        25.0,
    )


def _wood(given: dict[str, str]) -> float:
    return wet_wood_mj_kg(float(given.get("dry", 18.5)), 2.443, float(given["percent"]) / 100)


CHECKS: dict[str, Callable[[dict[str, str]], float | dict[str, float]]] = {
    "density_mol": lambda given: density_g_cm3(_numbers(given)),
    "density_wt": lambda given: density_g_cm3(mol_percent(_numbers(given))),
    "default_density": lambda given: DEFAULT_DENSITY_G_CM3,
    "amber_density_change": _amber_change,
    "molar_mass": lambda given: MOLAR_MASS[given["oxide"]],
    "log_viscosity": lambda given: CURVES[given["curve"]].log10_viscosity(
        float(given["temperature_c"])
    ),
    "isokom": lambda given: CURVES[given["curve"]].temperature_c(float(given["level"])),
    "softening_mol": lambda given: softening_and_annealing_c(_numbers(given))[0],
    "annealing_mol": lambda given: softening_and_annealing_c(_numbers(given))[1],
    "curve_through": _constants,
    "isokom_through": lambda given: _curve(given).temperature_c(float(given["level"])),
    "hot_point": lambda given: hot_points_c(CONTAINER_WT)[{"1": 0, "3": 1}[given["level"]]],
    "reduced_time": lambda given: reduced_time(**_numbers(given)),
    "temperature_needed": lambda given: temperature_needed_c(**_numbers(given)),
    "surface_tension": lambda given: surface_tension_mn_m(_numbers(given)),
    "cooling_rate": lambda given: largest_cooling_rate_c_per_min(
        given["form"], float(given["size_mm"])
    ),
    "centre_to_surface": lambda given: centre_to_surface_c(
        given["form"], float(given["size_mm"]), float(given["rate"])
    ),
    "mean_specific_heat": lambda given: mean_specific_heat_j_kg_k(float(given["temperature_c"])),
    "cold_specific_heat": lambda given: mean_specific_heat_j_kg_k(20),
    "wood": _wood,
    "wood_kwh": lambda given: _wood(given) / MJ_PER_KWH,
    "fuel": lambda given: float(FUELS[given["key"]].mj_per_unit),
    "firing_heat_kwh": lambda given: _heat(given) / MJ_PER_KWH,
    "firing_wood": lambda given: fuel_needed(
        _heat(given), _wood(given), float(given["efficiency"])
    ),
    "appen": lambda given: appen_expansion(_numbers(given)),
    "west_gerrow": lambda given: west_gerrow_expansion(_numbers(given)),
    "container_expansion": lambda given: CONTAINER_EXPANSION,
    "mismatch": lambda given: mismatch_stress_mpa(float(given["difference"])),
    "volume": _volume,
    "mass": _mass,
    "bottle": lambda given: BOTTLES[given["key"]].mass_g,
}


def _close(tolerance: str, expected: float):
    if tolerance == "exact":
        return expected
    kind, size = tolerance.split()
    return pytest.approx(expected, **{kind: float(size), "abs" if kind == "rel" else "rel": 0})


@pytest.mark.parametrize("row", ROWS, ids=[row["id"] for row in ROWS])
def test_the_figure_agrees_with_its_source(row: dict[str, str]) -> None:
    given = dict(part.split("=") for part in row["inputs"].split(";") if part)
    found = CHECKS[row["check"]](given)
    if isinstance(found, dict):
        expected = dict(part.split("=") for part in row["expected"].split(";"))
        for name, value in expected.items():
            assert found[name] == _close(row["tolerance"], float(value)), row["source"]
    else:
        assert found == _close(row["tolerance"], float(row["expected"])), row["source"]


def test_every_figure_names_its_source_and_every_check_has_a_figure() -> None:
    assert len(ROWS) == 141
    assert all(len(row["source"]) > 5 for row in ROWS)
    assert {row["check"] for row in ROWS} == set(CHECKS)
