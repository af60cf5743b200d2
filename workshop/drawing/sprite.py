"""The drawings of one page, each of them written once however often it is seen."""

import re

from workshop.drawing.look import DrawnBead
from workshop.drawing.strands import DrawnStrand, Straight, definitions, straight
from workshop.drawing.svg import Frame, svg, tag

# An opening tag with its title; what is drawn; the end.
_WHOLE = re.compile(r"(<svg\b[^>]*>(?:<title>.*?</title>)?)(.*)</svg>", re.DOTALL)
# Inside a page of HTML it says nothing.
_NAMESPACE = ' xmlns="http://www.w3.org/2000/svg"'


class Sprite:
    """Places on a page where drawings are seen; the drawings themselves stand at its end."""

    NAME = "sd"

    def __init__(self) -> None:
        self._beads: dict[str, DrawnBead] = {}
        self._strands: dict[int, tuple[str, Straight]] = {}
        self._drawn: dict[str, str] = {}

    def strand(self, strand: DrawnStrand, *, width: int, title: str = "") -> str:
        """A place where the strand is seen; its beads are shared with all other strands."""
        laid = straight(strand, width)
        if id(laid) not in self._strands:
            self._beads.update((bead.mark, bead) for bead in laid.beads)
            self._strands[id(laid)] = (f"{self.NAME}-s{len(self._strands)}", laid)
        return _tight(laid.svg(_use(self._strands[id(laid)][0]), title))

    def drawing(self, whole: str) -> str:
        """A place where a finished drawing is seen that names nothing inside itself."""
        found = _WHOLE.fullmatch(whole)
        if found is None:
            return whole
        name = self._drawn.setdefault(found[2], f"{self.NAME}-d{len(self._drawn)}")
        return _tight(f"{found[1]}{_use(name)}</svg>")

    def svg(self) -> str:
        """What is seen in those places; it takes no room itself."""
        drawn = [(name, laid.body(self.NAME)) for name, laid in self._strands.values()]
        drawn += [(name, inside) for inside, name in self._drawn.items()]
        if not drawn:
            return ""
        beads = definitions(self.NAME, list(self._beads.values())) if self._beads else ""
        groups = "".join(tag("g", inside, id=name) for name, inside in drawn)
        return _tight(svg(beads + tag("defs", groups), Frame(0, 0, class_="sd-sprite")))


def _use(name: str) -> str:
    return f'<use href="#{name}"/>'


def _tight(drawn: str) -> str:
    return drawn.replace(_NAMESPACE, "", 1)
