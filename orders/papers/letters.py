"""Letters that no font of this machine has: which script they are of, and what brings them."""

from collections.abc import Iterable

from workshop.machine import FONTS_FOR_EAST_ASIAN, FONTS_FOR_THE_REST

EAST_ASIAN = {"Hani", "Hira", "Kana", "Hang", "Bopo"}


def scripts_of(letters: Iterable[str]) -> list[str]:
    """The scripts of some letters by their names in Unicode, e.g. Ethiopic.

    Source: Unicode Standard Annex 24, by the fonttools library.
    """
    from fontTools import unicodedata

    found = {unicodedata.script_name(unicodedata.script(letter)) for letter in letters}
    return sorted(name.replace("_", " ") for name in found if name not in {"Common", "Inherited"})


def packages_for(letters: Iterable[str]) -> list[str]:
    """Debian's packages of fonts that have such letters."""
    from fontTools import unicodedata

    wanted = set()
    for letter in letters:
        script = unicodedata.script(letter)
        if script in EAST_ASIAN:
            wanted.add(FONTS_FOR_EAST_ASIAN)
        else:
            wanted.add(FONTS_FOR_THE_REST)
    return sorted(wanted)
