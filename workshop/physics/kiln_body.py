"""The heat a kiln's own body takes, what it loses while hot, and the fuel of a run.

heat = B + 3.6 V t + contents [MJ]; fuel = heat/(efficiency of the fire × heating value). B is taken
up once a warm-up, V is lost for each hour hot. Both are guessed from the building, or fitted from
runs whose fuel was weighed. The efficiency of the fire is never fitted: contents grow with the
hours, so the two cannot be told apart.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi, sqrt

from workshop.physics.heat import MJ_PER_KWH, ROOM_C
from workshop.physics.sentences import PhysicsError, gettext_noop

STEFAN_BOLTZMANN = 5.670374419e-8  # W/(m² K⁴), CODATA 2018
ZERO_C_IN_K = 273.15
AIR_KG_PER_KG_WOOD = 6.0  # for dry wood: H. Kubler, Wood and Fiber Science
FLUE_GAS_KJ_KG_K = 1.15  # from memory
OUTSIDE_W_M2_K = 10.0  # free convection and radiation near 150 °C, from memory

LEAST_RUNS, TRUSTED_RUNS = 3, 6
"""Runs for any interval, and for one to be trusted, the longest at least twice the shortest."""

TOO_FEW_RUNS = gettext_noop(
    "%(found)s weighed runs say nothing about the kiln's own heat. Weigh the fuel of at least"
    " %(least)s runs of different length."
)
ALL_ALIKE = gettext_noop(
    "All weighed runs are of the same length, so the body and the loss cannot be told apart. Weigh"
    " the fuel of a shorter or a longer run too."
)


def run_heat_mj(body_mj: float, loss_kw: float, hours: float, contents_mj: float) -> float:
    """Heat that must stay in the chamber over one run.

    body_mj      taken up by the kiln's body at the warm-up [MJ]
    loss_kw      while it is hot [kW]
    hours        from lighting to the last mould out; of a closed load while the fire is on
    contents_mj  taken up by glass and moulds of all rounds (`heat.heat_of_load_mj`)

    >>> round(run_heat_mj(68.79, 6.832, 6.5, 8 * 15.383), 1)
    351.7
    """
    return body_mj + MJ_PER_KWH * loss_kw * hours + contents_mj


@dataclass(frozen=True, slots=True)
class BodyAndLoss:
    """A kiln's body and loss from weighed runs, by least squares.

    body_se, loss_se  standard errors; times Student's t of `freedom` gives half an interval
    scatter_mj        of the runs about the line
    longest_over_shortest  of the hours
    """

    body_mj: float
    body_se: float
    loss_kw: float
    loss_se: float
    scatter_mj: float
    runs: int
    longest_over_shortest: float

    @property
    def freedom(self) -> int:
        return self.runs - 2

    def enough(self, t: float) -> bool:
        """Whether there is something to trust: enough runs, unlike enough, and both above doubt.

        t  Student's t for the interval asked and `freedom`
        """
        return (
            self.runs >= TRUSTED_RUNS
            and self.longest_over_shortest >= 2
            and 0 < self.body_se * t < self.body_mj
            and 0 < self.loss_se * t < self.loss_kw
        )


def body_and_loss(
    runs: Sequence[tuple[float, float, float]], mj_per_unit: float, efficiency: float
) -> BodyAndLoss:
    """A kiln's body and loss from runs whose fuel was weighed.

    runs         (hours from lighting to the last mould out, contents MJ, fuel) of each
    mj_per_unit  heat in one unit of the fuel [MJ]
    efficiency   of the fire: the share of the fuel's heat that does not leave by the flue

    Raises PhysicsError for fewer than three runs, or runs all of one length.

    >>> runs = [(3.2, 46.2, 36.5), (4.0, 61.5, 44.0), (5.2, 92.3, 54.0)]
    >>> runs += [(6.0, 107.7, 62.5), (7.4, 138.5, 76.0), (8.6, 153.8, 83.5)]
    >>> found = body_and_loss(runs, 14.3114, 0.36)
    >>> round(found.body_mj, 1), round(found.loss_kw, 2), round(found.scatter_mj, 2)
    (60.8, 7.04, 4.57)

    Source: ordinary least squares (standard).
    """
    n = len(runs)
    if n < LEAST_RUNS:
        raise PhysicsError(TOO_FEW_RUNS, found=n, least=LEAST_RUNS)
    hours = [float(t) for t, _, _ in runs]
    heats = [efficiency * mj_per_unit * fuel - contents for _, contents, fuel in runs]
    mean_h, mean_y = sum(hours) / n, sum(heats) / n
    spread = sum((t - mean_h) ** 2 for t in hours)
    if spread < 1e-6:
        raise PhysicsError(ALL_ALIKE)
    slope = sum((t - mean_h) * (y - mean_y) for t, y in zip(hours, heats, strict=True)) / spread
    body = mean_y - slope * mean_h
    left = sum((y - body - slope * t) ** 2 for t, y in zip(hours, heats, strict=True))
    scatter = sqrt(left / (n - 2))
    return BodyAndLoss(
        body_mj=body,
        body_se=scatter * sqrt(1 / n + mean_h**2 / spread),
        loss_kw=slope / MJ_PER_KWH,
        loss_se=scatter / sqrt(spread) / MJ_PER_KWH,
        scatter_mj=scatter,
        runs=n,
        longest_over_shortest=max(hours) / min(hours),
    )


@dataclass(frozen=True, slots=True)
class Wall:
    """What a kiln is built of.

    conductivity  k [W/(m K)]; density [kg/m³]; heat_capacity [J/(kg K)]
    """

    conductivity: float
    density: float
    heat_capacity: float


# k by the inner face's heat, and c, from VDI Heat Atlas (2nd ed. 2010), as tabulated in the `ht`
# 1.2.0 package; clay between its fired-brick row (ASHRAE) and fireclay.
FIRECLAY = {
    400: Wall(1.05, 2150, 956),
    800: Wall(1.15, 2150, 1021),
    1200: Wall(1.22, 2150, 1054),
}
INSULATING_L1260 = {
    400: Wall(0.14, 490, 942),
    600: Wall(0.16, 490, 980),
    800: Wall(0.18, 490, 1002),
}
CLAY = Wall(0.75, 1700, 950)


def thick_wall_mj(area_m2: float, rise_c: float, wall: Wall, minutes: float) -> float:
    """Heat a thick wall has taken up since its inner face became hot [MJ].

    >>> round(thick_wall_mj(1.5, 775, CLAY, 70), 2)
    93.56

    Source: half-space at a fixed face temperature, 2 A ΔT sqrt(k ρ c t/π) (standard, from memory).
    """
    effusivity2 = wall.conductivity * wall.density * wall.heat_capacity
    return 2 * area_m2 * rise_c * sqrt(effusivity2 * minutes * 60 / pi) / 1e6


def thick_wall_body_and_loss(
    area_m2: float, rise_c: float, wall: Wall, warm_up_min: float, day_min: float
) -> tuple[float, float]:
    """Body [MJ] and loss [kW] of thick walls: the chord from the warm-up to the end of the day.

    >>> [round(x, 2) for x in thick_wall_body_and_loss(1.5, 775, CLAY, 70, 540)]
    [68.79, 5.9]
    """
    first = thick_wall_mj(area_m2, rise_c, wall, warm_up_min)
    last = thick_wall_mj(area_m2, rise_c, wall, day_min)
    an_hour = (last - first) / ((day_min - warm_up_min) / 60)
    return first - an_hour * warm_up_min / 60, an_hour / MJ_PER_KWH


def thin_wall_body_and_loss(
    area_m2: float, rise_c: float, wall: Wall, thick_m: float
) -> tuple[float, float]:
    """Body [MJ] and loss [kW] of walls thin enough to be heated through.

    >>> light = Wall(0.16, 490, 980)
    >>> [round(x, 2) for x in thin_wall_body_and_loss(1.15, 775, light, 0.075)]
    [16.05, 1.9]

    Source: Ashby, Materials Selection in Mechanical Design, "Energy-efficient kiln walls",
    eq. 6.53 and 6.54.
    """
    body = wall.heat_capacity * wall.density * thick_m * rise_c * area_m2 / 2 / 1e6
    return body, wall.conductivity * rise_c * area_m2 / thick_m / 1000


def heated_depth_m(wall: Wall, hours: float) -> float:
    """How deep heat reaches in so many hours: a thicker wall takes up no more.

    >>> round(heated_depth_m(CLAY, 9), 4)
    0.1735

    Source: Ashby, the same, eq. 6.56: sqrt(2 a t).
    """
    diffusivity = wall.conductivity / (wall.density * wall.heat_capacity)
    return sqrt(2 * diffusivity * hours * 3600)


def steady_wall(area_m2: float, inner_c: float, wall: Wall, thick_m: float) -> tuple[float, float]:
    """Loss [kW] and outside temperature [°C] of a wall that has come to rest.

    >>> [round(x, 2) for x in steady_wall(1.15, 800, Wall(0.16, 490, 980), 0.075)]
    [1.57, 161.26]

    Source: steady conduction and the outside's own transfer in a row (standard).
    """
    flux = (inner_c - ROOM_C) / (thick_m / wall.conductivity + 1 / OUTSIDE_W_M2_K)
    return flux * area_m2 / 1000, ROOM_C + flux / OUTSIDE_W_M2_K


def warmed_wall_mj(
    area_m2: float, inner_c: float, outer_c: float, wall: Wall, thick_m: float
) -> float:
    """Heat in a wall whose faces stand at two temperatures [MJ].

    >>> round(warmed_wall_mj(1.15, 800, 161.26, Wall(0.16, 490, 980), 0.075), 2)
    18.87
    """
    rise = (inner_c + outer_c) / 2 - ROOM_C
    return wall.density * wall.heat_capacity * thick_m * area_m2 * rise / 1e6


def open_mouth_kw_m2(inner_c: float) -> float:
    """What shines out of an open mouth [kW/m²]; times its area and the share of time it is open.

    >>> round(open_mouth_kw_m2(800), 2)
    74.76

    Source: Stefan-Boltzmann law, the mouth as a black body.
    """
    hot, cold = inner_c + ZERO_C_IN_K, ROOM_C + ZERO_C_IN_K
    return STEFAN_BOLTZMANN * (hot**4 - cold**4) / 1000


def first_guess(electric: bool) -> tuple[float, float]:
    """Body [MJ] and loss [kW] of a small kiln nobody has measured, from a usual building.

    electric  insulating brick of 75 mm around 1.15 m², at 800 °C; else clay walls of 1.5 m² inside,
              warmed up in 70 min, hot for 9 h, a mouth of 0.05 m² open a quarter of the time

    >>> [round(x, 2) for x in first_guess(False)], [round(x, 2) for x in first_guess(True)]
    ([68.79, 6.83], [18.87, 1.57])

    Source: `thick_wall_body_and_loss`, `open_mouth_kw_m2`, `steady_wall`, `warmed_wall_mj`.
    """
    if electric:
        brick = INSULATING_L1260[600]
        loss, outside = steady_wall(1.15, 800, brick, 0.075)
        return warmed_wall_mj(1.15, 800, outside, brick, 0.075), loss
    body, walls = thick_wall_body_and_loss(1.5, 775, CLAY, 70, 540)
    return body, walls + open_mouth_kw_m2(800) * 0.05 / 4


def wood_fire_efficiency(
    moisture: float, air_share: float, flue_c: float, heating_value_mj: float
) -> float:
    """Share of a wood fire's heat that does not leave by the flue.

    moisture   of the wood, share of its wet mass
    air_share  air drawn, as a multiple of what the wood needs, 1.5 to 3
    flue_c     gas leaving [°C]

    >>> round(wood_fire_efficiency(0.20, 2, 700, 14.3114), 3)
    0.425

    Source: sensible heat of the flue gas; 6 kg air per kg dry wood, H. Kubler, Wood and Fiber
    Science; 1.15 kJ/(kg K) from memory.
    """
    gas_kg = 1 + air_share * AIR_KG_PER_KG_WOOD * (1 - moisture)
    return 1 - gas_kg * FLUE_GAS_KJ_KG_K * (flue_c - ROOM_C) / (1000 * heating_value_mj)


def fair_heat_mj(
    own_contents_mj: float,
    fair_loads: float,
    hours_a_load: float,
    body_mj: float,
    loss_kw: float,
    rounds_a_run: float = 1.0,
) -> float:
    """Heat that an order's part of the loads takes: its own contents, and its part of the kiln.

    fair_loads    loads it pays for (`workshop.costs.kiln_share`)
    hours_a_load  fair hours of one load; of a closed one while the fire is on
    rounds_a_run  a warm-up is shared by so many; 1 for a closed kiln

    >>> round(fair_heat_mj(19.22, 1.5625, 0.9810, 68.79, 6.832, 7), 1)
    72.3
    """
    kiln = body_mj / rounds_a_run + MJ_PER_KWH * loss_kw * hours_a_load
    return own_contents_mj + fair_loads * kiln
