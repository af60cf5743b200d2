"""What a glass is made of: oxides by mole or by weight, and the glasses the trade meets."""

from collections.abc import Mapping

from workshop.physics.sentences import PhysicsError, gettext_noop, number_in, plain

# Standard atomic weights, IUPAC (abridged values, 2021); g/mol.
ATOMIC_WEIGHT = {
    "Al": 26.9815384,
    "B": 10.81,
    "Ba": 137.327,
    "Ca": 40.078,
    "Co": 58.933194,
    "Cr": 51.9961,
    "Fe": 55.845,
    "K": 39.0983,
    "Mg": 24.305,
    "Mn": 54.938043,
    "Na": 22.98976928,
    "O": 15.999,
    "Pb": 207.2,
    "S": 32.06,
    "Si": 28.085,
    "Sr": 87.62,
    "Ti": 47.867,
    "Zn": 65.38,
}

_ATOMS = {
    "SiO2": {"Si": 1, "O": 2},
    "Na2O": {"Na": 2, "O": 1},
    "K2O": {"K": 2, "O": 1},
    "CaO": {"Ca": 1, "O": 1},
    "MgO": {"Mg": 1, "O": 1},
    "Al2O3": {"Al": 2, "O": 3},
    "Fe2O3": {"Fe": 2, "O": 3},
    "TiO2": {"Ti": 1, "O": 2},
    "SO3": {"S": 1, "O": 3},
    "ZnO": {"Zn": 1, "O": 1},
    "PbO": {"Pb": 1, "O": 1},
    "Cr2O3": {"Cr": 2, "O": 3},
    "CoO": {"Co": 1, "O": 1},
    "MnO": {"Mn": 1, "O": 1},
    "BaO": {"Ba": 1, "O": 1},
    "SrO": {"Sr": 1, "O": 1},
    "B2O3": {"B": 2, "O": 3},
}
MOLAR_MASS = {
    oxide: sum(count * ATOMIC_WEIGHT[element] for element, count in atoms.items())
    for oxide, atoms in _ATOMS.items()
}

# Container and float: compositions tabled in Seward & Vascott (eds.), High Temperature Glass
# Melt Property Database, 2005. The standard glasses: Fluegel, Glass Technol. A 48(1) (2007) 13,
# Table 1. All mol%.
CONTAINER_MOL = {
    "SiO2": 74.42,
    "Al2O3": 0.75,
    "MgO": 0.3,
    "CaO": 11.27,
    "Na2O": 12.9,
    "K2O": 0.19,
    "Fe2O3": 0.01,
    "TiO2": 0.01,
    "SO3": 0.16,
}
FLOAT_MOL = {
    "SiO2": 71.86,
    "Al2O3": 0.08,
    "MgO": 5.64,
    "CaO": 9.23,
    "Na2O": 13.13,
    "K2O": 0.02,
    "Fe2O3": 0.04,
    "TiO2": 0.01,
}
DGG_1_MOL = {
    "SiO2": 70.94,
    "Al2O3": 0.72,
    "Na2O": 14.34,
    "K2O": 0.21,
    "MgO": 6.16,
    "CaO": 7.13,
    "SO3": 0.32,
    "Fe2O3": 0.07,
    "TiO2": 0.1,
}
SRM_710_MOL = {
    "SiO2": 72.74,
    "Al2O3": 0.11,
    "Na2O": 8.7,
    "K2O": 5.07,
    "CaO": 12.82,
    "Fe2O3": 0.01,
}
# Container glass by weight, as tabled in Seward & Vascott 2005.
CONTAINER_WT = {"SiO2": 74.0, "Na2O": 13.0, "CaO": 10.5, "Al2O3": 1.3, "K2O": 0.3, "MgO": 0.2}

# Published limits of soda-lime glass, mol% (Fluegel, Glass Technol. A 48(1) (2007) 13).
SODA_LIME_LIMITS_MOL = {
    "SiO2": (63.0, 81.0),
    "Na2O": (9.0, 15.0),
    "CaO": (7.0, 14.0),
    "MgO": (0.0, 6.0),
    "Al2O3": (0.0, 2.0),
}

UNKNOWN_OXIDE = gettext_noop("The oxide “%(oxide)s” is not known here. Known are: %(known)s.")
BAD_AMOUNT = gettext_noop("The share of %(oxide)s is %(found)s. Write it in percent, 0 or more.")
NOTHING_THERE = gettext_noop("No oxide is given yet. Write at least the share of SiO2, in percent.")
NOT_ABOUT_100 = gettext_noop(
    "The oxides add up to %(total)s %%, and a glass adds up to about 100 %%. Check the shares."
)


class CompositionError(PhysicsError):
    """A composition that is no glass: an unknown oxide, a share below 0, a sum far from 100 %.

    >>> str(CompositionError(NOTHING_THERE))
    'No oxide is given yet. Write at least the share of SiO2, in percent.'
    """


def mol_percent(weight_percent: Mapping[str, float]) -> dict[str, float]:
    """Oxides by mole from oxides by weight.

    weight_percent  oxide -> wt%, any total above 0 (it is brought to 100)

    Returns oxide -> mol%, adding up to 100. Raises CompositionError for an unknown oxide, a
    share below 0 or nothing at all.

    >>> round(mol_percent({"SiO2": 74, "Na2O": 14, "CaO": 12})["Na2O"], 2)
    13.51

    Source: n = w/M, C = 100 n / sum n (definition), IUPAC atomic weights.
    """
    shares = checked_shares(weight_percent)
    return _to_100({oxide: share / MOLAR_MASS[oxide] for oxide, share in shares.items()})


def weight_percent(mol_percent: Mapping[str, float]) -> dict[str, float]:
    """Oxides by weight from oxides by mole.

    mol_percent  oxide -> mol%, any total above 0 (it is brought to 100)

    Returns oxide -> wt%, adding up to 100. Raises CompositionError as `mol_percent`.

    >>> round(weight_percent({"SiO2": 80, "Na2O": 20})["Na2O"], 2)
    20.5

    Source: w = n M, brought to 100 (definition), IUPAC atomic weights.
    """
    shares = checked_shares(mol_percent)
    return _to_100({oxide: share * MOLAR_MASS[oxide] for oxide, share in shares.items()})


def checked_shares(shares: Mapping[str, float], *, about_100: bool = False) -> dict[str, float]:
    """The shares as floats, each a known oxide and 0 or more.

    shares     oxide -> percent
    about_100  True where a model takes the shares as they stand: their sum must be 95 to 105

    Returns a new dict without the absent oxides. Raises CompositionError, a whole sentence.

    >>> checked_shares({"SiO2": 80, "Na2O": 20, "K2O": 0})
    {'SiO2': 80.0, 'Na2O': 20.0}

    Source: the 95 to 105 % is a judgement; analyses seldom add up to 100 exactly.
    """
    checked = {}
    for oxide, given in shares.items():
        if oxide not in MOLAR_MASS:
            raise CompositionError(
                UNKNOWN_OXIDE, oxide=str(oxide)[:20], known=", ".join(MOLAR_MASS)
            )
        share = number_in(given)
        if share is None or share < 0:
            raise CompositionError(BAD_AMOUNT, oxide=oxide, found=str(given)[:20])
        if share:
            checked[oxide] = share
    total = sum(checked.values())
    if not total:
        raise CompositionError(NOTHING_THERE)
    if about_100 and not 95 <= total <= 105:
        raise CompositionError(NOT_ABOUT_100, total=plain(total))
    return checked


def is_soda_lime(mol_percent: Mapping[str, float]) -> bool:
    """Whether a glass lies within the published limits of soda-lime glass.

    mol_percent  oxide -> mol%

    >>> is_soda_lime(CONTAINER_MOL), is_soda_lime({"SiO2": 100})
    (True, False)

    Source: Fluegel, Glass Technol. A 48(1) (2007) 13 (`SODA_LIME_LIMITS_MOL`).
    """
    return all(
        low <= mol_percent.get(oxide, 0) <= high
        for oxide, (low, high) in SODA_LIME_LIMITS_MOL.items()
    )


def polynomial(terms: Mapping[tuple[str, ...], float], shares: Mapping[str, float]) -> float:
    """Sum of coefficient times the product of the named oxides' shares.

    terms   names of oxides (repeated for powers) -> coefficient; () is the constant
    shares  oxide -> percent; an absent oxide counts 0

    >>> polynomial({(): 1, ("CaO",): 2, ("CaO", "CaO"): 0.5}, {"CaO": 4})
    17.0

    Source: how the composition models are printed (multiple regression).
    """
    total = 0.0
    for oxides, coefficient in terms.items():
        product = coefficient
        for oxide in oxides:
            product *= shares.get(oxide, 0.0)
        total += product
    return total


def _to_100(amounts: dict[str, float]) -> dict[str, float]:
    total = sum(amounts.values())
    return {oxide: 100 * amount / total for oxide, amount in amounts.items()}
