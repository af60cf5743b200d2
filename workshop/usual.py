"""What a workshop that has not measured yet may begin with. Common practice, no source.

Every figure here is a first guess that stands in a box to be corrected; the records teach better.
"""

from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext_lazy as _

from workshop.models import BeadKind, Fuel, LabourRate, Skill
from workshop.physics.practice import FIRING_WINDOWS, FiringWindow

# Share of the fuel's heat that reaches glass and moulds. Common practice, no source.
EFFICIENCY = {
    Fuel.WOOD: Decimal("0.12"),
    Fuel.CHARCOAL: Decimal("0.15"),
    Fuel.LPG: Decimal("0.22"),
    Fuel.ELECTRICITY: Decimal("0.50"),
}
EITHER_WAY_C = 20  # how far a load may be from a bead's own heat; common practice, no source
EITHER_WAY_MIN = 5
CLAY_G_CM3 = 1.9  # dry body of a mould; common practice, no source
CLAY_BENEATH_MM = 20
PITCH = 2.5  # from cavity to cavity, in bead sizes; common practice, no source


def programme_limits(kind: str, hold_c: int, hold_min: int) -> FiringWindow:
    """What else beads of a programme may be fired at, so that they can share a load.

    A little either way, but not past common practice where the programme itself lies in it.

    >>> programme_limits("powder", 740, 30)
    FiringWindow(from_c=720, to_c=760, from_min=25, to_min=35)
    >>> programme_limits("powder", 790, 33)
    FiringWindow(from_c=770, to_c=800, from_min=28, to_min=35)
    """
    window = FIRING_WINDOWS[kind]
    from_c, to_c = hold_c - EITHER_WAY_C, hold_c + EITHER_WAY_C
    from_min, to_min = max(1, hold_min - EITHER_WAY_MIN), hold_min + EITHER_WAY_MIN
    if window.from_c <= hold_c <= window.to_c:
        from_c, to_c = max(from_c, int(window.from_c)), min(to_c, int(window.to_c))
    if window.from_min <= hold_min <= window.to_min:
        from_min, to_min = max(from_min, int(window.from_min)), min(to_min, int(window.to_min))
    return FiringWindow(from_c, to_c, from_min, to_min)


def mould_clay_g(across_mm: float, cavities: int) -> int:
    """About what an open clay mould weighs, to the next 50 g.

    across_mm  size of its beads [mm]
    cavities   how many

    A slab with a cavity every two and a half beads, a bead and two centimetres thick.

    >>> mould_clay_g(12, 16)
    900
    """
    slab_cm3 = cavities * (PITCH * across_mm) ** 2 * (across_mm + CLAY_BENEATH_MM) / 1000
    return max(50, round(slab_cm3 * CLAY_G_CM3 / 50) * 50)


@dataclass(frozen=True)
class UsualStep:
    """A step of the work and the minutes it takes until they are measured."""

    key: str
    name: object
    skill: Skill
    basis: LabourRate.Basis
    minutes: Decimal
    setup_min: Decimal
    allowance: Decimal
    kind: str = ""


def _step(key, name, skill, basis, minutes, setup_min, allowance, kind="") -> UsualStep:
    return UsualStep(
        key, name, skill, basis, Decimal(minutes), Decimal(setup_min), Decimal(allowance), kind
    )


_BASIS = LabourRate.Basis
# Common practice, no source; drawing-room guesses until the bench has timed itself.
USUAL_STEPS = (
    _step("washing", _("Washing and sorting"), Skill.PREPARING, _BASIS.KG, "10", "0", "0.10"),
    _step("grinding", _("Grinding and sieving"), Skill.PREPARING, _BASIS.KG, "25", "5", "0.10"),
    _step("filling", _("Filling moulds"), Skill.MOULDING, _BASIS.MOULD, "6", "10", "0.10"),
    _step("tending", _("Tending the kiln"), Skill.FIRING, _BASIS.LOAD, "60", "0", "0.10"),
    _step(
        "piercing", _("Piercing"), Skill.PIERCING, _BASIS.BEAD, "0.3", "5", "0.15", BeadKind.FUSED
    ),
    _step(
        "polishing", _("Polishing and sorting"), Skill.POLISHING, _BASIS.BEAD, "0.1", "10", "0.10"
    ),
    _step(
        "painting", _("Painting"), Skill.PAINTING, _BASIS.BEAD, "1", "10", "0.10", BeadKind.PAINTED
    ),
    _step("stringing", _("Stringing"), Skill.STRINGING, _BASIS.STRAND, "5", "5", "0.10"),
    _step("packing", _("Tags and packing"), Skill.STRINGING, _BASIS.ORDER, "10", "0", "0.10"),
)
