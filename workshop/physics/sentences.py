"""Sentences the physics hands to people: in plain English, with their numbers kept apart.

The pure rooms know no language but their own. A caller who translates hands `said` its gettext;
others print `str(error)` as it stands.
"""

from collections.abc import Callable, Mapping


def gettext_noop(text: str) -> str:
    """Mark a sentence for the translators' catalogue and give it back unchanged.

    >>> gettext_noop("The bore leaves no glass.")
    'The bore leaves no glass.'
    """
    return text


def said(template: str, params: Mapping[str, object], gettext: Callable[[str], str]) -> str:
    """A sentence in another language: its template and its words translated, then filled.

    template  with %(name)s places, in English
    params    what goes into the places; words are looked up too, but not what was typed ("text")
    gettext   from a sentence to its translation, or to itself

    >>> german = {"The %(word)s is wide.": "Breit: %(word)s.", "bore": "Bohrung"}
    >>> said("The %(word)s is wide.", {"word": "bore"}, lambda text: german.get(text, text))
    'Breit: Bohrung.'
    """
    words = {
        name: gettext(value) if isinstance(value, str) and value and name != "text" else value
        for name, value in params.items()
    }
    return gettext(template) % words if words else gettext(template)


class PhysicsError(ValueError):
    """Something asked of the physics that has no answer, said in a whole sentence.

    template  the sentence with %(name)s places, in English
    params    what goes into the places

    >>> error = PhysicsError("A bore of %(bore)s mm is too wide.", bore=12)
    >>> str(error), error.params["bore"]
    ('A bore of 12 mm is too wide.', 12)
    """

    def __init__(self, template: str, **params: object) -> None:
        self.template = template
        self.params = params
        super().__init__(template % params if params else template)

    @property
    def sentence(self) -> str:
        """The whole sentence, its numbers filled in."""
        return str(self.args[0])

    def said(self, gettext: Callable[[str], str]) -> str:
        """The whole sentence in the language of a gettext."""
        return said(self.template, self.params, gettext)


def plain(value: float) -> str:
    """A number for a sentence: no needless zeros, never an exponent for a bead's sizes.

    >>> plain(10.0), plain(2.25), plain(0.1 + 0.2)
    ('10', '2.25', '0.3')
    """
    text = without_zeros(f"{value:.4f}")
    return "0" if text == "-0" else text


def without_zeros(text: str) -> str:
    """A decimal number's text without the zeros that say nothing.

    >>> without_zeros("2.250"), without_zeros("10.0"), without_zeros("100")
    ('2.25', '10', '100')
    """
    return text.rstrip("0").rstrip(".") if "." in text else text


def number_in(value: object) -> float | None:
    """The finite float in a number or in a plain number's text; None if there is none in it.

    A yes or no is not a size, though Python would count it as one.

    >>> number_in("2.5"), number_in(True), number_in("wide"), number_in(float("nan"))
    (2.5, None, None, None)
    """
    if isinstance(value, bool) or value is None:
        return None
    try:
        number = float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError, OverflowError):
        return None
    return number if number - number == 0 else None
