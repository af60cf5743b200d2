"""The physics is asked thousands of times a second: how long one answer takes."""

import pytest

from tests.physics.builders import FAIR_BEADS
from workshop.physics.annealing import cooling_advice
from workshop.physics.composition import CONTAINER_MOL
from workshop.physics.density import density_g_cm3
from workshop.physics.shapes import bead_shape
from workshop.physics.sintering import bond_advice, reduced_time_over
from workshop.physics.units import parse_length_mm


@pytest.mark.parametrize("kind", ["round", "barrel", "coin", "star", "fish"])
def test_shaping_a_bead_and_weighing_it(benchmark, kind: str) -> None:
    sizes = FAIR_BEADS[kind]

    def shape_and_weigh() -> float:
        bead = bead_shape(kind, **sizes)
        return bead.volume_mm3() + bead.length_on_cord_mm()

    assert benchmark(shape_and_weigh) > 0


def test_reading_a_length(benchmark) -> None:
    assert benchmark(parse_length_mm, "16 1/2 in") > 0


def test_integrating_a_day_of_kiln_readings(benchmark) -> None:
    log = [(minute, 20 + 800 * min(1, minute / 300)) for minute in range(0, 1440, 5)]
    assert benchmark(reduced_time_over, log, 0.15) > 0


def test_advising_on_a_bond(benchmark) -> None:
    assert benchmark(bond_advice, 750, 25, 0.15).number > 0


def test_advising_on_the_cooling_of_a_full_load(benchmark) -> None:
    load = [bead_shape(kind, **sizes).thickest() for kind, sizes in FAIR_BEADS.items()] * 10
    assert benchmark(cooling_advice, load).number > 0


def test_a_density_from_the_oxides(benchmark) -> None:
    assert benchmark(density_g_cm3, CONTAINER_MOL) > 0
