"""The kilns over some days: each load its own heating curve, side by side.

A week is drawn for wide screens; for a phone each day alone.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from workshop.drawing.kiln_loads import (
    LETTER_PX,
    LoadBar,
    Row,
    Scale,
    load_shape,
    loads_drawn,
    run_under,
)
from workshop.drawing.svg import (
    AMBER,
    EMBER,
    HAIR,
    INK,
    SOFT,
    Frame,
    num,
    svg,
    tag,
    words,
)

DAY_MIN = 24 * 60
PHONE_PX = 332  # beside the margins of a narrow telephone
NIGHT_PX = 10.0
TODAY_WIDE = 2.0  # the first day of a week is so many times as wide as another
ROW_PX, PHONE_ROW_PX, EMPTY_ROW_PX = 132.0, 146.0, 62.0
FLAME, NIGHT = "#dd8a2c", "#efe7d6"
FOOT_PX = 46.0  # below a curve: its beads and its words


@dataclass(frozen=True)
class NoFire:
    """A day on which a kiln is not fired; kiln "" for every one. day: its number."""

    day: int
    kiln: str
    label: str


def _scale(
    days: Sequence[int], hours: tuple[int, int], left: float, right: float, first_wide: float
) -> Scale:
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
    return Scale(tuple((float(a), float(b), c, d) for a, b, c, d in parts))


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


def _night(scale: Scale, days: int, top: float, foot: float) -> list[str]:
    """The hours nobody works, as a narrow strip between the days."""
    return [
        tag("rect", x=left, y=top, width=right - left, height=foot - top, fill=NIGHT,
            class_="sd-night")
        for _start, _end, left, right in scale.parts[1:: 2 if days < len(scale.parts) else 10**6]
    ]  # fmt: skip


def _hours(
    scale: Scale, day: int, hours: tuple[int, int], every: int, top: float, foot: float
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
    closed: Iterable[NoFire], kilns: Sequence[str], scale: Scale, rows: Sequence[Row],
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
        rows.append(Row(foot + 20, foot + tall - FOOT_PX, tall - FOOT_PX - 28))
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
        parts += loads_drawn(loads, kiln, scale, row, now_x, prefix)
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
        rows.append(Row(foot + 42, foot + tall - FOOT_PX, tall - FOOT_PX - 50))
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
        parts += loads_drawn(today, kiln, scale, row, now_x, prefix)
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
    scale = Scale(((0.0, 100.0, 2.0, 40.0),))
    row = Row(0, 17, 14)
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
        body = run_under(rounds, scale, row) + "".join(
            load_shape(each, scale, row, None, prefix) for each in rounds
        )
    else:
        body = load_shape(load, scale, row, 20.0 if kind == "burning" else None, prefix)
    return svg([_defs(prefix), body], Frame(width=44, height=20))
