"""Common practice of the trade, as windows that warn and never forbid.

Every figure here is common practice, no source.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Window:
    """A stretch of temperature and minutes in which a kind of bead is usually fired."""

    from_c: float
    to_c: float
    from_min: float
    to_min: float


# Common practice, no source. Kinds that are missing here have no settled habit.
FIRING_WINDOWS = {
    "powder": Window(600, 800, 20, 35),
    "fused": Window(800, 1000, 30, 45),
}
POLISHING_MIN = (10, 15)  # for a batch, sand and water; common practice, no source


def programme_warning(kind: str, hold_c: float, hold_min: float) -> str:
    """A sentence when a firing lies outside what is usual for its kind of bead, else "".

    hold_c    temperature held [°C]
    hold_min  time at that temperature [min]

    Never an error: the keeper decides. Kinds without a settled window draw no warning.

    >>> programme_warning("powder", 720, 25)
    ''
    >>> programme_warning("powder", 850, 25)
    'Powder beads are usually fired 20 to 35 min at 600 to 800 °C (common practice).'

    Source: common practice, no source.
    """
    window = FIRING_WINDOWS.get(kind)
    if window is None:
        return ""
    if window.from_c <= hold_c <= window.to_c and window.from_min <= hold_min <= window.to_min:
        return ""
    name = "Powder" if kind == "powder" else "Fused-chunk"
    return (
        f"{name} beads are usually fired {window.from_min:g} to {window.to_min:g} min "
        f"at {window.from_c:g} to {window.to_c:g} °C (common practice)."
    )
