"""What a kind of reject most likely comes from."""

from dataclasses import dataclass

from workshop.physics.sentences import gettext_noop

PRACTICE = gettext_noop("common practice, no source")


@dataclass(frozen=True, slots=True)
class Hint:
    """A likely reason and where it is from."""

    sentence: str
    source: str


HINTS = {
    "chipped": Hint(
        gettext_noop("Knocked in polishing, or taken out too warm: fewer to a batch, more water."),
        PRACTICE,
    ),
    "crooked": Hint(
        gettext_noop(
            "Pierced too stiff, or the stalk leaned: fire hotter, pierce sooner, use more hands."
        ),
        gettext_noop("a pin goes in easily down to 10^6 Pa·s; common practice"),
    ),
    "stuck": Hint(
        gettext_noop("Too hot or too long, or the kiln wash is worn: wash the moulds anew."),
        PRACTICE,
    ),
    "cracked": Hint(
        gettext_noop(
            "Cooled too fast for its thickness, or its colours do not match: soak, cool slower, ask"
            " what the physics says of the bead."
        ),
        gettext_noop("Adams & Williamson 1920; stress of mismatched layers"),
    ),
    "colour": Hint(
        gettext_noop("Glass of another heap went in, or fired past its colour: sort, fire cooler."),
        PRACTICE,
    ),
    "short": Hint(
        gettext_noop(
            "Too cool or too short for the glass to run, too little weighed out, or a wet mould."
        ),
        gettext_noop("Frenkel 1945 for heat and time; common practice"),
    ),
}
"""By cause, as the sorter sees it."""
