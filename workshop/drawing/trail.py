"""The path of some glass: where it was, step below step, and the cords it went along.

A stop is a bead as large as its glass is heavy, a cord as thick. Where more stops stand beside each
other than the width can name, the lightest are one hollow bead that says how many.
"""

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from math import sqrt

from workshop.drawing.colours import checked
from workshop.drawing.svg import CORD, GREEN, INK, PAPER, SOFT, Frame, num, svg, tag, words

ROW_PX, HEAD_PX, STOP_AT_PX, NAME_PX = 92.0, 14.0, 38.0, 82.0
LEAST_R, MOST_R = 5.0, 13.0
LEAST_CORD, MOST_CORD = 1.0, 12.0


@dataclass(frozen=True)
class TrailStop:
    """One posting that glass passed through.

    row     the step it stands at, counted from the top
    mass_g  the glass that is followed
    lines   at most two short lines beneath it, e.g. "sack 12" and a day
    colour  of the glass where it is one, else drawn green
    href    where a tap leads
    """

    key: int
    row: int
    mass_g: float
    lines: tuple[str, ...] = ()
    colour: str = ""
    href: str = ""


@dataclass(frozen=True)
class _Placed:
    """A stop where it is drawn; of several that share a hollow bead, the first."""

    stop: TrailStop
    x: float
    y: float
    more: str = ""


def trail_svg(
    rows: Sequence[str],
    stops: Sequence[TrailStop],
    cords: Mapping[tuple[int, int], float],
    *,
    more: Callable[[int], str] = str,
    width: int = 332,
    title: str = "",
) -> str:
    """Rows of stops, each with its name at the left above it, and grams along the cords.

    more  how so many further stops are named
    """
    whole = max((stop.mass_g for stop in stops), default=1.0) or 1.0
    placed = _placed(len(rows), stops, cords, more, width)
    parts = _cords(placed, cords, whole)
    drawn: set[int] = set()
    for place, name in enumerate(rows):
        parts.append(words(0, place * ROW_PX + HEAD_PX, name, font_weight=600))
    for at in placed.values():
        if at.stop.key not in drawn:
            drawn.add(at.stop.key)
            parts.append(_stop(at, whole))
    high = ROW_PX * len(rows)
    opens = any(stop.href for stop in stops)
    return svg(
        parts,
        Frame(width=width, height=high, title=title, text=True, class_="sd-trail", opens=opens),
    )


def _placed(
    rows: int,
    stops: Sequence[TrailStop],
    cords: Mapping[tuple[int, int], float],
    more: Callable[[int], str],
    width: float,
) -> dict[int, _Placed]:
    """Each stop near what leads to it, so that cords cross little."""
    into: dict[int, list[tuple[int, float]]] = defaultdict(list)
    for (start, end), mass in cords.items():
        into[end].append((start, mass))
    placed: dict[int, _Placed] = {}

    def wished(stop: TrailStop) -> float:
        came = [(placed[start].x, mass) for start, mass in into[stop.key] if start in placed]
        weight = sum(mass for _x, mass in came)
        return sum(x * mass for x, mass in came) / weight if weight else width / 2

    most = max(2, int(width // NAME_PX))
    for row in range(rows):
        here = sorted((s for s in stops if s.row == row), key=lambda s: -s.mass_g)
        alone = here if len(here) <= most else here[: most - 1]
        folded = here[len(alone) :]
        y = row * ROW_PX + STOP_AT_PX
        wide = width / (len(alone) + bool(folded) or 1)
        for n, stop in enumerate(sorted(alone, key=wished)):
            placed[stop.key] = _Placed(stop, (n + 0.5) * wide, y)
        for stop in folded:
            placed[stop.key] = _Placed(folded[0], width - wide / 2, y, more(len(folded)))
    return placed


def _cords(
    placed: Mapping[int, _Placed], cords: Mapping[tuple[int, int], float], whole: float
) -> list[str]:
    """One cord between two beads, however many of the folded it joins."""
    joined: dict[tuple[float, float, float, float], float] = defaultdict(float)
    for (start, end), mass in cords.items():
        if start in placed and end in placed:
            a, b = placed[start], placed[end]
            joined[a.x, a.y, b.x, b.y] += mass
    return [
        tag(
            "path",
            d=f"M{num(x0)} {num(y0)}C{num(x0)} {num((y0 + y1) / 2)} "
            f"{num(x1)} {num((y0 + y1) / 2)} {num(x1)} {num(y1)}",
            fill="none",
            class_="sd-cord",
            stroke=CORD,
            stroke_opacity=0.45,
            stroke_width=LEAST_CORD + (MOST_CORD - LEAST_CORD) * min(1.0, mass / whole),
        )
        for (x0, y0, x1, y1), mass in joined.items()
    ]


def _stop(at: _Placed, whole: float) -> str:
    stop = at.stop
    r = LEAST_R + (MOST_R - LEAST_R) * sqrt(min(1.0, stop.mass_g / whole))
    hollow = bool(at.more)
    bead = tag(
        "circle",
        cx=at.x,
        cy=at.y,
        r=LEAST_R if hollow else r,
        fill=PAPER if hollow else checked(stop.colour) if stop.colour else GREEN,
        class_="sd-todo" if hollow else "sd-edge" if stop.colour else "sd-done",
        stroke=CORD if hollow else INK,
        stroke_opacity=None if hollow else 0.3,
        stroke_width=1,
    )
    lines = (at.more,) if hollow else stop.lines
    text = [
        words(
            at.x,
            at.y + MOST_R + 14 + 15 * n,
            line,
            text_anchor="middle",
            class_="sd-ink sd-halo" if n == 0 else "sd-soft sd-halo",
            fill=INK if n == 0 else SOFT,
            stroke=PAPER,
            stroke_width=4,
            paint_order="stroke",
        )
        for n, line in enumerate(lines)
    ]
    drawn = bead + "".join(text)
    if hollow or not stop.href:
        return tag("g", drawn)
    # The whole place of the stop can be tapped.
    room = tag(
        "rect",
        x=at.x - 36,
        y=at.y - 15,
        width=72,
        height=60,
        fill="none",
        pointer_events="all",
    )
    return tag("a", room + drawn, href=stop.href, aria_label=escape(" ".join(stop.lines)))
