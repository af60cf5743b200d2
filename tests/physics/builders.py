"""Shapes for the tests of the physics: one fair bead of each kind, and any bead at all."""

from decimal import Decimal
from math import sqrt

from hypothesis import strategies as st

from workshop.physics.heat import heat_mj, heating_value_mj
from workshop.physics.shapes import SHAPE_FIELDS, BeadShape, bead_shape

# One fair bead of each kind, the sizes of the handbook examples where there are any.
FAIR_BEADS: dict[str, dict[str, float]] = {
    "round": {"diameter_mm": 10, "bore_mm": 2},
    "tube": {"diameter_mm": 8, "length_mm": 12, "bore_mm": 2},
    "disc": {"diameter_mm": 12, "length_mm": 4, "bore_mm": 2.5},
    "coin": {"diameter_mm": 20, "thickness_mm": 5, "bore_mm": 2},
    "barrel": {"diameter_mm": 12, "end_diameter_mm": 8, "length_mm": 15, "bore_mm": 3},
    "bicone": {"diameter_mm": 12, "end_diameter_mm": 4, "length_mm": 14, "bore_mm": 3},
    "sharp_bicone": {"diameter_mm": 12, "length_mm": 20, "bore_mm": 3},
    "ellipsoid": {"diameter_mm": 10, "length_mm": 16, "bore_mm": 2},
    "oblate": {"diameter_mm": 14, "length_mm": 8, "bore_mm": 3},
    "ring": {"diameter_mm": 12, "bore_mm": 4},
    "cube": {"length_mm": 8, "bore_mm": 2},
    "star": {
        "diameter_mm": 20,
        "inner_diameter_mm": 8,
        "points": 5,
        "thickness_mm": 4,
        "bore_mm": 2,
    },
    "cross": {"width_mm": 14, "length_mm": 20, "arm_mm": 5, "thickness_mm": 4, "bore_mm": 2},
    "fish": {
        "body_length_mm": 18,
        "body_height_mm": 9,
        "tail_length_mm": 6,
        "tail_height_mm": 8,
        "thickness_mm": 4,
        "bore_mm": 2,
    },
}

# What the bore must stay under, in each kind.
AROUND_THE_BORE = {
    **dict.fromkeys(("round", "tube", "disc", "sharp_bicone", "ellipsoid"), ("diameter_mm",)),
    **dict.fromkeys(("oblate", "ring"), ("diameter_mm",)),
    **dict.fromkeys(("barrel", "bicone"), ("diameter_mm", "end_diameter_mm")),
    "coin": ("diameter_mm", "thickness_mm"),
    "cube": ("length_mm",),
    "star": ("inner_diameter_mm", "thickness_mm"),
    "cross": ("arm_mm", "thickness_mm"),
    "fish": ("body_height_mm", "tail_height_mm", "thickness_mm"),
}

# Height of each turned bead's glass along the bore, at a distance r from its middle: written
# from the outline itself, so that summing shells is independent of the closed forms.
HEIGHT_AT = {
    "round": lambda b, r: 2 * sqrt(b.diameter_mm**2 / 4 - r * r),
    "tube": lambda b, r: b.length_mm,
    "disc": lambda b, r: b.length_mm,
    "barrel": lambda b, r: (
        b.length_mm
        * min(1, sqrt((b.diameter_mm - 2 * r) / max(b.diameter_mm - b.end_diameter_mm, 1e-300)))
    ),
    "bicone": lambda b, r: (
        b.length_mm
        * min(1, (b.diameter_mm - 2 * r) / max(b.diameter_mm - b.end_diameter_mm, 1e-300))
    ),
    "sharp_bicone": lambda b, r: b.length_mm * (1 - 2 * r / b.diameter_mm),
    "ellipsoid": lambda b, r: b.length_mm * sqrt(1 - (2 * r / b.diameter_mm) ** 2),
    "oblate": lambda b, r: min(b.length_mm, 2 * sqrt(b.diameter_mm**2 / 4 - r * r)),
    "ring": lambda b, r: (
        2
        * sqrt(
            max(
                0.0,
                ((b.diameter_mm - b.bore_mm) / 4) ** 2 - (r - (b.diameter_mm + b.bore_mm) / 4) ** 2,
            )
        )
    ),
}


def fair_bead(kind: str, **changed: float) -> BeadShape:
    """A fair bead of a kind, with some of its sizes changed."""
    return bead_shape(kind, **{**FAIR_BEADS[kind], **changed})


@st.composite
def any_sizes(draw: st.DrawFn) -> tuple[str, dict[str, float]]:
    """A kind and sizes that make a bead, from seed beads to paperweights."""
    kind = draw(st.sampled_from(sorted(SHAPE_FIELDS)))
    size = st.floats(1, 80)
    share = st.floats(0.05, 0.95)
    sizes = {name: draw(size) for name in SHAPE_FIELDS[kind] if name != "bore_mm"}
    if "points" in sizes:
        sizes["points"] = draw(st.integers(3, 12))
    if "end_diameter_mm" in sizes:
        sizes["end_diameter_mm"] = sizes["diameter_mm"] * draw(share)
    if "inner_diameter_mm" in sizes:
        sizes["inner_diameter_mm"] = sizes["diameter_mm"] * draw(share)
    if "arm_mm" in sizes:
        sizes["arm_mm"] = min(sizes["width_mm"], sizes["length_mm"]) * draw(share)
    narrowest = min(sizes[name] for name in AROUND_THE_BORE[kind])
    sizes["bore_mm"] = narrowest * draw(st.floats(0, 0.95))
    if kind == "oblate":
        longest = (sizes["diameter_mm"] ** 2 - sizes["bore_mm"] ** 2) ** 0.5
        sizes["length_mm"] = longest * draw(st.floats(0.05, 1))
    return kind, sizes


def any_bead() -> st.SearchStrategy[BeadShape]:
    """Any bead of any kind."""
    return any_sizes().map(lambda drawn: bead_shape(drawn[0], **drawn[1]))


def heat_of_load_mj(glass_kg: float, clay_kg: float, temperature_c: float) -> float:
    """Heat of a load in plain numbers of kilograms."""
    grams = (Decimal(repr(kilograms)) * 1000 for kilograms in (glass_kg, clay_kg))
    return float(heat_mj(*grams, Decimal(repr(temperature_c))))


def wood_mj_kg(moisture: float) -> float:
    return float(heating_value_mj("wood", Decimal(repr(moisture))))


def fuel_needed(heat: float, mj_per_unit: float, efficiency: float) -> float:
    """Q ÷ (efficiency × net calorific value), the definition of the efficiency."""
    return heat / (efficiency * mj_per_unit)
