"""Pictures of the trade as SVG text: beads, strands, progress, bars, kilns, curves, glass flow.

Nothing here knows Django. Every function returns finished SVG whose texts are escaped.
"""

from workshop.drawing.beads import bead_svg, measured_svg
from workshop.drawing.bench import CordWords, Wearer, cord_svg, loop_svg
from workshop.drawing.charts import Axes, Band, Bar, Curve, bars_svg, line_chart_svg
from workshop.drawing.flow import FlowColour, FlowStage, mass_flow_svg
from workshop.drawing.kiln_loads import LoadBar, TrayDots, runs_of
from workshop.drawing.kilns import (
    DrawnDays,
    NoFire,
    kiln_day_svg,
    kiln_sign_svg,
    kiln_week_svg,
)
from workshop.drawing.look import DrawnBead, Glass, drawn_bead, spacer
from workshop.drawing.price_bar import PricePart, price_bar_svg
from workshop.drawing.signs import mark_svg, sign_svg
from workshop.drawing.small import bar_svg, bottle_svg, progress_svg, swatch_svg
from workshop.drawing.sprite import Sprite
from workshop.drawing.strands import DrawnStrand, hanging_svg, strand_svg
from workshop.drawing.trail import TrailStop, trail_svg

__all__ = [
    "Axes",
    "Band",
    "Bar",
    "CordWords",
    "Curve",
    "DrawnBead",
    "DrawnDays",
    "DrawnStrand",
    "FlowColour",
    "FlowStage",
    "Glass",
    "LoadBar",
    "NoFire",
    "PricePart",
    "Sprite",
    "TrailStop",
    "TrayDots",
    "Wearer",
    "bar_svg",
    "bars_svg",
    "bead_svg",
    "bottle_svg",
    "cord_svg",
    "drawn_bead",
    "hanging_svg",
    "kiln_day_svg",
    "kiln_sign_svg",
    "kiln_week_svg",
    "line_chart_svg",
    "loop_svg",
    "mark_svg",
    "mass_flow_svg",
    "measured_svg",
    "price_bar_svg",
    "progress_svg",
    "runs_of",
    "sign_svg",
    "spacer",
    "strand_svg",
    "swatch_svg",
    "trail_svg",
]
