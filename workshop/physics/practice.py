"""What workshops commonly do: windows for firing and polishing. Common practice, no source.

A programme outside its window is warned about, never refused: the keeper knows the kiln.
"""

from dataclasses import dataclass

from workshop.physics.advice import Advice
from workshop.physics.sentences import PhysicsError, gettext_noop, number_in, plain

SOURCE = gettext_noop("common practice, no source")
RANGE_NOTE = gettext_noop("A gauge may read otherwise than the glass. Fire a test piece first.")


@dataclass(frozen=True, slots=True)
class FiringWindow:
    """The temperatures and minutes a kind of bead is commonly fired at.

    from_c, to_c      [°C]
    from_min, to_min  at temperature [min]

    >>> FIRING_WINDOWS["powder"]
    FiringWindow(from_c=600.0, to_c=800.0, from_min=20.0, to_min=35.0)

    Source: common practice, no source.
    """

    from_c: float
    to_c: float
    from_min: float
    to_min: float


_POWDER = FiringWindow(600.0, 800.0, 20.0, 35.0)
_FUSED = FiringWindow(800.0, 1000.0, 30.0, 45.0)
# The other kinds have no window of their own in common practice. Broken beads of a remade bead only
# need to stick and round off, from firm powder heat to that of chunks; a centrepiece is chunks of
# many colours. Paint of ground glass is set at powder heat, a low-melting enamel well below it.
# Judgements, no source.
_REMADE = FiringWindow(700.0, 950.0, 25.0, 45.0)
_ENAMEL = FiringWindow(520.0, 640.0, 10.0, 30.0)
FIRING_WINDOWS = {
    "powder": _POWDER,
    "fused": _FUSED,
    "remade": _REMADE,
    "painted": _POWDER,
    "enamel": _ENAMEL,
    "centrepiece": _FUSED,
}

KIND_WORDS = {
    "powder": gettext_noop("powder beads"),
    "fused": gettext_noop("fused-chunk beads"),
    "remade": gettext_noop("remade beads"),
    "painted": gettext_noop("painted beads"),
    "enamel": gettext_noop("beads painted with a low-melting enamel"),
    "centrepiece": gettext_noop("centrepieces"),
}

UNKNOWN_KIND = gettext_noop("“%(kind)s” is no kind of bead. Choose one of: %(known)s.")
BAD_FIGURE = gettext_noop("Write the °C and the minutes as numbers, such as 750 and 25.")
USUAL = gettext_noop("%(hold_c)s °C for %(minutes)s min is usual for %(kind)s.")
UNUSUAL = gettext_noop(
    "%(hold_c)s °C for %(minutes)s min is unusual for %(kind)s, commonly fired at %(from_c)s to"
    " %(to_c)s °C for %(from_min)s to %(to_min)s min. Keep it if it is meant."
)


def programme_advice(kind: str, hold_c: float, hold_min: float) -> Advice:
    """Whether a firing programme lies within common practice for its kind of bead.

    kind      a key of `FIRING_WINDOWS`
    hold_c    temperature held [°C]
    hold_min  minutes held

    Returns an Advice: verdict "usual" or "unusual", number the temperature; `in_range` False if
    unusual. Raises PhysicsError for an unknown kind or what is no number.

    >>> programme_advice("powder", 750, 25).verdict
    'usual'

    Source: common practice, no source.
    """
    window = FIRING_WINDOWS.get(kind)
    if window is None:
        raise PhysicsError(UNKNOWN_KIND, kind=str(kind)[:20], known=", ".join(FIRING_WINDOWS))
    temperature, minutes = number_in(hold_c), number_in(hold_min)
    if temperature is None or minutes is None:
        raise PhysicsError(BAD_FIGURE)
    usual = (
        window.from_c <= temperature <= window.to_c and window.from_min <= minutes <= window.to_min
    )
    params: dict[str, object] = {
        "kind": KIND_WORDS[kind],
        "hold_c": plain(temperature),
        "minutes": plain(minutes),
        "from_c": plain(window.from_c),
        "to_c": plain(window.to_c),
        "from_min": plain(window.from_min),
        "to_min": plain(window.to_min),
    }
    return _advice(usual, temperature, "°C", USUAL if usual else UNUSUAL, params)


def programme_warning(kind: str, hold_c: float, hold_min: float) -> str | None:
    """The warning for a programme outside common practice, or None.

    kind, hold_c, hold_min  as `programme_advice`

    Returns a whole sentence the keeper may override, or None. Errors and source as
    `programme_advice`.

    >>> programme_warning("fused", 900, 40) is None
    True
    >>> programme_warning("fused", 700, 40)
    '700 °C for 40 min is unusual for fused-chunk beads, commonly fired at 800 to 1000 °C for 30 \
to 45 min. Keep it if it is meant.'
    """
    advice = programme_advice(kind, hold_c, hold_min)
    return None if advice.in_range else advice.sentence


def _advice(
    usual: bool, number: float, unit: str, template: str, params: dict[str, object]
) -> Advice:
    verdict = gettext_noop("usual") if usual else gettext_noop("unusual")
    return Advice(verdict, number, unit, template, params, SOURCE, RANGE_NOTE, in_range=usual)
