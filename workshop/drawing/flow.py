"""Where the glass went: from the sacks down to the strands sold, and what was lost on the way.

Widths are to scale: glass is as wide as it is heavy. Each colour is a stream of its own. What goes
on flows; what stays stands apart from the flow, on a shelf below its stage; what comes from earlier
stock joins from a hollow place on that shelf; what is lost peels off. Of the first stage only what
goes on is drawn: a yard filled for a year would make a thread of everything that follows.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from html import escape
from typing import Any

from workshop.drawing.colours import checked
from workshop.drawing.svg import CORD, EMBER, INK, SOFT, Frame, num, svg, tag, words

STEP_PX, STAGE_PX = 112.0, 12.0
SHELF_PX, SHELF_AT_PX = 12.0, 46.0
TOP_PX, GAP_PX, LINE_PX = 6.0, 3.0, 18.0
FOR_THE_WORDS_PX = 128.0  # at the right; the streams have the rest
LEAST_PX = 0.75


@dataclass(frozen=True)
class FlowColour:
    """One colour at a stage, grams: what reached it, went on from it, and was lost before that.

    What neither went on nor was lost stays; below nothing, it came from earlier stock.
    """

    name: str
    colour: str
    mass_g: float
    went_on_g: float = 0.0
    lost_g: float = 0.0

    @property
    def stays_g(self) -> float:
        return self.mass_g - self.went_on_g - self.lost_g

    @property
    def widest_g(self) -> float:
        return max(self.mass_g, self.went_on_g + self.lost_g)

    @property
    def without_stock(self) -> "FlowColour":
        """Only what left this stage, as far as it had come."""
        return replace(self, mass_g=min(self.mass_g, self.went_on_g + self.lost_g))


@dataclass(frozen=True)
class FlowStage:
    """A stage of the glass.

    name     e.g. "ready glass"
    said     its mass in words, e.g. "87.400 kg"
    colours  the same colours in the same order at every stage
    lost     in words, e.g. "2.600 kg ground too fine"
    stays    in words, e.g. "4.100 kg on the shelf"
    """

    name: str
    said: str
    colours: Sequence[FlowColour] = ()
    lost: str = ""
    stays: str = ""


@dataclass(frozen=True)
class _Lane:
    """Where the stream of one colour runs."""

    left: float
    scale: float
    colour: str

    def wide(self, grams: float) -> float:
        return max(LEAST_PX, grams * self.scale) if grams > 0 else 0.0


def _ribbon(x0: float, x1: float, y0: float, y1: float, wide0: float, wide1: float) -> str:
    """A band that flows from one level to the next."""
    middle = (y0 + y1) / 2
    return (
        f"M{num(x0)} {num(y0)}C{num(x0)} {num(middle)} {num(x1)} {num(middle)} {num(x1)} {num(y1)}"
        f"H{num(x1 + wide1)}C{num(x1 + wide1)} {num(middle)} {num(x0 + wide0)} {num(middle)} "
        f"{num(x0 + wide0)} {num(y0)}Z"
    )


def _edged(name: str, lane: _Lane, class_: str, **where: object) -> str:
    """Glass of a lane's colour, with the fine edge that keeps clear and milk in sight."""
    return tag(
        name,
        class_=f"{class_} sd-edge",
        fill=lane.colour,
        stroke=INK,
        stroke_opacity=0.3,
        stroke_width=0.75,
        **where,
    )


def _lanes(stages: Sequence[FlowStage], width: float) -> list[_Lane]:
    """Streams beside each other, each as wide as its widest stage."""
    widest = [
        max(stage.colours[place].widest_g for stage in stages)
        for place in range(len(stages[0].colours) if stages else 0)
    ]
    room = width - GAP_PX * max(0, len(widest) - 1)
    scale = room / (sum(widest) or 1.0)
    lanes, left = [], 0.0
    for place, most in enumerate(widest):
        lanes.append(_Lane(left, scale, checked(stages[0].colours[place].colour)))
        left += most * scale + GAP_PX
    return lanes


def _stream(lane: _Lane, at: FlowColour, after: FlowColour | None, y: float) -> list[str]:
    """A colour's bar at a stage, and what becomes of it before the next."""
    parts = []
    if at.mass_g > 0:
        parts.append(
            _edged(
                "rect", lane, "sd-stage",
                x=lane.left, y=y, width=lane.wide(at.mass_g), height=STAGE_PX,
            )
        )  # fmt: skip
    if after is None:
        return parts
    foot, next_y, shelf = y + STAGE_PX, y + STEP_PX, y + SHELF_AT_PX
    from_here = min(at.went_on_g, max(0.0, at.mass_g - at.lost_g))
    going, lost = lane.wide(from_here), lane.wide(at.lost_g)
    if from_here > 0:
        d = _ribbon(lane.left, lane.left, foot, next_y, going, going)
        parts.append(_edged("path", lane, "sd-flow", d=d, fill_opacity=0.45))
    if at.lost_g > 0:
        d = _ribbon(lane.left + going, lane.left + going + 6, foot, foot + 20, lost, lost * 0.6)
        parts.append(tag("path", d=d, class_="sd-loss", fill=EMBER, fill_opacity=0.75))
    stays = at.stays_g
    if stays > 0:
        x, wide = lane.left + going + lost, lane.wide(stays)
        parts.append(_edged("rect", lane, "sd-stock", x=x, y=shelf, width=wide, height=SHELF_PX))
        parts.append(_shelf(x, wide, shelf + SHELF_PX))
    elif stays < 0:
        x, wide = lane.left + going, lane.wide(-stays)
        d = _ribbon(x, x, shelf + SHELF_PX, next_y, wide, wide)
        parts.append(_edged("path", lane, "sd-flow", d=d, fill_opacity=0.45))
        parts.append(
            tag(
                "rect", class_="sd-from-stock sd-axis",
                x=x, y=shelf, width=wide, height=SHELF_PX,
                fill="none", stroke=CORD, stroke_width=1, stroke_dasharray="3 2",
            )
        )  # fmt: skip
    return parts


def _shelf(x: float, wide: float, y: float) -> str:
    return tag(
        "path", d=f"M{num(x - 1)} {num(y)}H{num(x + wide + 1)}",
        class_="sd-axis", stroke=CORD, stroke_width=2,
    )  # fmt: skip


def mass_flow_svg(stages: Sequence[FlowStage], *, width: int = 332, title: str = "") -> str:
    """The stages one below the other, the colours beside each other, the words at the right."""
    if stages:
        first = stages[0]
        stages = [replace(first, colours=[c.without_stock for c in first.colours]), *stages[1:]]
    lanes = _lanes(stages, width - FOR_THE_WORDS_PX)
    parts: list[str] = []
    for place, stage in enumerate(stages):
        y = TOP_PX + place * STEP_PX
        after = stages[place + 1] if place + 1 < len(stages) else None
        for n, lane in enumerate(lanes):
            drawn = _stream(lane, stage.colours[n], after.colours[n] if after else None, y)
            if drawn:
                name = tag("title", escape(stage.colours[n].name))
                parts.append(tag("g", name + "".join(drawn)))
        line = y + STAGE_PX - 2
        for said, look in _said(stage):
            parts.append(words(width, line, said, text_anchor="end", **look))
            line += LINE_PX
    tail = LINE_PX * max(0, len(_said(stages[-1])) - 1) if stages else 0
    high = TOP_PX + STEP_PX * max(0, len(stages) - 1) + STAGE_PX + max(4.0, tail + 4.0)
    return svg(
        parts, Frame(width=width, height=high, title=title, text=True, class_="sd-mass-flow")
    )


def _said(stage: FlowStage) -> list[tuple[str, dict[str, Any]]]:
    """The words beside a stage, each with its look."""
    lines: list[tuple[str, dict[str, Any]]] = [
        (stage.name, {"size": 15, "font_weight": 600}),
        (stage.said, {"size": 15}),
        (stage.lost, {"class_": "sd-short", "fill": EMBER}),
        (stage.stays, {"class_": "sd-soft", "fill": SOFT}),
    ]
    return [(said, look) for said, look in lines if said]
