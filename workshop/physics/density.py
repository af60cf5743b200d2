"""How heavy the glass is: one density for every bottle, a model for a known composition."""

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any, TypeVar

from workshop.physics.advice import Advice
from workshop.physics.composition import (
    CompositionError,
    checked_shares,
    is_soda_lime,
    polynomial,
)
from workshop.physics.sentences import gettext_noop, plain

Number = TypeVar("Number", float, Decimal)

# Every bottle colour: between soda-lime flat glass 2.50 (EN 572-1) and container glass 2.52
# (Seward & Vascott 2005) against 2.48 by Fluegel's model. Colour changes it by under 0.01.
DEFAULT_DENSITY_G_CM3 = 2.50
DENSITY_ERROR_G_CM3 = 0.03

_SOURCE = "Fluegel, J. Am. Ceram. Soc. 90(8) (2007) 2622"
_TRACE = 0.02514614
_TERMS: dict[tuple[str, ...], float] = {
    (): 2.121560704,
    ("Na2O",): 0.018129123,
    ("Na2O", "Na2O"): -0.000264838,
    ("Na2O", "Na2O", "Na2O"): 0.000001614,
    ("K2O",): 0.019177312,
    ("K2O", "K2O"): -0.000319863,
    ("K2O", "K2O", "K2O"): 0.00000191,
    ("CaO",): 0.017992367,
    ("CaO", "CaO"): -0.00005478,
    ("MgO",): 0.01210604,
    ("MgO", "MgO"): -0.000061159,
    ("Al2O3",): 0.010525974,
    ("Al2O3", "Al2O3"): -0.000076924,
    ("Fe2O3",): 0.036995747,
    ("TiO2",): 0.018820343,
    ("SO3",): -0.044488661,
    ("ZnO",): 0.025221567,
    ("ZnO", "ZnO"): 0.000099961,
    ("Cr2O3",): _TRACE,
    ("CoO",): _TRACE,
    ("Na2O", "K2O"): -0.000395491,
    ("Na2O", "Al2O3"): -0.000253454,
    ("K2O", "Al2O3"): -0.000371858,
    ("MgO", "CaO"): 0.000057248,
    ("MgO", "Al2O3"): 0.000167218,
    ("MgO", "ZnO"): 0.000220766,
    ("Na2O", "MgO"): -0.000300745,
    ("Na2O", "CaO"): -0.000228249,
    ("K2O", "MgO"): -0.000337747,
    ("K2O", "CaO"): -0.000349578,
    ("Al2O3", "CaO"): -0.000102444,
    ("Al2O3", "TiO2"): -0.000563594,
    ("Al2O3", "ZnO"): -0.000109968,
    ("Na2O", "TiO2"): -0.00014331,
    ("Na2O", "ZnO"): -0.000155275,
    ("Na2O", "Fe2O3"): -0.000371343,
    ("K2O", "TiO2"): -0.000386587,
    ("K2O", "ZnO"): -0.000329812,
    ("Na2O", "MgO", "CaO"): -0.000009143,
    ("Na2O", "MgO", "Al2O3"): -0.000012286,
    ("Na2O", "CaO", "Al2O3"): -0.000005106,
    ("K2O", "MgO", "CaO"): -0.00001217,
    ("K2O", "MgO", "Al2O3"): -0.000041908,
    ("K2O", "CaO", "Al2O3"): -0.000012421,
    ("MgO", "CaO", "Al2O3"): -0.000011236,
}
_KNOWN = {oxide for term in _TERMS for oxide in term} | {"SiO2"}

NOT_IN_MODEL = gettext_noop(
    "The density model has no place for %(oxide)s. Weigh a piece in air and in water instead,"
    " and write its density."
)
DENSITY_IS = gettext_noop(
    "Glass of this composition weighs about %(density)s g/cm³, within %(error)s."
)


def density_g_cm3(mol_percent: Mapping[str, float]) -> float:
    """Density of a glass at 20 °C from what it is made of.

    mol_percent  oxide -> mol% of the whole glass, adding up to 95 to 105

    Returns g/cm³, standard error 0.019. Holds for soda-lime glasses; not for lead or borosilicate
    glass nor pure silica. Raises CompositionError for an oxide the model lacks or a poor sum.

    >>> round(density_g_cm3({"SiO2": 80, "Na2O": 20}), 4)
    2.3911

    Source: Fluegel, J. Am. Ceram. Soc. 90(8) (2007) 2622 (coefficients from one copy).
    """
    shares = checked_shares(mol_percent, about_100=True)
    for oxide in shares:
        if oxide not in _KNOWN:
            raise CompositionError(NOT_IN_MODEL, oxide=oxide)
    return polynomial(_TERMS, shares)


def density_advice(mol_percent: Mapping[str, float]) -> Advice:
    """`density_g_cm3` as advice: the figure, how far to trust it, and whether it applies.

    mol_percent  oxide -> mol%

    Returns an Advice in g/cm³; `in_range` is False outside soda-lime glass. Raises as
    `density_g_cm3`.

    >>> from workshop.physics.composition import CONTAINER_MOL
    >>> advice = density_advice(CONTAINER_MOL)
    >>> round(advice.number, 3), advice.in_range
    (2.479, True)

    Source: as `density_g_cm3`.
    """
    density = density_g_cm3(mol_percent)
    return Advice(
        verdict=gettext_noop("by composition"),
        number=density,
        unit="g/cm³",
        template=DENSITY_IS,
        params={"density": f"{density:.2f}", "error": plain(DENSITY_ERROR_G_CM3)},
        source=_SOURCE,
        range_note=gettext_noop(
            "Soda-lime glass at 20 °C, standard error 0.019 g/cm³. Pores in the bead matter more."
        ),
        in_range=is_soda_lime(mol_percent),
    )


def mixed_density_g_cm3(parts: Sequence[tuple[Number, Number]]) -> Number:
    """Density of glasses mixed by mass.

    parts  share of the mass and density [g/cm³] of each; the shares add up to 1

    Returns g/cm³. Raises ZeroDivisionError where there are none.

    >>> round(mixed_density_g_cm3([(0.5, 2.4), (0.5, 2.6)]), 3)
    2.496

    Source: the volumes add, so 1 / density is the sum of share / density (definition of density).
    """
    volume: Any = sum(share / density for share, density in parts)
    return 1 / volume
