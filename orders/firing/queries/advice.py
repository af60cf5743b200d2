"""What physics says about one bead in one firing: will it fuse, crack, do its colours match.

It advises and never refuses: every answer carries its number, its source and where it holds.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from orders.firing.queries.curves import (
    Chart,
    Readings,
    curve_chart,
    fastest_cooling_c_per_min,
    fuse_band,
    planned_cooling_c_per_min,
    planned_points,
)
from orders.firing.queries.load_advice import cooling_apart
from stock.agreement import Glass, worst_agreement
from stock.models import Bead, GlassForm
from workshop import formats
from workshop.models import BeadKind, Kiln, Programme
from workshop.physics.advice import Advice
from workshop.physics.annealing import cooling_advice, surface_stress_mpa
from workshop.physics.composition import weight_percent
from workshop.physics.density import density_advice
from workshop.physics.expansion import (
    APPEN_READS_HIGH,
    MODEL_ERROR,
    NO_GLASS,
    WEST_GERROW_READS_HIGH,
    appen_expansion,
    both_stresses_advice,
    west_gerrow_expansion,
)
from workshop.physics.piercing import piercing_advice
from workshop.physics.practice import programme_advice
from workshop.physics.sentences import PhysicsError
from workshop.physics.sintering import (
    bond_advice,
    curve_advice,
)
from workshop.physics.viscosity import COMPOSITION_SOURCE, curve_of_composition, fixed_points_c

NOT_SOFT = {"too stiff", "too short"}
WARNS = NOT_SOFT | {"crumbly", "weak", "too fast", "do not mix", "unusual", "out of reach"}
WARNS |= {"too much together"}
CAUTIONS = {"porous", "caution", "runs", "not tested"}


@dataclass(frozen=True)
class Counsel:
    """One answer: the question, the word, the figure behind it, the sentence, source and range.

    ask_more  the page that knows more about it
    """

    question: str
    word: str
    figure: str
    sentence: str
    source: str = ""
    note: str = ""
    in_range: bool = True
    warns: bool = False
    unsure: bool = False
    ask_more: str = ""


def counsel(question: str, ask: Callable[[], Advice], figure: Callable[[Advice], str]) -> Counsel:
    """Ask the physics; what has no answer says why in its place."""
    try:
        advice = ask()
    except PhysicsError as error:
        return Counsel(question, _("no answer"), "", error.said(_), unsure=True)
    return Counsel(
        question,
        _(advice.verdict),
        figure(advice),
        advice.said(_),
        _(advice.source),
        _(advice.range_note),
        advice.in_range,
        advice.verdict in WARNS,
        advice.verdict in CAUTIONS,
    )


def number_of(places: int, unit: str = "") -> Callable[[Advice], str]:
    def figure(advice: Advice) -> str:
        number = formats.decimal(Decimal(repr(round(advice.number, 6))), places)
        return f"{number} {unit}".strip()

    return figure


def counsels(
    bead: Bead, programme: Programme, kilns: Sequence[Kiln], readings: Readings = ()
) -> list[Counsel]:
    """Everything about the bead in the firing; `colours__colour` should come with the bead.

    kilns     those that are asked about, for how fast they cool
    readings  (minute, °C) of a firing that was logged, where there is one
    """
    found = [_usual(bead, programme), _reach(programme, kilns)]
    if _second(bead, programme):
        found.append(_paint(bead))
    else:
        found += _bonds(bead, programme, readings)
    if bead.pierced_hot and not _second(bead, programme):
        found.append(_pierced(bead, programme))
    found += _cools(bead, programme, kilns, readings)
    found += [_match(bead), _together(bead, programme, kilns)]
    return [each for each in found if each is not None]


def _second(bead: Bead, programme: Programme) -> bool:
    """A second firing sets the paint; its glass is fused already."""
    return bead.second_programme_id == programme.pk and bead.programme_id != programme.pk


def _usual(bead: Bead, programme: Programme) -> Counsel:
    kind = BeadKind.PAINTED.value if _second(bead, programme) else bead.kind
    if _second(bead, programme) and bead.paint == "enamel":
        kind = "enamel"
    if kind == BeadKind.PAINTED and not _second(bead, programme):
        kind = BeadKind.POWDER.value if bead.form == "powder" else BeadKind.FUSED.value
    return counsel(
        _("Is the firing usual?"),
        lambda: programme_advice(kind, programme.hold_c, programme.hold_min),
        lambda _advice: formats.celsius(programme.hold_c),
    )


def _paint(bead: Bead) -> Counsel | None:
    """What heat sets a paint hangs on what it is."""
    if bead.paint:
        return None
    return Counsel(
        _("What is the paint?"),
        _("not said"),
        "",
        _(
            "A low-melting enamel sets near 520 to 640 °C and runs off above; ground glass needs "
            "powder heat. Read the maker's sheet, and say on the bead's page which it is."
        ),
        _("common practice, no source"),
        unsure=True,
    )


def _pierced(bead: Bead, programme: Programme) -> Counsel:
    seconds = None if bead.pierce_min is None else float(bead.pierce_min) * 60
    return counsel(
        _("Soft enough to pierce?"),
        lambda: piercing_advice(
            bead.measure().across_mm(),
            float(programme.hold_c),
            cavities=bead.mould.cavities,
            seconds_a_mould=seconds,
        ),
        number_of(0, "s"),
    )


def _reach(programme: Programme, kilns: Sequence[Kiln]) -> Counsel | None:
    """Only a programme that a kiln cannot reach is worth a word."""
    out = [k for k in kilns if not k.lowest_c <= programme.hold_c <= k.highest_c]
    if not out:
        return None
    kiln = out[0]
    return Counsel(
        _("Does the kiln reach it?"),
        _("out of reach"),
        formats.celsius(programme.hold_c),
        _(
            "%(kiln)s goes from %(low)s to %(high)s °C and %(programme)s holds %(hold)s °C. "
            "Choose another kiln or firing."
        )
        % {
            "kiln": kiln,
            "low": kiln.lowest_c,
            "high": kiln.highest_c,
            "programme": programme,
            "hold": programme.hold_c,
        },
        _("the kiln's own range, as the owner wrote it down"),
        warns=True,
    )


def _bonds(bead: Bead, programme: Programme, readings: Readings) -> list[Counsel]:
    grain = float(bead.grain_mm)
    asked = [
        _fills_mould(
            bead,
            counsel(
                _("Will it fuse?"),
                lambda: bond_advice(float(programme.hold_c), float(programme.hold_min), grain),
                number_of(2),
            ),
        )
    ]
    if readings:
        asked.append(
            counsel(
                _("Did it fuse, over the firing that was logged?"),
                lambda: curve_advice(readings, grain),
                number_of(2),
            )
        )
    return asked


def _fills_mould(bead: Bead, asked: Counsel) -> Counsel:
    """Glass that runs is what a bead wants whose chunks must fill their mould."""
    if bead.form != GlassForm.CHUNKS or asked.word != _("runs"):
        return asked
    words = _("Chunks must run to fill their mould, so this is as it should be.")
    return replace(
        asked, word=_("fills its mould"), sentence=f"{asked.sentence} {words}", unsure=False
    )


def planned_rate(programme: Programme, kiln: Kiln) -> float | None:
    """How fast a closed kiln takes a load through the annealing range; None if it never does."""
    if programme.soak is not None:
        return programme.soak.slow_c_per_min
    return planned_cooling_c_per_min(programme.hold_c, kiln.cooling_min) or None


def _together(bead: Bead, programme: Programme, kilns: Sequence[Kiln]) -> Counsel | None:
    """What cooling leaves and what the colours' mismatch leaves add up."""
    expansions = [share.colour.expansion_e7 for share in bead.colours.all()]
    if len(expansions) < 2 or None in expansions or not kilns or kilns[0].is_kept_hot:
        return None
    rate = planned_rate(programme, kilns[0])
    if rate is None:
        return None
    known = [float(each) for each in expansions if each is not None]

    def ask() -> Advice:
        form, size = bead.measure().thickest()
        return both_stresses_advice(surface_stress_mpa(form, size, rate), max(known) - min(known))

    return counsel(_("Do cooling and mismatch together hold?"), ask, number_of(1, "MPa"))


def _cools(
    bead: Bead, programme: Programme, kilns: Sequence[Kiln], readings: Readings
) -> list[Counsel]:
    if kilns and kilns[0].is_kept_hot:
        apart = cooling_apart([bead.measure().thickest()])
        return [
            Counsel(
                _("Will it crack?"), _("cools apart"), "", apart.sentence, apart.source, unsure=True
            )
        ]
    planned = planned_rate(programme, kilns[0]) if kilns else None
    asked = [
        counsel(
            _("Will it crack?"),
            lambda: cooling_advice([bead.measure().thickest()], planned_c_per_min=planned),
            number_of(1, "°C/min"),
        )
    ]
    if readings and (rate := fastest_cooling_c_per_min(readings)):
        asked.append(
            counsel(
                _("Was the logged firing cooled slowly enough?"),
                lambda: cooling_advice([bead.measure().thickest()], planned_c_per_min=rate),
                number_of(1, "°C/min"),
            )
        )
    return asked


def _match(bead: Bead) -> Counsel:
    """The two of a bead's glasses that agree least; one alone always goes with itself."""
    glasses = [Glass(share.colour) for share in bead.colours.all()]
    question = _("Do its colours match?")
    if len(glasses) == 1:
        return Counsel(
            question,
            _("fine"),
            "",
            _("It is all %(colour)s; one glass goes with itself. Keep its bottles of one maker.")
            % {"colour": glasses[0]},
            _("common practice, no source"),
        )

    def ask() -> Advice:
        worst = worst_agreement(glasses)
        if worst is None:
            raise PhysicsError(NO_GLASS)
        return worst

    asked = counsel(question, ask, lambda told: _number_known(told))
    return replace(asked, ask_more=_pair_page(glasses)) if len(glasses) > 1 else asked


def _number_known(told: Advice) -> str:
    return number_of(1, "10⁻⁷/K")(told) if told.in_range else ""


def _pair_page(glasses: Sequence[Glass]) -> str:
    """The page of the first two, where tests are written down."""
    one, other = glasses[:2]
    return reverse("stock:glass_agree", query={"one": one.colour.pk, "other": other.colour.pk})


# --- the chart --------------------------------------------------------------------------------


def firing_chart(bead: Bead, programme: Programme, kiln: Kiln | None, readings: Readings) -> Chart:
    """Temperature against minutes, as planned and as logged, with the bands that matter."""
    grain = None if _second(bead, programme) else float(bead.grain_mm)
    planned = planned_points(programme.hold_c, programme.hold_min, kiln, programme.soak)
    return curve_chart(planned, readings, fuse_band(programme.hold_min, grain), str(programme))


# --- an unusual glass -------------------------------------------------------------------------

POINT_WORDS = {
    "strain": gettext_lazy("strain point"),
    "annealing": gettext_lazy("annealing point"),
    "softening": gettext_lazy("softening point"),
    "working": gettext_lazy("working point"),
    "melting": gettext_lazy("melting"),
}


@dataclass(frozen=True)
class Property:
    """One figure of a glass by its composition, or the sentence that says why there is none."""

    name: str
    value: str
    note: str
    source: str


def properties_of(mol: dict[str, float]) -> list[Property]:
    """Density, points of viscosity and expansion of a glass; oxides in mol %."""
    return [_density(mol), *_points(mol), _expansion(mol)]


def _density(mol: dict[str, float]) -> Property:
    try:
        advice = density_advice(mol)
    except PhysicsError as error:
        return Property(_("density"), "", error.said(_), "")
    value = formats.decimal(Decimal(repr(round(advice.number, 4))), 2)
    return Property(_("density"), f"{value} g/cm³", _range_said(advice), f"{_(advice.source)}")


def _range_said(advice: Advice) -> str:
    if advice.in_range:
        return _(advice.range_note)
    return _("Outside soda-lime glass: take it as a hint only.") + " " + _(advice.range_note)


def _points(mol: dict[str, float]) -> list[Property]:
    try:
        points = fixed_points_c(curve_of_composition(mol))
    except PhysicsError as error:
        return [Property(_("viscosity"), "", error.said(_), "")]
    note = _("Good to about 20 °C for soda-lime glass.")
    source = f"{_(COMPOSITION_SOURCE)}; Lakatos et al. 1976"
    return [
        Property(str(POINT_WORDS[name]), formats.celsius(round(heat)), note, source)
        for name, heat in points.items()
    ]


def _expansion(mol: dict[str, float]) -> Property:
    """Two models side by side: neither decides a difference of 2."""
    said, refusals = [], []
    for model, work, shares in (
        ("Appen", appen_expansion, mol),
        ("West & Gerrow", west_gerrow_expansion, weight_percent(mol)),
    ):
        try:
            said.append(f"{formats.decimal(Decimal(repr(round(work(shares), 3))), 0)} ({model})")
        except PhysicsError as error:
            refusals.append(error.said(_))
    note = _(
        "In 10⁻⁷/K, standard error about %(error)s, and among measured bottle glasses Appen reads "
        "about %(appen)s too high, West & Gerrow %(west)s: a model cannot say whether two glasses "
        "match; measure, or fire a test piece."
    ) % {
        "error": formats.decimal(Decimal(str(MODEL_ERROR)), 1),
        "appen": APPEN_READS_HIGH,
        "west": WEST_GERROW_READS_HIGH,
    }
    return Property(
        _("expansion"),
        ", ".join(said),
        note if said else " ".join(dict.fromkeys(refusals)),
        _("Appen's factors, 1956/1974 (from memory); West & Gerrow's factors; SciGlass")
        if said
        else "",
    )
