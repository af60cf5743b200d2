"""Whether glasses may share a bead: how much each shrinks on cooling, and what the gap costs."""

from collections.abc import Mapping
from dataclasses import dataclass

from workshop.physics.advice import Advice
from workshop.physics.composition import CompositionError, checked_shares
from workshop.physics.sentences import PhysicsError, gettext_noop, number_in, plain

# All in units of 1e-7/K, as the trade writes them.
CONTAINER_EXPANSION = 90.0  # 100-300 °C, Seward & Vascott 2005; EN 572-1 has the same
FINE_UP_TO = 2.0  # common practice, no source
CAUTION_UP_TO = 5.0  # common practice, no source
MODEL_ERROR = 3.7  # standard error of a published composition model for expansion
# By so much each model reads high in the middle of 192 measured bottle glasses (SciGlass, an open
# database of glass properties; the tests hold the extract).
APPEN_READS_HIGH, WEST_GERROW_READS_HIGH = 3, 9

SOURCE = gettext_noop("limits 2 and 5: common practice, no source")
RANGE_NOTE = gettext_noop(
    "Equal figures do not prove that two glasses go together: makers differ, and stiffness counts"
    " too. Fire a test piece, keep bottles of one maker together, and mix no window, lead or"
    " borosilicate glass with bottle glass."
)

NO_LEAD = gettext_noop(
    "These expansion factors do not cover %(oxide)s. Measure the expansion, or test the pair."
)
LITTLE_SILICA = gettext_noop(
    "These expansion factors need more than 67 mol%% SiO2 and there is %(found)s. Measure the"
    " expansion, or test the pair."
)
BAD_EXPANSION = gettext_noop(
    "The expansion of %(glass)s is %(found)s. Write it in units of 1e-7 per °C, such as 90."
)
NO_GLASS = gettext_noop("No glass is chosen yet. Choose the glasses of the bead.")
MIX_FINE = gettext_noop(
    "%(low_glass)s (%(low)s) and %(high_glass)s (%(high)s) differ by %(gap)s: fine to mix."
)
MIX_CAUTION = gettext_noop(
    "%(low_glass)s (%(low)s) and %(high_glass)s (%(high)s) differ by %(gap)s: caution. Fire a"
    " test piece first, or mix as powder."
)
MIX_NOT = gettext_noop(
    "%(low_glass)s (%(low)s) and %(high_glass)s (%(high)s) differ by %(gap)s: do not mix. About"
    " %(stress)s MPa would be left between them."
)


def appen_expansion(mol_percent: Mapping[str, float]) -> float:
    """Expansion of a glass, 20 to 400 °C, from what it is made of, by mole.

    mol_percent  oxide -> mol%, more than 67 of it SiO2, adding up to 95 to 105

    Returns units of 1e-7/K. No composition model decides a difference of 2. Raises
    CompositionError for lead, barium, boron and the like, too little SiO2, or a poor sum.

    >>> from workshop.physics.composition import CONTAINER_MOL
    >>> round(appen_expansion(CONTAINER_MOL), 1)
    89.2

    Source: Appen's factors, 1956/1974 (from memory).
    """
    shares = checked_shares(mol_percent, about_100=True)
    silica = shares.get("SiO2", 0.0)
    _refuse_uncovered(shares)
    if silica <= 67:
        raise CompositionError(LITTLE_SILICA, found=plain(silica))
    factors = {
        "SiO2": 38 - (silica - 67),
        "Na2O": 395,
        "K2O": 465,
        "CaO": 130,
        "MgO": 60,
        "Al2O3": -30,
    }
    return sum(factor * shares.get(oxide, 0.0) for oxide, factor in factors.items()) / 100


_WEST_GERROW = {
    "SiO2": 0.035,
    "Al2O3": 0.063,
    "Na2O": 0.390,
    "K2O": 0.331,
    "CaO": 0.148,
    "MgO": 0.030,
    "Fe2O3": 0.130,
    "TiO2": 0.140,
}


def west_gerrow_expansion(weight_percent: Mapping[str, float]) -> float:
    """Expansion of a glass from what it is made of, by weight.

    weight_percent  oxide -> wt%, adding up to 95 to 105

    Returns units of 1e-7/K. Raises CompositionError for lead, barium, boron and the like, or a
    poor sum.

    >>> from workshop.physics.composition import CONTAINER_WT
    >>> round(west_gerrow_expansion({**CONTAINER_WT, "K2O": 0.3}), 0)
    94.0

    Source: West & Gerrow's factors as published in ceramic-calculation material.
    """
    shares = checked_shares(weight_percent, about_100=True)
    _refuse_uncovered(shares)
    return 10 * sum(factor * shares.get(oxide, 0.0) for oxide, factor in _WEST_GERROW.items())


MODULUS_GPA, POISSON = 72.0, 0.21  # of soda-lime glass
FROM_SET_POINT_K = 500.0  # how far it cools once set, about


def mismatch_stress_mpa(difference: float) -> float:
    """Stress left between two equal layers of glasses that shrink unequally.

    difference  of their expansions [1e-7/K]

    Returns MPa, as great in tension as in pressure. Thin bonded layers, all elastic. Raises
    PhysicsError if the difference is no number.

    >>> round(mismatch_stress_mpa(2), 3)
    4.557

    Source: E dalpha dT/(2 (1 - nu)) (thermoelastic bilayer, textbook).
    """
    gap = number_in(difference)
    if gap is None:
        raise PhysicsError(BAD_EXPANSION, glass=gettext_noop("the pair"), found=difference)
    return MODULUS_GPA * 1e3 * abs(gap) * 1e-7 * FROM_SET_POINT_K / (2 * (1 - POISSON))


LASTING_STRESS_MPA = 7.0  # that glass bears for good, a chip in it: common practice, no source

BOTH_HOLD = gettext_noop(
    "Cooling leaves about %(cooling)s MPa and the colours' mismatch about %(mismatch)s MPa; they"
    " add up to %(sum)s, within the %(most)s MPa that a bead bears for good."
)
BOTH_TOO_MUCH = gettext_noop(
    "Cooling leaves about %(cooling)s MPa and the colours' mismatch about %(mismatch)s MPa; they"
    " add up to %(sum)s, more than the %(most)s MPa that a bead bears for good. Cool more slowly,"
    " or choose colours that lie nearer."
)


def both_stresses_advice(cooling_mpa: float, difference: float) -> Advice:
    """Whether what cooling and mismatch leave together is bearable.

    cooling_mpa  left by cooling (`annealing.surface_stress_mpa`)
    difference   of the colours' expansions [1e-7/K]

    Returns an Advice whose number is the sum [MPa]; verdict "fine" or "too much together".

    >>> both_stresses_advice(2.0, 2).verdict, both_stresses_advice(4.0, 2).verdict
    ('fine', 'too much together')

    Source: stresses of thin layers add (superposition, elastic); `mismatch_stress_mpa`.
    """
    mismatch = mismatch_stress_mpa(difference)
    whole = cooling_mpa + mismatch
    params = {
        "cooling": f"{cooling_mpa:.1f}",
        "mismatch": f"{mismatch:.1f}",
        "sum": f"{whole:.1f}",
        "most": f"{LASTING_STRESS_MPA:.0f}",
    }
    fine = whole <= LASTING_STRESS_MPA
    verdict = gettext_noop("fine") if fine else gettext_noop("too much together")
    template = BOTH_HOLD if fine else BOTH_TOO_MUCH
    return Advice(verdict, whole, "MPa", template, params, SOURCE, RANGE_NOTE)


def mixing_advice(expansions: Mapping[str, float], *, measured: bool = True) -> Advice:
    """Whether a set of glasses may share one bead, by the two that differ most.

    expansions  name of the glass -> expansion [1e-7/K], 20 to 200
    measured    False where a figure comes from a composition model, which cannot decide

    Returns an Advice whose number is the largest difference: "fine" to 2, "caution" to 5, "do
    not mix" beyond. Raises PhysicsError if there is no glass or an expansion is none.

    >>> mixing_advice({"green": 90, "amber": 91.5}).verdict
    'fine'
    >>> mixing_advice({"green": 90, "amber": 91, "window": 97}).verdict
    'do not mix'

    Source: limits 2 and 5, common practice, no source; stress `mismatch_stress_mpa`.
    """
    if not expansions:
        raise PhysicsError(NO_GLASS)
    for glass, given in expansions.items():
        value = number_in(given)
        if value is None or not 0 < value < 1000:
            raise PhysicsError(BAD_EXPANSION, glass=glass, found=given)
    low = min(expansions, key=lambda glass: expansions[glass])
    high = max(expansions, key=lambda glass: expansions[glass])
    gap = round(float(expansions[high]) - float(expansions[low]), 9)
    params = {
        "low_glass": low,
        "high_glass": high,
        "low": plain(expansions[low]),
        "high": plain(expansions[high]),
        "gap": plain(gap),
        "stress": f"{mismatch_stress_mpa(gap):.1f}",
    }
    verdict, template = _verdict_of(gap)
    usual = all(20 <= float(value) <= 200 for value in expansions.values())
    in_range = usual and (measured or gap > CAUTION_UP_TO + MODEL_ERROR)
    return Advice(verdict, gap, "1e-7/K", template, params, SOURCE, RANGE_NOTE, in_range)


OVEN_EXPANSION = 33.0  # borosilicate glass 3.3: ISO 3585 (from memory)

TEST_BROKE = gettext_noop(
    "%(one)s and %(other)s were fused together and the joint cracked (looked at %(day)s): do not"
    " mix them, whatever their figures say."
)
TEST_HELD = gettext_noop(
    "%(one)s and %(other)s were fused together and the joint held (looked at %(day)s)."
)
HELD_BUT_FAR = gettext_noop(
    "%(one)s and %(other)s were fused together and the joint held (looked at %(day)s), but their"
    " figures differ by %(gap)s: such a joint may crack later, with a chip or in cold water."
)
NEVER_OVEN = gettext_noop(
    "Oven glass shrinks about a third as much as bottle glass (%(oven)s against %(bottle)s): about"
    " %(stress)s MPa would be left between %(one)s and %(other)s. Do not mix them."
)
NOBODY_KNOWS = gettext_noop(
    "Nobody knows what %(one)s is; it may hold lead and it may not go with %(other)s. Keep them"
    " apart until the owner knows, or a test piece of the two held."
)
OTHER_KIND = gettext_noop(
    "%(one)s and %(other)s are glasses of different kinds and were never tested together. Keep"
    " them apart, or fuse two chips, cool them as you cool beads and look the next day."
)
NOT_TESTED = gettext_noop(
    "%(one)s and %(other)s were never tested together, and the expansion of both is not written"
    " down. Bottle glass is near 90 × 10⁻⁷/K, but makers differ: write it in the colour's page, or"
    " fuse two chips and look the next day."
)
PAIR_SOURCE = gettext_noop(
    "limits 2 and 5, window and oven glass not with bottle glass: common practice, no source;"
    " expansion of oven glass: ISO 3585"
)


@dataclass(frozen=True, slots=True)
class PairGlass:
    """One of two glasses that are to share a bead.

    kind       "bottle", "sheet", "oven" or "unknown"
    expansion  [1e-7/K], None where nobody wrote it down
    """

    name: str
    kind: str = "bottle"
    expansion: float | None = None


def pair_advice(
    one: PairGlass, other: PairGlass, *, held: bool | None = None, day: str = ""
) -> Advice:
    """Whether two glasses will agree: by their test, else by what they are, else by their figures.

    held  whether a joint of the two held when it was looked at, on `day`; None: never tested

    Returns an Advice whose number is their difference [1e-7/K], 0 where it is not known. Oven
    glass never goes with another kind: a joint of it that held is only not broken yet.

    >>> pair_advice(PairGlass("green"), PairGlass("pane", "sheet")).verdict
    'do not mix'
    >>> pair_advice(PairGlass("green"), PairGlass("pane", "sheet"), held=True).verdict
    'fine'

    Source: order of evidence, common practice, no source; limits as `mixing_advice`.
    """
    gap = _gap(one, other)
    words = {"one": one.name, "other": other.name, "day": day, "gap": plain(gap or 0)}
    kinds = {one.kind, other.kind}

    def said(verdict: str, template: str, number: float | None = gap) -> Advice:
        known = number is not None
        return Advice(
            verdict, number or 0.0, "1e-7/K", template, words, PAIR_SOURCE, RANGE_NOTE, known
        )

    if held is False:
        return said(gettext_noop("do not mix"), TEST_BROKE)
    if "oven" in kinds and len(kinds) > 1:
        far = CONTAINER_EXPANSION - OVEN_EXPANSION
        words |= {
            "oven": plain(OVEN_EXPANSION),
            "bottle": plain(CONTAINER_EXPANSION),
            "stress": f"{mismatch_stress_mpa(far):.0f}",
        }
        return said(gettext_noop("do not mix"), NEVER_OVEN, far)
    if held:
        if gap is not None and gap > CAUTION_UP_TO:
            return said(gettext_noop("caution"), HELD_BUT_FAR)
        return said(gettext_noop("fine"), TEST_HELD)
    if "unknown" in kinds:
        if one.kind != "unknown":
            words |= {"one": other.name, "other": one.name}
        return said(gettext_noop("do not mix"), NOBODY_KNOWS)
    if len(kinds) > 1:
        return said(gettext_noop("do not mix"), OTHER_KIND)
    if one.expansion is None or other.expansion is None:
        return said(gettext_noop("not tested"), NOT_TESTED)
    return mixing_advice({one.name: one.expansion, other.name: other.expansion})


def _gap(one: PairGlass, other: PairGlass) -> float | None:
    if one.expansion is None or other.expansion is None:
        return None
    return round(abs(one.expansion - other.expansion), 9)


def _verdict_of(gap: float) -> tuple[str, str]:
    if gap <= FINE_UP_TO:
        return gettext_noop("fine"), MIX_FINE
    if gap <= CAUTION_UP_TO:
        return gettext_noop("caution"), MIX_CAUTION
    return gettext_noop("do not mix"), MIX_NOT


def _refuse_uncovered(shares: Mapping[str, float]) -> None:
    for oxide in ("PbO", "BaO", "SrO", "B2O3", "ZnO"):
        if shares.get(oxide, 0.0) > 0.5:  # a trace does no harm: a judgement
            raise CompositionError(NO_LEAD, oxide=oxide)
