"""The soak and slow cooling that let a thick bead keep: how hot, how long, how slow, how far."""

from collections.abc import Iterable

from workshop.physics.annealing import (
    BOTTLE_GLASS,
    Piece,
    largest_cooling_rate_c_per_min,
    slow_down_to_c,
    slowest_piece,
)
from workshop.physics.cycle import Soak
from workshop.physics.viscosity import CONTAINER, FIXED_POINTS

AT_ANNEALING_POINT_MIN = 15.0  # definition of the annealing point: stress gone in 15 min
MARGIN = 0.5  # of the largest rate: common practice, no source
SOAK_C = 565  # 10^12 Pa·s of the hardest bottle glass, the container curve
MOULD_MM = 40.0  # a usual clay block; measure your own
MOULD_DIFFUSIVITY_M2_S = 0.6 / (1700 * 950)  # k/(ρ c) of fired clay, ASHRAE rows

# Fo at which the middle is even to 2 %: first term of each body's series.
_FIRST_TERM = {"plate": 1.683, "cylinder": 0.758, "sphere": 0.467}


def relief_min(soak_c: float) -> float:
    """How long a soak takes to let go of the stress.

    >>> [round(relief_min(t)) for t in (550, 560, 565)]
    [102, 28, 15]

    Source: definition of the annealing point, 15 min at 10^12 Pa·s; elsewhere in proportion to the
    viscosity.
    """
    return AT_ANNEALING_POINT_MIN * 10 ** (
        CONTAINER.log10_viscosity(soak_c) - FIXED_POINTS["annealing"]
    )


def even_min(form: str, size_mm: float, diffusivity_m2_s: float) -> float:
    """How long until a piece is even in temperature to 2 %.

    form, size_mm  as `annealing.Piece`

    >>> round(even_min("sphere", 26, 4.0e-7), 2)
    3.29
    >>> round(even_min("plate", 40, MOULD_DIFFUSIVITY_M2_S), 1)
    30.2

    Source: first term of the series of each body (heat equation).
    """
    half_m = size_mm / 2000
    return _FIRST_TERM[form] * half_m**2 / diffusivity_m2_s / 60


def lone_bead_in_fill_s(size_mm: float, fill_w_m_k: float) -> float:
    """The time constant of one bead in cold ash or vermiculite.

    fill_w_m_k  conductivity: ash 0.155, exfoliated vermiculite 0.068 (`ht` 1.2.0 tables)

    >>> round(lone_bead_in_fill_s(12, 0.155))
    235

    Source: steady conduction from a sphere, ρ c D²/(12 k).
    """
    return 2500 * 1215 * (size_mm / 1000) ** 2 / (12 * fill_w_m_k)


def in_the_mould(piece: Piece) -> Piece:
    """A flat piece lying in a mould or on a shelf loses heat by one face: twice as thick.

    >>> in_the_mould(("plate", 12)), in_the_mould(("sphere", 12))
    (('plate', 24), ('sphere', 12))
    """
    form, size = piece
    return (form, 2 * size) if form == "plate" else piece


def soak_for(pieces: Iterable[Piece]) -> Soak:
    """The soak and slow cooling for what lies in the moulds.

    pieces  as `BeadShape.thickest()` gives them

    Returns a Soak in whole °C and minutes up; its rate has two figures. Half the largest rate is
    kept as margin.

    >>> soak_for([("sphere", 26)])
    Soak(soak_c=565, soak_min=46, slow_to_c=480, slow_c_per_min=2.5)

    Source: `relief_min`, `even_min`, `annealing.largest_cooling_rate_c_per_min`.
    """
    form, size_mm = slowest_piece(map(in_the_mould, pieces))
    of_glass = even_min(form, size_mm, BOTTLE_GLASS.diffusivity_m2_s)
    of_mould = even_min("plate", MOULD_MM, MOULD_DIFFUSIVITY_M2_S)
    minutes = -int(-(relief_min(SOAK_C) + max(of_glass, of_mould)) // 1)
    rate = MARGIN * largest_cooling_rate_c_per_min(form, size_mm)
    return Soak(SOAK_C, minutes, slow_down_to_c(), _two_figures_down(rate))


def _two_figures_down(rate: float) -> float:
    step = 0.1 if rate >= 1 else 0.01
    return max(0.01, round(int(rate / step + 1e-9) * step, 2))


__all__ = ["Soak", "even_min", "relief_min", "slow_down_to_c", "soak_for"]
