"""Heat and fuel: against reference libraries, printed tables and sums done by hand."""

from decimal import Decimal as D

import pytest
from chemicals import combustion_data
from chemicals.combustion import HHV_Boie
from chemicals.elements import molecular_weight, nested_formula_parser
from ht.insulation import Cp_material, refractory_VDI_Cp
from hypothesis import given
from hypothesis import strategies as st

from tests.physics.builders import fuel_needed, heat_of_load_mj, wood_mj_kg
from workshop.physics.composition import MOLAR_MASS
from workshop.physics.heat import (
    CLAY_KJ_KG_K,
    DRY_WOOD_MJ_KG,
    FUELS,
    GLASS_KJ_KG_K,
    MJ_PER_KWH,
    heating_value_mj,
    mean_specific_heat_j_kg_k,
)
from workshop.physics.sentences import PhysicsError

masses = st.floats(0.01, 500)
hot = st.floats(200, 1200)


def test_the_handbooks_specific_heats_hold() -> None:
    """ht 1.2: soda-lime glass 750, fired brick 800, fireclay at 800 °C 1021 J/(kg K) (VDI)."""
    assert mean_specific_heat_j_kg_k(30) == pytest.approx(Cp_material("Glass, soda lime"), rel=0.04)
    brick = Cp_material("Brick, fired clay, 1920 kg/m^3") / 1000
    fireclay = refractory_VDI_Cp("Fireclay", T=1073.15) / 1000
    assert brick < float(CLAY_KJ_KG_K) < fireclay
    assert (brick, fireclay) == (0.8, pytest.approx(1.021, abs=0.001))


def test_one_specific_heat_serves_the_usual_firings() -> None:
    assert mean_specific_heat_j_kg_k(800) / 1000 == pytest.approx(float(GLASS_KJ_KG_K), rel=0.01)
    assert mean_specific_heat_j_kg_k(1000) / 1000 == pytest.approx(float(GLASS_KJ_KG_K), rel=0.04)


def test_bottled_gas_lies_near_its_two_gases() -> None:
    """Net heat of combustion of propane and n-butane from their heats of formation (chemicals)."""
    for formula, formation, expected in (("C3H8", -104390.0, 46.338), ("C4H10", -125790.0, 45.72)):
        gas = combustion_data(formula=formula, Hf=formation)
        assert pytest.approx(expected, abs=0.02) == -gas.LHV / gas.MW / 1000
        assert float(FUELS["lpg"].mj_per_unit) == pytest.approx(expected, rel=0.04)


def test_dry_wood_gives_what_its_elements_give() -> None:
    """Boie's formula on C 50, H 6, O 43 %, less the heat of the water it makes (2.443 × 9 H)."""
    gross = -HHV_Boie({"C": 0.50, "H": 0.06, "O": 0.43}) / 1000
    assert pytest.approx(gross - 2.443 * 9 * 0.06, rel=0.02) == float(DRY_WOOD_MJ_KG)


@pytest.mark.parametrize("oxide", MOLAR_MASS)
def test_molar_masses_are_those_of_the_elements(oxide: str) -> None:
    """Sulphur's weight varies by source: 32.06 abridged against 32.065."""
    assert MOLAR_MASS[oxide] == pytest.approx(
        molecular_weight(nested_formula_parser(oxide)), abs=0.008
    )


# q0 18.5 MJ/kg dry: EN ISO 18125 worked by hand, e.g. 12 %: 18.5 × 0.88 - 2.443 × 0.12 = 15.99.
@pytest.mark.parametrize(
    ("percent", "mj_kg"),
    [(0, 18.50), (12, 15.99), (15, 15.36), (20, 14.31), (30, 12.22), (40, 10.12), (50, 8.03)],
)
def test_wet_wood_gives_less(percent: int, mj_kg: float) -> None:
    assert wood_mj_kg(percent / 100) == pytest.approx(mj_kg, abs=0.006)


# kWh/kg at 20 % moisture, Technologie- und Foerderzentrum Straubing.
@pytest.mark.parametrize("kwh_kg", [4.05, 4.14, 3.97, 3.92])
def test_every_common_wood_lies_near_the_one_figure(kwh_kg: float) -> None:
    assert wood_mj_kg(0.20) / MJ_PER_KWH == pytest.approx(kwh_kg, rel=0.045)


def test_a_firing_of_five_kilograms_in_forty_of_moulds() -> None:
    """(5 × 1.12 + 40 × 1.0) × 775 K = 35.34 MJ; /(0.10 × 14.311) = 24.7 kg; 30 % wet 28.9 kg."""
    heat = heat_of_load_mj(5, 40, 800)
    assert heat == pytest.approx(35.34)
    assert fuel_needed(heat, wood_mj_kg(0.20), 0.10) == pytest.approx(24.694, rel=1e-4)
    assert fuel_needed(heat, wood_mj_kg(0.30), 0.10) == pytest.approx(28.93, abs=0.02)
    moulds = heat_of_load_mj(0, 40, 800)
    assert moulds / heat == pytest.approx(0.877, abs=0.001)


@given(masses, masses, hot, st.floats(1, 300))
def test_hotter_or_heavier_takes_more_heat(
    glass_kg: float, clay_kg: float, temperature_c: float, more: float
) -> None:
    heat = heat_of_load_mj(glass_kg, clay_kg, temperature_c)
    assert heat_of_load_mj(glass_kg, clay_kg, temperature_c + more) > heat
    assert heat_of_load_mj(glass_kg + more, clay_kg, temperature_c) > heat


@given(st.floats(0, 0.8), st.floats(0.001, 0.05))
def test_wetter_wood_never_gives_more(moisture: float, more: float) -> None:
    assert wood_mj_kg(moisture + more) < wood_mj_kg(moisture)


def test_only_wood_minds_the_moisture() -> None:
    assert heating_value_mj("wood", D("0.4")) < heating_value_mj("wood", D("0.1"))
    for fuel in ("charcoal", "lpg", "electricity"):
        assert heating_value_mj(fuel, D("0.4")) == FUELS[fuel].mj_per_unit


@pytest.mark.parametrize(
    "ask",
    [
        lambda: mean_specific_heat_j_kg_k(-1),
        lambda: mean_specific_heat_j_kg_k(800, {"SiO2": 50, "PbO": 50}),
    ],
)
def test_a_firing_that_cannot_be_is_answered_with_a_sentence(ask) -> None:
    with pytest.raises(PhysicsError) as refused:
        ask()
    assert refused.value.sentence.endswith(".")
