"""The kilns over some days: what is fired when, and how long each kiln then cools.

Times are whole minutes from midnight of the first day. A week is drawn for wide screens and
paper; for a phone each day is drawn alone, large enough to read and to touch.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from workshop.drawing.svg import AMBER, EMBER, HAIR, PAPER, SOFT, Frame, num, svg, tag, words

DAY_MIN = 24 * 60
PHONE_PX = 332  # beside the margins of a narrow telephone
LETTER_PX = 6.4  # a usual letter of 13 px type
ROW_PX, BAR_PX = 58, 22
TOUCH_PX = 44


@dataclass(frozen=True)
class LoadBar:
    """One load in one kiln.

    kiln         its row, one of the names given to the drawing
    start_min    when the fire is lit, minutes from midnight of the first day
    fired_min    when the firing ends and cooling begins
    free_min     when the kiln may be opened
    label        short, e.g. "24/24 · 720 °C"
    said         a whole sentence for the pointer and the listener
    hot          drawn in red-brown: above what its beads or kiln want, or late
    href         the load's own page
    kept         only an outline: room that is kept and not planned yet
    """

    kiln: str
    start_min: int
    fired_min: int
    free_min: int
    label: str
    said: str = ""
    hot: bool = False
    href: str = ""
    kept: bool = False


@dataclass(frozen=True)
class _Hours:
    """The part of each day that is drawn, and where it lies across."""

    first: int
    last: int
    left: float
    day_px: float

    def spans(self, start_min: int, end_min: int, days: int) -> list[tuple[float, float]]:
        """Where a stretch of time lies, day by day, with the hours that are not drawn left out."""
        found = []
        for day in range(days):
            opens, shuts = day * DAY_MIN + self.first * 60, day * DAY_MIN + self.last * 60
            begin, end = max(start_min, opens), min(end_min, shuts)
            if begin < end:
                found.append((self.x(day, begin - opens), self.x(day, end - opens)))
        return found

    def x(self, day: int, minutes: float) -> float:
        return self.left + self.day_px * (day + minutes / ((self.last - self.first) * 60))


def _bar(load: LoadBar, hours: _Hours, y: float, days: int) -> tuple[str, float, float]:
    """The load's bars, and from where to where the first of them reaches."""
    hot = " hot" if load.hot else ""
    colour = EMBER if load.hot else AMBER
    fired = hours.spans(load.start_min, load.fired_min, days)
    cooling = hours.spans(load.fired_min, load.free_min, days)
    parts = [
        tag(
            "rect",
            x=a,
            y=y + BAR_PX * 0.28,
            width=b - a,
            height=BAR_PX * 0.44,
            class_=f"sd-cooling-fill{hot}",
            fill=colour,
            fill_opacity=0.28,
        )
        for a, b in cooling
    ]
    parts += [
        tag(
            "rect",
            x=a,
            y=y,
            width=max(3.0, b - a),
            height=float(BAR_PX),
            rx=min(BAR_PX / 2, max(1.5, (b - a) / 2)),
            class_=f"sd-load{' kept' if load.kept else ''}{hot}",
            fill=colour,
            fill_opacity=0.12 if load.kept else None,
            stroke=colour if load.kept else None,
            stroke_dasharray="4 3" if load.kept else None,
        )
        for a, b in fired
    ]
    reach = fired or cooling or [(0.0, 0.0)]
    return "".join(parts), reach[0][0], reach[0][1]


def _label(load: LoadBar, left: float, right: float, y: float, taken: float) -> tuple[str, float]:
    """The label in its bar if it fits, else under it; left out where it would meet another."""
    wide = len(load.label) * LETTER_PX + 18
    if wide <= right - left and not load.kept:
        text = words(
            left + 9, y + 15.5, load.label, class_="sd-load-text", fill=PAPER, font_weight=600
        )
        return text, taken
    if left < taken:
        return "", taken
    return words(left, y + BAR_PX + 15, load.label, class_="sd-ink"), left + wide


def _loads(loads: Sequence[LoadBar], kiln: str, hours: _Hours, y: float, days: int) -> list[str]:
    drawn, taken = [], 0.0
    for load in sorted((one for one in loads if one.kiln == kiln), key=lambda one: one.start_min):
        bars, left, right = _bar(load, hours, y, days)
        if not bars:
            continue
        text, taken = _label(load, left, right, y, taken)
        said = tag("title", escape(load.said or load.label))
        # The whole row's height answers to a thumb, not only the bar.
        reach = tag(
            "rect",
            x=left,
            y=y - (TOUCH_PX - BAR_PX) / 2,
            width=max(float(TOUCH_PX), right - left),
            height=float(TOUCH_PX),
            fill="none",
            pointer_events="all",
        )
        inside = said + reach + bars + text
        drawn.append(tag("a", inside, href=load.href) if load.href else tag("g", inside))
    return drawn


def _hour_lines(hours: _Hours, days: int, top: float, foot: float, every: int) -> list[str]:
    """A stronger line where each day begins, and hours between with their numbers."""
    parts = []
    for day in range(days):
        for hour in range(hours.first, hours.last, 1):
            if hour != hours.first and hour % every:
                continue
            x = hours.x(day, (hour - hours.first) * 60)
            first = hour == hours.first
            parts.append(
                tag(
                    "path",
                    d=f"M{num(x)} {num(top if first else top + 6)}V{num(foot)}",
                    class_="sd-hair",
                    stroke=HAIR,
                    stroke_width=1.0 if first else 0.5,
                )
            )
            parts.append(
                words(
                    x + 4 if first else x,
                    top + 2,
                    f"{hour}",
                    size=11,
                    class_="sd-soft",
                    fill=SOFT,
                    text_anchor=None if first else "middle",
                )
            )
    return parts


def _now(x: float, top: float, foot: float) -> str:
    return tag(
        "path",
        d=f"M{num(x)} {num(top)}V{num(foot)}",
        class_="sd-now-line",
        stroke=EMBER,
        stroke_width=1.5,
    )


def kiln_week_svg(
    kilns: Sequence[str],
    days: Sequence[str],
    loads: Sequence[LoadBar],
    *,
    width: int = 1040,
    hours: tuple[int, int] = (0, 24),
    now_min: int | None = None,
    title: str = "",
) -> str:
    """Kilns down, days across.

    days     their names in order, e.g. "Wed 25"
    hours    first and last hour of the day that are drawn
    now_min  where the present stands, minutes from midnight of the first day
    """
    names_px = 18 + LETTER_PX * 1.2 * max((len(name) for name in kilns), default=8)
    names_px = min(names_px, width * 0.22)
    count = max(1, len(days))
    grid = _Hours(hours[0], hours[1], names_px, (width - names_px - 1) / count)
    top, foot = 40.0, 44.0 + ROW_PX * len(kilns)
    every = 6 if grid.day_px > 150 else 12
    parts = [words(grid.x(day, 0) + 4, 16, name, size=15) for day, name in enumerate(days)]
    parts += _hour_lines(grid, count, top - 8, foot, every)
    for row, kiln in enumerate(kilns):
        y = top + 6 + row * ROW_PX
        parts.append(words(0, y + 17, kiln, size=15, class_="sd-soft", fill=SOFT))
        line = y + ROW_PX - 6
        parts.append(
            tag("path", d=f"M0 {num(line)}H{width}", class_="sd-hair", stroke=HAIR, stroke_width=1)
        )
        parts += _loads(loads, kiln, grid, y, count)
    if now_min is not None and (here := grid.spans(now_min, now_min + 1, count)):
        parts.append(_now(here[0][0], top - 8, foot))
    return _calendar(parts, width, foot + 4, title, loads)


def kiln_day_svg(
    kilns: Sequence[str],
    day: str,
    loads: Sequence[LoadBar],
    *,
    day_number: int = 0,
    hours: tuple[int, int] = (0, 24),
    now_min: int | None = None,
) -> str:
    """One day for a phone; `day_number` says which, the loads are the same as for the week."""
    shift = day_number * DAY_MIN
    today = [
        LoadBar(
            load.kiln,
            load.start_min - shift,
            load.fired_min - shift,
            load.free_min - shift,
            load.label,
            load.said,
            load.hot,
            load.href,
            load.kept,
        )
        for load in loads
        if load.free_min > shift and load.start_min < shift + DAY_MIN
    ]
    grid = _Hours(hours[0], hours[1], 0.5, PHONE_PX - 1.0)
    top, row_px = 50.0, 76
    foot = top + row_px * len(kilns)
    every = 3 if (hours[1] - hours[0]) <= 18 else 4
    parts = [words(0, 16, day, size=17, font_weight=600)]
    parts += _hour_lines(grid, 1, top - 14, foot, every)
    for row, kiln in enumerate(kilns):
        y = top + row * row_px
        parts.append(words(5, y + 14, kiln, size=14, class_="sd-soft", fill=SOFT))
        parts += _loads(today, kiln, grid, y + 22, 1)
        line = y + row_px - 2
        parts.append(
            tag(
                "path",
                d=f"M0 {num(line)}H{PHONE_PX}",
                class_="sd-hair",
                stroke=HAIR,
                stroke_width=1,
            )
        )
    if now_min is not None and (here := grid.spans(now_min - shift, now_min - shift + 1, 1)):
        parts.append(_now(here[0][0], top - 14, foot))
    return _calendar(parts, PHONE_PX, foot + 4, day, today)


def _calendar(
    parts: list[str], width: int, height: float, title: str, loads: Sequence[LoadBar]
) -> str:
    opens = any(load.href for load in loads)
    return svg(
        parts,
        Frame(
            width=width,
            height=height,
            title=title,
            text=True,
            opens=opens,
            class_="sd-calendar",
        ),
    )
