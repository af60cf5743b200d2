"""Surface tension: what draws the grains together in the kiln."""

from collections.abc import Mapping

from workshop.physics.composition import checked_shares, polynomial

# Between 0.31 N/m by the model at 1400 °C and 0.19 measured at 600 °C in moist air for another
# glass (J. Mater. Sci. 30(7) (1995) 1742); a wood-fired kiln is moist. A judgement.
DEFAULT_SURFACE_TENSION_N_M = 0.30

_TERMS: dict[tuple[str, ...], float] = {
    (): 271.2,
    ("K2O",): -2.22,
    ("MgO",): 1.96,
    ("CaO",): 3.34,
    ("BaO",): 1.28,
    ("PbO",): -1.38,
    ("B2O3",): -2.86,
    ("Al2O3",): 3.47,
}


def surface_tension_mn_m(mol_percent: Mapping[str, float]) -> float:
    """Surface tension of a glass melt at 1400 °C.

    mol_percent  oxide -> mol% of the whole glass, adding up to 95 to 105

    Returns mN/m. Holds for silicate melts in dry air; water vapour may lower it. Raises
    CompositionError for an unknown oxide or a poor sum.

    >>> from workshop.physics.composition import CONTAINER_MOL
    >>> round(surface_tension_mn_m(CONTAINER_MOL), 1)
    311.6

    Source: Kucuk, Clare & Jones, Glass Technol. 40 (1999) 149.
    """
    return polynomial(_TERMS, checked_shares(mol_percent, about_100=True))
