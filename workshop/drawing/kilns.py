"""The kilns over some days: each load its own heating curve, with its beads beneath.

Height is the heat, width the time until the kiln may be opened, so cooling needs no gap of its
own. A kiln kept hot is one warm-up and its rounds one after another. Times are whole minutes from
midnight of the first day. A week is drawn for wide screens; for a phone each day alone.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from html import escape
from itertools import pairwise
from math import exp

from workshop.drawing.svg import (
    AMBER,
    COBALT,
    EMBER,
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

DAY_MIN = 24 * 60
PHONE_PX = 332  # beside the margins of a narrow telephone
LETTER_PX = 6.2  # a usual letter of 13 px type
NIGHT_PX = 10.0
TODAY_WIDE = 2.0  # the first day of a week is so many times as wide as another
ROW_PX, PHONE_ROW_PX, EMPTY_ROW_PX = 132.0, 146.0, 62.0
FOOT_PX = 46.0  # below a curve: its beads and its words
TOUCH_PX = 44.0
DOT_PX = 9.0
DOTS_PX = 110.0  # the dots of a short load reach no further
HOTTEST_C = 1000.0
ROUND, FLAME, NIGHT = "#e2c48c", "#dd8a2c", "#efe7d6"


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
class NoFire:
    """A day on which a kiln is not fired; kiln "" for every one. day: its number."""

    day: int
    kiln: str
    label: str


@dataclass(frozen=True)
class _Scale:
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


def _scale(
    days: Sequence[int], hours: tuple[int, int], left: float, right: float, first_wide: float
) -> _Scale:
    opens, shuts = hours[0] * 60, hours[1] * 60
    night = NIGHT_PX if shuts - opens < DAY_MIN else 0.0
    room = right - left - night * (len(days) - 1)
    each = room / (len(days) - 1 + first_wide)
    parts, at = [], left
    for place, day in enumerate(days):
        wide = each * (first_wide if place == 0 else 1.0)
        parts.append((day * DAY_MIN + opens, day * DAY_MIN + shuts, at, at + wide))
        at += wide
        if place < len(days) - 1 and night:
            next_day = (day + 1) * DAY_MIN + opens
            parts.append((day * DAY_MIN + shuts, next_day, at, at + night))
            at += night
    return _Scale(tuple((float(a), float(b), c, d) for a, b, c, d in parts))


@dataclass(frozen=True)
class _Row:
    """One kiln's line: where its words, its curves and its floor lie."""

    label_y: float
    base: float
    tall: float

    def y(self, heat_c: float) -> float:
        return self.base - self.tall * min(1.0, max(0.3, heat_c / HOTTEST_C))


def _curve(load: LoadBar, scale: _Scale, row: _Row) -> list[tuple[float, float]]:
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


def _shape(load: LoadBar, scale: _Scale, row: _Row, now_x: float | None, prefix: str) -> str:
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


def _under(run: Sequence[LoadBar], scale: _Scale, row: _Row) -> str:
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


def _heading(run: Sequence[LoadBar], left: float, room: float, row: _Row) -> str:
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
    run: Sequence[LoadBar], scale: _Scale, row: _Row, until: float, now_x: float | None, prefix: str
) -> str:
    """One load, or the rounds of one lighting, with words above and below."""
    first = run[0]
    left = scale.x(first.start_min)
    room = until - left - 6
    parts = [_under(run, scale, row)]
    for load in run:
        shape = _shape(load, scale, row, now_x, prefix)
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


def _loads(
    loads: Sequence[LoadBar], kiln: str, scale: _Scale, row: _Row, now_x: float | None, prefix: str
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


def _defs(prefix: str) -> str:
    """What burns is ember above and flame below; what is only kept is hatched."""
    burn = tag("stop", offset="0", stop_color=EMBER) + tag("stop", offset="1", stop_color=FLAME)
    hatch = tag("path", d="M0 6L6 0", stroke=AMBER, stroke_width=0.7, class_="sd-hatch")
    return tag(
        "defs",
        tag("linearGradient", burn, id=f"{prefix}-burn", x1="0", y1="0", x2="0", y2="1")
        + tag(
            "pattern", hatch, id=f"{prefix}-hatch", width="6", height="6",
            patternUnits="userSpaceOnUse",
        ),
    )  # fmt: skip


def _night(scale: _Scale, days: int, top: float, foot: float) -> list[str]:
    """The hours nobody works, as a narrow strip between the days."""
    return [
        tag("rect", x=left, y=top, width=right - left, height=foot - top, fill=NIGHT,
            class_="sd-night")
        for _start, _end, left, right in scale.parts[1:: 2 if days < len(scale.parts) else 10**6]
    ]  # fmt: skip


def _hours(
    scale: _Scale, day: int, hours: tuple[int, int], every: int, top: float, foot: float
) -> list[str]:
    parts = []
    for hour in range(hours[0], hours[1] + 1):
        if hour != hours[0] and (hour % every or hour == hours[1]):
            continue
        x = scale.x(day * DAY_MIN + hour * 60)
        first = hour == hours[0]
        parts.append(
            tag("path", d=f"M{num(x)} {num(top)}V{num(foot)}", class_="sd-hair", stroke=HAIR,
                stroke_width=1.0 if first else 0.5)
        )  # fmt: skip
        if not first:
            parts.append(
                words(x, top - 5, f"{hour}", size=12, class_="sd-soft", fill=SOFT,
                      text_anchor="middle")
            )  # fmt: skip
    return parts


def _now(x: float, top: float, foot: float, clock: str) -> str:
    """The present: a line through all kilns, and its hour on a bead of ink."""
    line = tag(
        "path", d=f"M{num(x)} {num(top)}V{num(foot)}", class_="sd-now-line", stroke=INK,
        stroke_width=1.5,
    )  # fmt: skip
    if not clock:
        return line
    wide = len(clock) * 7.0 + 12
    pill = tag(
        "rect", x=x - wide / 2, y=top - 18, width=wide, height=18.0, rx=9.0, fill=INK,
        class_="sd-now-pill",
    )  # fmt: skip
    text = words(
        x, top - 5, clock, size=12, class_="sd-now-text", fill="#f7f2e8", text_anchor="middle"
    )
    return line + pill + text


def _no_fire(
    closed: Iterable[NoFire], kilns: Sequence[str], scale: _Scale, rows: Sequence[_Row],
    hours: tuple[int, int],
) -> list[str]:  # fmt: skip
    parts = []
    for each in closed:
        left = scale.x(each.day * DAY_MIN + hours[0] * 60)
        right = scale.x(each.day * DAY_MIN + hours[1] * 60)
        for kiln, row in zip(kilns, rows, strict=True):
            if right - left < 4 or each.kiln not in {"", kiln}:
                continue
            top = row.label_y - 20
            tall = row.base + FOOT_PX - top
            parts.append(
                tag("rect", x=left, y=top, width=right - left, height=tall, fill=NIGHT,
                    class_="sd-night")
            )  # fmt: skip
            parts.append(
                words((left + right) / 2, top + 16, each.label, size=12, class_="sd-soft",
                      fill=SOFT, text_anchor="middle")
            )  # fmt: skip
    return parts


@dataclass(frozen=True, slots=True)
class DrawnDays:
    """How days of the kilns are drawn, many at once or one alone.

    hours    first and last hour of the day that are drawn; the night between is a narrow strip
    now_min  where the present stands, minutes from midnight of the first day; now: as it is told
    closed   days without firing
    row_px   how tall a kiln in use is; one day alone has a phone's rows
    prefix   begins the names inside, so that two drawings of a page do not share any
    """

    hours: tuple[int, int] = (0, 24)
    now_min: int | None = None
    now: str = ""
    closed: Sequence[NoFire] = ()
    row_px: float = ROW_PX
    prefix: str = ""


def kiln_week_svg(
    kilns: Sequence[tuple[str, str]],
    days: Sequence[str],
    loads: Sequence[LoadBar],
    drawn: DrawnDays = DrawnDays(),
    *,
    width: int = 1040,
    title: str = "",
) -> str:
    """Kilns down, days across, the first day as wide as three.

    kilns  name and kind, e.g. ("Clay kiln", "kept hot, 24 places")
    days   their names in order, e.g. "Wed 25"
    """
    hours, prefix = drawn.hours, drawn.prefix or "week"
    names = [name for name, _kind in kilns]
    names_px = 18 + LETTER_PX * 1.2 * max((len(name) for name in names), default=8)
    names_px = min(names_px, width * 0.18)
    count = max(1, len(days))
    wide = TODAY_WIDE if count > 1 else 1.0
    scale = _scale(range(count), hours, names_px, width - 1.0, wide)
    top = 44.0
    used = {load.kiln for load in loads if load.free_min > scale.first}
    rows, foot = [], top
    for name in names:
        tall = drawn.row_px if name in used else min(drawn.row_px, EMPTY_ROW_PX)
        rows.append(_Row(foot + 20, foot + tall - FOOT_PX, tall - FOOT_PX - 28))
        foot += tall
    parts = [_defs(prefix), *_night(scale, count, top, foot)]
    parts += _no_fire(drawn.closed, names, scale, rows, hours)
    for day, name in enumerate(days):
        x = scale.x(day * DAY_MIN + hours[0] * 60)
        parts.append(words(x + 2, 16, name, size=14, font_weight=600))
        parts += _hours(scale, day, hours, 2 if day == 0 and count > 1 else 6, top, foot)
    now_x = None
    if drawn.now_min is not None and scale.first <= drawn.now_min <= scale.last:
        now_x = scale.x(drawn.now_min)
        parts.append(_now(now_x, top, foot, drawn.now))
    for (kiln, kind), row in zip(kilns, rows, strict=True):
        parts.append(words(0, row.label_y + 4, kiln, size=15, font_weight=600))
        for n, line in enumerate(kind.split(", ")):
            parts.append(
                words(0, row.label_y + 21 + 16 * n, line, size=13, class_="sd-soft", fill=SOFT)
            )
        parts += _loads(loads, kiln, scale, row, now_x, prefix)
        line_y = row.base + FOOT_PX
        parts.append(
            tag("path", d=f"M0 {num(line_y)}H{width}", class_="sd-hair", stroke=HAIR,
                stroke_width=1.0)
        )  # fmt: skip
    return _calendar(parts, width, foot + 2, title, loads)


def kiln_day_svg(
    kilns: Sequence[tuple[str, str]],
    day: str,
    loads: Sequence[LoadBar],
    drawn: DrawnDays = DrawnDays(),
    *,
    day_number: int = 0,
) -> str:
    """One day for a phone; `day_number` says which, all else is the same as for the week."""
    hours, prefix = drawn.hours, f"{drawn.prefix or 'day'}{day_number}"
    names = [name for name, _kind in kilns]
    scale = _scale([day_number], hours, 0.5, PHONE_PX - 0.5, 1.0)
    today = [load for load in loads if load.free_min > scale.first and load.start_min < scale.last]
    top = 26.0
    used = {load.kiln for load in today}
    rows, foot = [], top
    for name in names:
        tall = PHONE_ROW_PX if name in used else EMPTY_ROW_PX
        rows.append(_Row(foot + 42, foot + tall - FOOT_PX, tall - FOOT_PX - 50))
        foot += tall
    every = 2 if (hours[1] - hours[0]) <= 16 else 4
    parts = [_defs(prefix), *_no_fire(drawn.closed, names, scale, rows, hours)]
    parts += _hours(scale, day_number, hours, every, top, foot)
    now_x = None
    if drawn.now_min is not None and scale.first <= drawn.now_min <= scale.last:
        now_x = scale.x(drawn.now_min)
        parts.append(_now(now_x, top, foot, drawn.now))
    for (kiln, kind), row in zip(kilns, rows, strict=True):
        name_y = row.label_y - 24
        parts.append(words(2, name_y, kiln, size=14, font_weight=600))
        parts.append(
            words(PHONE_PX - 2, name_y, kind, size=13, class_="sd-soft sd-halo", fill=SOFT,
                  text_anchor="end")
        )  # fmt: skip
        parts += _loads(today, kiln, scale, row, now_x, prefix)
        line_y = row.base + FOOT_PX
        parts.append(
            tag("path", d=f"M0 {num(line_y)}H{PHONE_PX}", class_="sd-hair", stroke=HAIR,
                stroke_width=1.0)
        )  # fmt: skip
    return _calendar(parts, PHONE_PX, foot + 2, day, today)


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


def kiln_sign_svg(kind: str) -> str:
    """A small curve as it stands in the picture, for the legend.

    kind  "burning", "planned", "pinned", "kept", "late", "rounds", "changed" or "gone"
    """
    scale = _Scale(((0.0, 100.0, 2.0, 40.0),))
    row = _Row(0, 17, 14)
    load = LoadBar(
        "", 0, 30, 45, 100, heat_c=1000, state=kind if kind in {"burning", "kept", "gone"}
        else "planned", late=kind == "late", pinned=kind == "pinned",
        changed="x" if kind == "changed" else "",
    )  # fmt: skip
    prefix = f"sign-{kind}"
    if kind == "rounds":
        rounds = [
            replace(load, is_round=True, lit=n == 0, start_min=0 if n == 0 else 25 + 25 * n,
                    held_min=25 + 25 * n, fired_min=40 + 25 * n, free_min=45 + 25 * n)
            for n in range(3)
        ]  # fmt: skip
        body = _under(rounds, scale, row) + "".join(
            _shape(each, scale, row, None, prefix) for each in rounds
        )
    else:
        body = _shape(load, scale, row, 20.0 if kind == "burning" else None, prefix)
    return svg([_defs(prefix), body], Frame(width=44, height=20))
