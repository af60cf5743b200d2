"""What can be seen of a bead: its shape, its glass, and how it was made."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from hashlib import blake2s
from types import MappingProxyType
from typing import Any

from workshop.drawing.colours import UNKNOWN, checked
from workshop.drawing.outlines import Outline, outline


@dataclass(frozen=True)
class Glass:
    """A colour in a bead: #rrggbb, its share of the bead, and whether light comes through it."""

    colour: str
    share: float = 1.0
    see_through: bool = True


@dataclass(frozen=True)
class DrawnBead:
    """What can be seen of a bead.

    shape    a key of outlines.OUTLINES
    sizes    its dimensions by name, mm
    glass    its colours in order, the first at the left or outermost
    pattern  "plain", "layers" across the bore, "stripes" along it, or "mixed"
    finish   kind of bead: "powder", "fused", "remade", "painted", "centrepiece"; or "metal"
    """

    shape: str
    sizes: Mapping[str, float] = field(hash=False)
    glass: tuple[Glass, ...] = (Glass(UNKNOWN),)
    pattern: str = "plain"
    finish: str = "powder"

    @cached_property
    def outline(self) -> Outline:
        return outline(self.shape, self.sizes)

    @property
    def length_mm(self) -> float:
        """What it takes up on the cord."""
        return self.outline.length

    @property
    def across_mm(self) -> float:
        return self.outline.height

    @cached_property
    def colours(self) -> tuple[str, ...]:
        """Its colours, safe to write into a page; at least one."""
        return tuple(checked(glass.colour) for glass in self.glass) or (UNKNOWN,)

    @cached_property
    def mark(self) -> str:
        """Short name of this very drawing; equal beads share it."""
        told = f"{self.shape}{sorted(self.sizes.items())}{self.glass}{self.pattern}{self.finish}"
        return blake2s(told.encode(), digest_size=4).hexdigest()


def drawn_bead(
    shape: Any,
    glass: Sequence[Glass],
    *,
    pattern: str,
    finish: str,
) -> DrawnBead:
    """A DrawnBead from a `workshop.physics.shapes.BeadShape` and its colours."""
    sizes = {name: float(getattr(shape, name)) for name in shape.__match_args__}
    return DrawnBead(
        shape.kind, MappingProxyType(sizes), tuple(glass), pattern=pattern, finish=finish
    )


def spacer(length_mm: float, across_mm: float, colour: str = "#b08d57") -> DrawnBead:
    """A metal or shell finding that lies between beads."""
    sizes = MappingProxyType(
        {"length_mm": float(length_mm) or 1.0, "diameter_mm": float(across_mm) or 3.0}
    )
    return DrawnBead("spacer", sizes, (Glass(colour, see_through=False),), finish="metal")
