"""One load of a kiln, or one run of rounds, as its heating curve with its beads beneath.

Height is the heat, width the time until the kiln may be opened, so cooling needs no gap of its
own. Times are whole minutes from midnight of the first day.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape
from itertools import pairwise
from math import exp

from workshop.drawing.svg import (
    AMBER,
    COBALT,
    EMBER,
    INK,
    SOFT,
    WARM,
    num,
    tag,
    words,
)

LETTER_PX = 6.2  # a usual letter of 13 px type
TOUCH_PX = 44.0
DOT_PX = 9.0
DOTS_PX = 110.0  # the dots of a short load reach no further
HOTTEST_C = 1000.0
ROUND = "#e2c48c"


@dataclass(frozen=True)
class TrayDots:
    """Beads of one kind in a load: a dot for each mould place, in the glass's own colour.

    key, said, href  its own key, words and page: it can be taken hold of; "" where it cannot
    load             the key of the load it stands in
    """

    colour: str
    places: int
    key: str = ""
    said: str = ""
    href: str = ""
    moulds: int = 0
    load: str = ""


@dataclass(frozen=True)
class LoadBar:
    """One load in one kiln.

    kiln         its row, one of the names given to the drawing
    start_min    when the fire is lit, minutes from midnight of the first day
    held_min     when its heat is reached; of a round, when its moulds go in
    fired_min    when the firing ends and cooling begins
    free_min     when the kiln may be opened; of a round, when its last bead is out
    number       as it is spoken of, e.g. "174"
    heat_c       at which it is held
    foot         what is in it in words, the longest that may be said first
    state        "planned", "burning", "cooling" (out, and cooling apart), "kept" (room kept, not
                 planned) or "gone" (where it stood)
    word         how it stands, e.g. "burning since 07:06"; changed: what a plan does to it
    is_round     a filling of a kiln kept hot; lit: the kiln is lit for it
    said, href   a whole sentence for the pointer and the listener; the load's own page
    key          trays may be put into it; "" where not
    """

    kiln: str
    start_min: int
    held_min: int
    fired_min: int
    free_min: int
    number: str = ""
    heat_c: float = 800
    foot: tuple[str, ...] = ()
    trays: tuple[TrayDots, ...] = ()
    empty: int = 0
    state: str = "planned"
    word: str = ""
    changed: str = ""
    late: bool = False
    pinned: bool = False
    is_round: bool = False
    lit: bool = True
    said: str = ""
    href: str = ""
    key: str = ""


@dataclass(frozen=True)
class Scale:
    """Where each minute lies across: stretches of time and of the paper, one after another."""

    parts: tuple[tuple[float, float, float, float], ...]

    def x(self, minute: float) -> float:
        for start, end, left, right in self.parts:
            if minute <= end:
                share = max(0.0, minute - start) / max(1.0, end - start)
                return left + (right - left) * share
        return self.parts[-1][3]

    @property
    def first(self) -> float:
        return self.parts[0][0]

    @property
    def last(self) -> float:
        return self.parts[-1][1]

    @property
    def right(self) -> float:
        return self.parts[-1][3]


@dataclass(frozen=True)
class Row:
    """One kiln's line: where its words, its curves and its floor lie."""

    label_y: float
    base: float
    tall: float

    def y(self, heat_c: float) -> float:
        return self.base - self.tall * min(1.0, max(0.3, heat_c / HOTTEST_C))


def _curve(load: LoadBar, scale: Scale, row: Row) -> list[tuple[float, float]]:
    """The heat of a load on the paper: up, held, and down as what cools does."""
    top = row.y(load.heat_c)
    if load.is_round:
        left, right = scale.x(load.held_min), scale.x(load.free_min)
        right = max(right, left + 3)
        return [(left, row.base), (left, top), (right, top), (right, row.base)]
    points = [(scale.x(load.start_min), row.base), (scale.x(load.held_min), top)]
    cooling = load.free_min - load.fired_min
    steps = 14
    for step in range(steps + 1):
        share = step / steps
        height = (exp(-3 * share) - exp(-3)) / (1 - exp(-3))
        at = load.fired_min + cooling * share
        points.append((scale.x(at), row.base - (row.base - top) * height))
    return points


def _path(points: Iterable[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{num(x)} {num(y)}" for x, y in points) + "Z"


def _until(points: Sequence[tuple[float, float]], at: float) -> list[tuple[float, float]]:
    """The part of a curve left of a place, closed down to the floor."""
    base = points[0][1]
    found = [points[0]]
    for (a, up), (b, down) in pairwise(points):
        if b <= at:
            found.append((b, down))
            continue
        if a < at:
            found.append((at, up + (down - up) * (at - a) / (b - a)))
        break
    return [*found, (found[-1][0], base)]


def load_shape(load: LoadBar, scale: Scale, row: Row, now_x: float | None, prefix: str) -> str:
    points = _curve(load, scale, row)
    path = _path(points)
    if load.state == "gone":
        return tag(
            "path", d=path, fill="none", stroke=SOFT, stroke_dasharray="1.5 3", class_="sd-gone"
        )
    fill, edge, class_ = (ROUND if load.is_round else WARM), AMBER, "sd-load"
    class_ += " round" if load.is_round else ""
    if load.state == "kept":
        drawn = tag(
            "path", d=path, fill=f"url(#{prefix}-hatch)", stroke=edge, stroke_dasharray="4 3",
            class_="sd-kept",
        )  # fmt: skip
    else:
        burns = load.state == "burning"
        stroke = COBALT if load.changed else EMBER if burns else edge
        class_ += " burning" if burns else ""
        class_ += " changed" if load.changed else ""
        class_ += " cooling" if load.state == "cooling" else ""
        wide = 2.0 if burns or load.changed else 1.0
        drawn = tag("path", d=path, fill=fill, class_=class_, stroke=stroke, stroke_width=wide)
        if burns and now_x is not None and now_x > points[0][0]:
            drawn += tag("path", d=_path(_until(points, now_x)), fill=f"url(#{prefix}-burn)")
    left, right = points[0][0], points[-1][0]
    if load.late:
        drawn += tag(
            "path", d=f"M{num(left)} {num(row.base + 1.5)}H{num(right)}", stroke=EMBER,
            stroke_width=3.5, class_="sd-late-line",
        )  # fmt: skip
    if load.pinned:
        drawn += tag(
            "path", d=f"M{num(left + 5)} {num(row.base)}v-16", stroke=INK, class_="sd-pin-line"
        ) + tag("circle", cx=left + 5, cy=row.base - 19, r=4.0, fill=INK, class_="sd-pin")
    return drawn


def runs_of(loads: Iterable[LoadBar]) -> list[list[LoadBar]]:
    """Loads as they are told of: a closed load alone, the rounds of one lighting together."""
    found: list[list[LoadBar]] = []
    ordered = sorted(loads, key=lambda one: (one.start_min, one.number))
    for load in (one for one in ordered if one.state != "gone"):
        if load.is_round and not load.lit and found and found[-1][0].is_round:
            found[-1].append(load)
        else:
            found.append([load])
    found += [[one] for one in ordered if one.state == "gone"]
    return sorted(found, key=lambda run: run[0].start_min)


def run_under(run: Sequence[LoadBar], scale: Scale, row: Row) -> str:
    """What lies behind the rounds of a run: its warm-up, and the heat kept between them."""
    first, last = run[0], run[-1]
    if not first.is_round or first.state == "gone":
        return ""
    top = row.y(first.heat_c)
    points = [
        (scale.x(first.start_min), row.base),
        (scale.x(first.held_min), top),
        (scale.x(last.free_min), top),
        (scale.x(last.free_min), row.base),
    ]
    return tag("path", d=_path(points), fill=WARM, class_="sd-load pale", fill_opacity=0.6)


def _fitting(said: Sequence[str], room: float) -> str:
    return next((text for text in said if len(text) * LETTER_PX <= room), "")


def _heading(run: Sequence[LoadBar], left: float, room: float, row: Row) -> str:
    """The number of a load, or of the rounds of a run, with its heat and how it stands."""
    first = run[0]
    numbers = [load.number for load in run]
    said = (", ".join(numbers), f"{numbers[0]} …", numbers[0])
    number = next((text for text in said if len(text) * LETTER_PX * 1.15 <= room), "")
    gone = first.state == "gone"
    if not number:
        return ""
    soft = "sd-soft" if gone else "sd-ink"
    drawn = words(
        left,
        row.label_y,
        number,
        class_=f"{soft} sd-halo",
        fill=SOFT if gone else INK,
        font_weight=700,
    )
    x = left + len(number) * LETTER_PX * 1.2 + 5
    heat = f"{first.heat_c:.0f} °C"
    if x - left + len(heat) * LETTER_PX <= room:
        drawn += words(x, row.label_y, heat, class_=f"{soft} sd-halo", fill=SOFT if gone else INK)
        x += len(heat) * LETTER_PX + 7
    hot = first.late or first.state == "burning"
    told = ("sd-short", EMBER) if hot else ("sd-soft", SOFT)
    for word, class_, fill in ((first.word, *told), (first.changed, "sd-changed", COBALT)):
        if word and x - left + len(word) * LETTER_PX * 1.05 <= room:
            drawn += words(
                x, row.label_y, word, class_=f"{class_} sd-halo", fill=fill, font_weight=600
            )
            x += len(word) * LETTER_PX * 1.05 + 7
    return drawn


def _dots(run: Sequence[LoadBar], left: float, room: float, y: float) -> str:
    """Beads by colour, a dot a mould place, fewer where room is short; rings for what is free."""
    trays = [tray for load in run for tray in load.trays]
    if len(trays) * DOT_PX > room:
        trays = _by_colour(trays, int(room / DOT_PX))
    empty = run[0].empty if len(run) == 1 else 0
    whole = sum(tray.places for tray in trays) + empty
    step = DOT_PX
    most = max(1, int(room / step))
    scale = min(1.0, most / whole) if whole else 1.0
    drawn, x = "", left + DOT_PX / 2 - 1
    for tray in trays:
        many = max(1, int(tray.places * scale))
        dots = "".join(
            tag("circle", cx=x + n * step, cy=y, r=DOT_PX / 2 - 0.6, fill=tray.colour,
                class_="sd-edge", stroke=INK, stroke_opacity=0.3, stroke_width=0.8)
            for n in range(many)
        )  # fmt: skip
        if tray.key:
            reach = tag(
                "rect", x=x - step / 2, y=y - TOUCH_PX / 2, width=max(24.0, many * step),
                height=TOUCH_PX - 6, fill="none", pointer_events="all",
            )  # fmt: skip
            said = tag("title", escape(tray.said))
            drawn += tag(
                "a", said + reach + dots, href=tray.href, data_tray=tray.key, data_said=tray.said,
                data_moulds=tray.moulds, data_of=tray.load, data_grip="", class_="sd-tray",
            )  # fmt: skip
        else:
            drawn += dots
        x += many * step
    for n in range(round(empty * scale)):
        if x + n * step > left + room:
            break
        drawn += tag(
            "circle", cx=x + n * step, cy=y, r=2.2, fill="none", stroke=SOFT, stroke_width=0.8,
            class_="sd-empty",
        )  # fmt: skip
    return drawn


def _by_colour(trays: Iterable[TrayDots], most: int) -> list[TrayDots]:
    """Where not every tray has room for a dot: the colours there is most of, a dot each."""
    places: dict[str, int] = {}
    for tray in trays:
        places[tray.colour] = places.get(tray.colour, 0) + tray.places
    first = sorted(places, key=lambda colour: -places[colour])[: max(1, most)]
    return [TrayDots(colour, places[colour]) for colour in first]


def _run(
    run: Sequence[LoadBar], scale: Scale, row: Row, until: float, now_x: float | None, prefix: str
) -> str:
    """One load, or the rounds of one lighting, with words above and below."""
    first = run[0]
    left = scale.x(first.start_min)
    room = until - left - 6
    parts = [run_under(run, scale, row)]
    for load in run:
        shape = load_shape(load, scale, row, now_x, prefix)
        at, end = scale.x(load.start_min), scale.x(load.free_min)
        reach = tag(
            "rect", x=at, y=row.base - row.tall, width=max(TOUCH_PX / 2, end - at),
            height=row.tall + 2, fill="none", pointer_events="all",
        )  # fmt: skip
        inside = tag("title", escape(load.said or load.number)) + reach + shape
        if load.href:
            said = load.said if load.key else None
            parts.append(
                tag("a", inside, href=load.href, data_load=load.key or None, data_said=said)
            )
        else:
            parts.append(tag("g", inside))
    parts.append(_heading(run, left, room, row))
    if first.state != "gone":
        reach_px = max(DOTS_PX, scale.x(run[-1].free_min) - left)
        parts.append(_dots(run, left, max(DOT_PX, min(room, reach_px)), row.base + 11))
        foot = _fitting(first.foot, room)
        late = any(load.late for load in run)
        parts.append(
            words(
                left, row.base + 32, foot, class_="sd-short" if late else "sd-soft",
                fill=EMBER if late else SOFT, font_weight=600 if late else None,
            )
        )  # fmt: skip
    return "".join(parts)


def loads_drawn(
    loads: Sequence[LoadBar], kiln: str, scale: Scale, row: Row, now_x: float | None, prefix: str
) -> list[str]:
    mine = [
        load for load in loads
        if load.kiln == kiln and load.free_min > scale.first and load.start_min < scale.last
    ]  # fmt: skip
    runs = runs_of(mine)
    drawn = []
    for place, run in enumerate(runs):
        after = runs[place + 1][0] if place + 1 < len(runs) else None
        until = scale.x(after.start_min) if after else scale.right
        drawn.append(_run(run, scale, row, until, now_x, prefix))
    return drawn
