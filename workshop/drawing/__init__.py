"""Pictures of the trade as SVG text: beads, strands, progress, bars, kilns, curves, glass flow.

Nothing here knows Django. Every function returns finished SVG whose texts are escaped.
"""

from workshop.drawing.beads import DrawnBead, Glass, bead_svg, drawn_bead, spacer
from workshop.drawing.small import bar_svg, progress_svg, swatch_svg
from workshop.drawing.strands import DrawnStrand, hanging_svg, strand_svg

__all__ = [
    "DrawnBead",
    "DrawnStrand",
    "Glass",
    "bar_svg",
    "bead_svg",
    "drawn_bead",
    "hanging_svg",
    "progress_svg",
    "spacer",
    "strand_svg",
    "swatch_svg",
]
