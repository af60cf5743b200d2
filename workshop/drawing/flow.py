"""Where the glass went: from the sacks down to the strands sold, and what was lost on the way.

Widths are to scale: a stage is as wide as its glass is heavy.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from workshop.drawing.svg import EMBER, GREEN, SOFT, Frame, num, svg, tag, words

STEP_PX, STAGE_PX = 76.0, 10.0


@dataclass(frozen=True)
class FlowStage:
    """A stage of the glass.

    name    e.g. "ready glass"
    mass_g  what reached it
    said    the mass in words, e.g. "87.400 kg"
    lost_g  of it, what was lost before the next stage; what neither went on nor was lost stays
    lost    in words, e.g. "2.600 kg ground too fine"
    stays   in words, e.g. "4.100 kg on the shelf"
    """

    name: str
    mass_g: float
    said: str
    lost_g: float = 0.0
    lost: str = ""
    stays: str = ""


def _ribbon(x0: float, x1: float, y0: float, y1: float, wide0: float, wide1: float) -> str:
    """A band that flows from one level to the next."""
    middle = (y0 + y1) / 2
    return (
        f"M{num(x0)} {num(y0)}C{num(x0)} {num(middle)} {num(x1)} {num(middle)} {num(x1)} {num(y1)}"
        f"H{num(x1 + wide1)}C{num(x1 + wide1)} {num(middle)} {num(x0 + wide0)} {num(middle)} "
        f"{num(x0 + wide0)} {num(y0)}Z"
    )


def mass_flow_svg(stages: Sequence[FlowStage], *, width: int = 332, title: str = "") -> str:
    """The stages one below the other, losses peeling off to the right."""
    most = max((stage.mass_g for stage in stages), default=0.0) or 1.0
    scale = (width * 0.62) / most
    parts: list[str] = []
    for place, stage in enumerate(stages):
        y = 20.0 + place * STEP_PX
        wide = max(1.0, stage.mass_g * scale)
        after = stages[place + 1] if place + 1 < len(stages) else None
        foot = y + STAGE_PX
        if after is not None:
            going = max(0.5, min(after.mass_g, stage.mass_g) * scale)
            ribbon = _ribbon(0.0, 0.0, foot, y + STEP_PX, going, going)
            parts.append(tag("path", d=ribbon, class_="sd-flow", fill=GREEN, fill_opacity=0.3))
            if stage.lost_g > 0:
                lost = max(1.0, stage.lost_g * scale)
                start = max(going, wide - lost)
                parts.append(
                    tag(
                        "path",
                        d=_ribbon(start, start + 14, foot, foot + 22, lost, lost * 0.6),
                        class_="sd-loss",
                        fill=EMBER,
                        fill_opacity=0.75,
                    )
                )
        parts.append(
            tag("rect", x=0, y=y, width=wide, height=STAGE_PX, class_="sd-flow", fill=GREEN)
        )
        parts.append(words(0, y - 6, stage.name, size=15, font_weight=600))
        parts.append(words(width, y - 6, stage.said, size=15, text_anchor="end"))
        if stage.lost:
            parts.append(
                words(width, y + 24, stage.lost, text_anchor="end", class_="sd-short", fill=EMBER)
            )
        if stage.stays:
            line = y + 24 + (17 if stage.lost else 0)
            parts.append(
                words(width, line, stage.stays, text_anchor="end", class_="sd-soft", fill=SOFT)
            )
    last = stages[-1] if stages else None
    tail = 14.0 + (17.0 if last and last.lost else 0) + (17.0 if last and last.stays else 0)
    high = 20.0 + STEP_PX * max(0, len(stages) - 1) + STAGE_PX + tail
    return svg(
        parts, Frame(width=width, height=high, title=title, text=True, class_="sd-mass-flow")
    )
