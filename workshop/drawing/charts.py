"""Curves with the bands they should keep to, and amounts side by side as bars."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil, floor, log10

from workshop.drawing.colours import checked
from workshop.drawing.svg import (
    AMBER,
    CLEAR,
    COBALT,
    CORD,
    GREEN,
    HAIR,
    INK,
    SOFT,
    WARM,
    Frame,
    num,
    svg,
    tag,
    words,
)

_CURVES = (("", AMBER), (" second", COBALT), (" third", GREEN))
MOST_POINTS = 400


@dataclass(frozen=True)
class Curve:
    """A line through points (x, y), with a name that is written at its end.

    ground  it is what the others are told against: a filled shape behind them
    """

    name: str
    points: tuple[tuple[float, float], ...]
    dashed: bool = False
    ground: bool = False


@dataclass(frozen=True)
class Band:
    """A range of y that means something, e.g. the window of a firing; calm ones are greenish."""

    name: str
    low: float
    high: float
    calm: bool = False


def ticks(low: float, high: float, about: int = 5) -> list[float]:
    """Round numbers from low to high, in steps of 1, 2 or 5 times a power of ten.

    >>> ticks(0, 97, 5)
    [0.0, 20.0, 40.0, 60.0, 80.0]
    """
    if high <= low:
        return [low]
    rough = (high - low) / about
    power = 10.0 ** floor(log10(rough))
    step = next(power * n for n in (1, 2, 5, 10) if power * n >= rough * 0.999)
    first = ceil(low / step - 1e-9)
    last = floor(high / step + 1e-9)
    return [step * n for n in range(first, last + 1)]


def _thinned(points: Sequence[tuple[float, float]]) -> Sequence[tuple[float, float]]:
    """At most some hundred points, ends kept: more than a screen can show."""
    if len(points) <= MOST_POINTS:
        return points
    step = (len(points) - 1) / (MOST_POINTS - 1)
    return [points[round(place * step)] for place in range(MOST_POINTS)]


def _plain(value: float) -> str:
    return f"{value:g}"


def _named_at(
    points: Sequence[tuple[float, float]], x0: float, x1: float, place: int
) -> tuple[float, float, str | None]:
    """Where a curve's name stands: the first at its top, others further on, on the free side."""
    if place == 0:
        x, y = max(points, key=lambda point: point[1])
        return x, y, "end" if x > (x0 + x1) / 2 else None
    aim = x0 + (x1 - x0) * (0.45 + 0.12 * place)
    at = min(range(len(points)), key=lambda n: abs(points[n][0] - aim))
    falling = points[min(at + 1, len(points) - 1)][1] < points[at][1]
    return *points[at], None if falling else "end"


@dataclass(frozen=True)
class Axes:
    """What stands at the axes.

    write  how numbers are written there (the locale's way is the caller's business)
    """

    x_name: str = ""
    y_name: str = ""
    write: Callable[[float], str] = _plain


def line_chart_svg(
    curves: Sequence[Curve],
    *,
    bands: Sequence[Band] = (),
    axes: Axes = Axes(),
    width: int = 420,
    height: int = 270,
    title: str = "",
) -> str:
    """Curves over a common ground."""
    xs = [x for curve in curves for x, _ in curve.points] or [0.0, 1.0]
    ys = [y for curve in curves for _, y in curve.points]
    ys += [edge for band in bands for edge in (band.low, band.high)]
    ys = ys or [0.0, 1.0]
    x0, x1 = min(xs), max(xs)
    y0, y1 = min(0.0, *ys), max(ys)
    x1 = x1 if x1 > x0 else x0 + 1
    y1 = (y1 if y1 > y0 else y0 + 1) + (y1 - y0) * 0.06
    left, right, top, foot = 46.0, width - 10.0, 26.0, height - 40.0

    def across(x: float) -> float:
        return left + (x - x0) / (x1 - x0) * (right - left)

    def up(y: float) -> float:
        return foot - (y - y0) / (y1 - y0) * (foot - top)

    def path(points: Sequence[tuple[float, float]]) -> str:
        return "M" + "L".join(f"{num(across(x))} {num(up(y))}" for x, y in _thinned(points))

    parts = []
    for curve in curves:
        if curve.ground and curve.points:
            closed = f"{path(curve.points)}V{num(foot)}H{num(across(curve.points[0][0]))}Z"
            parts.append(tag("path", d=closed, class_="sd-load pale", fill=WARM))
            middle = (across(curve.points[0][0]) + across(curve.points[-1][0])) / 2
            parts.append(words(middle, foot - 10, curve.name, text_anchor="middle"))
    parts += [
        tag(
            "rect",
            x=left,
            y=up(band.high),
            width=right - left,
            height=up(band.low) - up(band.high),
            class_="sd-band calm" if band.calm else "sd-band",
            fill=CLEAR if band.calm else AMBER,
            fill_opacity=0.16,
        )
        for band in bands
    ]
    for y in ticks(y0, y1):
        line = f"M{num(left)} {num(up(y))}H{num(right)}"
        parts.append(tag("path", d=line, class_="sd-hair", stroke=HAIR, stroke_width=1))
        parts.append(
            words(
                left - 8, up(y) + 4, axes.write(y), text_anchor="end", class_="sd-soft", fill=SOFT
            )
        )
    for x in ticks(x0, x1, max(4, width // 70)):
        parts.append(
            words(
                across(x),
                foot + 18,
                axes.write(x),
                text_anchor="middle",
                class_="sd-soft",
                fill=SOFT,
            )
        )
    axis = f"M{num(left)} {num(foot)}H{num(right)}"
    parts.append(tag("path", d=axis, class_="sd-axis", stroke=CORD, stroke_width=1))
    parts += [words(right - 6, up(band.high) + 15, band.name, text_anchor="end") for band in bands]
    for place, curve in enumerate(each for each in curves if not each.ground):
        kind, colour = _CURVES[place % len(_CURVES)]
        points = _thinned(curve.points)
        if not points:
            continue
        parts.append(
            tag(
                "path",
                d=path(points),
                fill="none",
                class_=f"sd-curve{kind}",
                stroke=colour,
                stroke_width=2,
                stroke_linejoin="round",
                stroke_dasharray="5 4" if curve.dashed else None,
            )
        )
        if curve.name:
            x, y, anchor = _named_at(points, x0, x1, place)
            parts.append(
                words(across(x), up(y) - 8, curve.name, text_anchor=anchor, font_weight=600)
            )
    parts.append(words(0, 13, axes.y_name, class_="sd-soft", fill=SOFT))
    parts.append(
        words(right, height - 4, axes.x_name, text_anchor="end", class_="sd-soft", fill=SOFT)
    )
    return svg(parts, Frame(width=width, height=height, title=title, text=True, class_="sd-chart"))


@dataclass(frozen=True)
class Bar:
    """One amount: its name, how long, the words at its end, and its colour if it has one."""

    name: str
    amount: float
    said: str
    colour: str = GREEN
    short: bool = False


def bars_svg(bars: Sequence[Bar], *, width: int = 332, title: str = "") -> str:
    """Amounts one below the other, each named above its bar; the largest fills the width."""
    whole = max((bar.amount for bar in bars), default=1.0) or 1.0
    parts = []
    for place, bar in enumerate(bars):
        y = place * 40
        parts.append(words(0, y + 16, bar.name, size=15))
        parts.append(
            words(
                width,
                y + 16,
                bar.said,
                size=15,
                text_anchor="end",
                font_weight=600,
                class_="sd-short" if bar.short else "sd-ink",
            )
        )
        parts.append(
            tag("rect", x=0, y=y + 25, width=width, height=1, class_="sd-hair-fill", fill=HAIR)
        )
        parts.append(
            tag(
                "rect",
                x=0,
                y=y + 23,
                width=float(width * min(1.0, max(0.0, bar.amount / whole))),
                height=5,
                fill=checked(bar.colour),
                class_="sd-edge",
                stroke=INK,
                stroke_opacity=0.3,
                stroke_width=0.75,
            )
        )
    return svg(
        parts, Frame(width=width, height=40 * len(bars), title=title, text=True, class_="sd-bars")
    )
