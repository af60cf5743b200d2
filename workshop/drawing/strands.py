"""A whole strand, drawn to scale: beads on their cord, knots between them, an end at each end.

A strand too long to be seen at a glance is not squeezed: it is drawn at a scale where its beads
can still be told apart, with a break in the cord where beads are left out.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import accumulate, chain
from math import atan2, degrees, hypot

from workshop.drawing.beads import bead_parts
from workshop.drawing.light import lights
from workshop.drawing.look import DrawnBead
from workshop.drawing.svg import CORD, SOFT, Frame, num, svg, tag

LEAST_BEAD_PX = 9.5  # smaller than this, beads run together
LEAST_PX_PER_MM, LEAST_FOR_SMALL_BEADS = 0.7, 1.8
MOST_PX_PER_MM = 4.0
MOST_BEADS = 180
END_MM = {"clasp": 9.0, "knot": 7.0, "bare": 3.0}
BREAK_MM = 5.0
CENTRE_STANDS_OUT = 1.15


@dataclass(frozen=True)
class DrawnStrand:
    """Beads in the order in which they lie on the cord.

    beads    left to right
    gap_mm   cord between neighbours
    knotted  whether a knot lies in each gap
    ends     "clasp", "knot" or "bare"
    places   which piece of its design each bead is, where that is known
    straight what was worked out of it, laid out straight at a width
    """

    beads: tuple[DrawnBead, ...]
    gap_mm: float = 0.0
    knotted: bool = False
    ends: str = "knot"
    places: tuple[int, ...] = ()
    straight: dict[tuple[int, float, float | None], "Straight"] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    @property
    def beaded_mm(self) -> float:
        """From the first bead's edge to the last one's."""
        gaps = max(0, len(self.beads) - 1) * self.gap_mm
        return sum(bead.length_mm for bead in self.beads) + gaps

    @property
    def whole_mm(self) -> float:
        """With what closes it."""
        return self.beaded_mm + 2 * END_MM.get(self.ends, END_MM["bare"])

    @property
    def across_mm(self) -> float:
        return max((bead.across_mm for bead in self.beads), default=4.0)

    def middles_mm(self) -> list[float]:
        """Where the middle of each bead lies, from the first bead's edge."""
        lengths = [bead.length_mm for bead in self.beads]
        starts = accumulate((length + self.gap_mm for length in lengths), initial=0.0)
        return [start + length / 2 for start, length in zip(starts, lengths, strict=False)]


@dataclass(frozen=True)
class Window:
    """Beads first to last (not included) that are drawn side by side."""

    first: int
    last: int


def _least_scale(strand: DrawnStrand) -> float:
    """The smallest scale, px/mm, at which a usual bead of the strand can still be made out."""
    usual = sorted(bead.across_mm for bead in strand.beads)[len(strand.beads) // 2]
    return min(LEAST_FOR_SMALL_BEADS, max(LEAST_PX_PER_MM, LEAST_BEAD_PX / usual))


def _count_within(beads: Sequence[DrawnBead], gap_mm: float, room_mm: float) -> int:
    """How many of these beads, from the first on, fit in the room; at least one."""
    used = 0.0
    for place, bead in enumerate(beads):
        used += bead.length_mm + (gap_mm if place else 0.0)
        if used > room_mm:
            return max(1, place)
    return len(beads)


def _centre_of(strand: DrawnStrand) -> int | None:
    """The bead in the middle, when it is bigger than those at the ends and so must be seen."""
    beads = strand.beads
    middle = len(beads) // 2
    around = range(max(0, middle - 1), min(len(beads), middle + 2))
    biggest = max(around, key=lambda place: (beads[place].across_mm, -abs(place - middle)))
    ends = max(beads[0].across_mm, beads[-1].across_mm)
    return biggest if beads[biggest].across_mm > ends * CENTRE_STANDS_OUT else None


def windows_of(strand: DrawnStrand, room_mm: float) -> list[Window]:
    """Which beads are drawn: all, or a beginning and an end, with the centre if there is one."""
    beads, gap, total = strand.beads, strand.gap_mm, len(strand.beads)
    if strand.beaded_mm <= room_mm and total <= MOST_BEADS:
        return [Window(0, total)]
    centre = _centre_of(strand)
    breaks = 1 if centre is None else 2
    pitch = strand.beaded_mm / total
    room_mm = min(room_mm, MOST_BEADS * pitch) - breaks * BREAK_MM
    side = room_mm / 2 if centre is None else room_mm * 0.3
    head = _count_within(beads, gap, side)
    tail = total - _count_within(beads[::-1], gap, side)
    windows = [Window(0, head), Window(max(head, tail), total)]
    if centre is not None:
        wing = (room_mm * 0.4 - beads[centre].length_mm) / 2
        before = centre - _count_within(beads[:centre][::-1], gap, wing)
        after = centre + 1 + _count_within(beads[centre + 1 :], gap, wing)
        windows.insert(1, Window(max(head, before), min(tail, after)))
    joined: list[Window] = []
    for window in windows:
        if joined and window.first <= joined[-1].last:
            joined[-1] = Window(joined[-1].first, max(joined[-1].last, window.last))
        elif window.first < window.last:
            joined.append(window)
    return joined


def definitions(prefix: str, beads: Sequence[DrawnBead], *, paper: bool = False) -> str:
    """Each different bead once, and the light they share."""
    different = {bead.mark: bead for bead in beads}
    drawn = "".join(
        tag("g", bead_parts(prefix, bead, paper=paper), id=f"{prefix}-{mark}")
        for mark, bead in different.items()
    )
    return tag("defs", ("" if paper else lights(prefix, {bead.finish for bead in beads})) + drawn)


def line(d: str, class_: str, stroke: str, wide: float, **more: object) -> str:
    return tag(
        "path", d=d, fill="none", class_=class_, stroke=stroke, stroke_width=float(wide), **more
    )


def end_of(kind: str, x: float, side: int) -> str:
    """A clasp's ring or hook, or a knot with its two tails; side -1 at the left, 1 at the right."""
    if kind == "clasp":
        ring = f"M{num(x)} 0m-2.2 0a2.2 2.2 0 1 0 4.4 0a2.2 2.2 0 1 0 -4.4 0"
        hook = f"M{num(x - 3.4)} 0c0 -3 5 -3 5 .2c0 2.6 -3.6 2.6 -3.8 .9"
        return line(ring if side < 0 else hook, "sd-metal", CORD, 0.9, stroke_linecap="round")
    if kind == "knot":
        tails = (
            f"M{num(x)} 0q{num(side * 2.2)} -.4 {num(side * 3.6)} -1.7"
            f"M{num(x)} 0q{num(side * 2.4)} .5 {num(side * 4.2)} 1.1"
        )
        knot = tag("circle", cx=float(x), cy=0.0, r=1.05, class_="sd-cord-end", fill=CORD)
        return line(tails, "sd-cord", CORD, 0.5, stroke_linecap="round") + knot
    return ""


def knots_at(places: Sequence[float]) -> str:
    """All knots as one path."""
    if not places:
        return ""
    d = "".join(f"M{num(x - 0.7)} 0a.7 .85 0 1 0 1.4 0a.7 .85 0 1 0 -1.4 0" for x in places)
    return tag("path", d=d, class_="sd-cord-end", fill=CORD)


def breaks_at(places: Sequence[float]) -> str:
    if not places:
        return ""
    d = "".join(
        f"M{num(x - 1.3)} 2.4L{num(x + 0.1)} -2.4M{num(x + 0.6)} 2.4L{num(x + 2)} -2.4"
        for x in places
    )
    return line(d, "sd-break", SOFT, 0.5, stroke_linecap="round")


def strand_svg(
    strand: DrawnStrand,
    *,
    width: int = 320,
    title: str = "",
    prefix: str = "",
    most_px_per_mm: float = MOST_PX_PER_MM,
    px_per_mm: float | None = None,
    paper: bool = False,
) -> str:
    """The strand laid out straight, at most `width` px wide, every part at one scale.

    title   said by a screen reader; without one the drawing is hidden from it
    prefix  begins the ids inside; drawings with different prefixes may share a page
    paper   light and shade that every PDF viewer shows alike
    px_per_mm  this very scale, for strands that are drawn beside each other
    """
    laid = straight(strand, width, most_px_per_mm, px_per_mm)
    name = prefix or f"s{strand.beads[0].mark}" if strand.beads else ""
    defined = definitions(name, laid.beads, paper=paper) if laid.beads else ""
    return laid.svg(defined + laid.body(name), title)


@dataclass(frozen=True)
class Straight:
    """A strand laid out straight at a width.

    beads   those that are drawn, with the middle of each
    before, behind  what is drawn below and above them; size, view  of its frame
    """

    placed: tuple[tuple[float, DrawnBead], ...]
    before: str
    behind: str
    size: tuple[float, float]
    view: tuple[float, float, float, float]

    @property
    def beads(self) -> list[DrawnBead]:
        return [bead for _middle, bead in self.placed]

    def body(self, name: str) -> str:
        """Everything but the definitions of its beads, whose ids begin with `name`."""
        uses = (f'<use href="#{name}-{bead.mark}" x="{num(x)}"/>' for x, bead in self.placed)
        return "".join(chain([self.before], uses, [self.behind]))

    def svg(self, body: str, title: str) -> str:
        wide, high = self.size
        class_ = "sd-strand" if self.placed else None
        return svg(body, Frame(wide, high, view=self.view, title=title, class_=class_))


def straight(
    strand: DrawnStrand,
    width: int,
    most_px_per_mm: float = MOST_PX_PER_MM,
    px_per_mm: float | None = None,
) -> Straight:
    """The strand laid out straight, worked out once."""
    key = (width, most_px_per_mm, px_per_mm)
    if key not in strand.straight:
        strand.straight[key] = _lay_straight(strand, *key)
    return strand.straight[key]


def _lay_straight(
    strand: DrawnStrand, width: int, most_px_per_mm: float, px_per_mm: float | None
) -> Straight:
    if not strand.beads:
        return Straight((), line("M0 4H40", "sd-cord", CORD, 0.5), "", (width, 24), (0, 0, 40, 8))
    end = END_MM.get(strand.ends, END_MM["bare"])
    windows = windows_of(strand, width / (px_per_mm or _least_scale(strand)) - 2 * end)
    placed: list[tuple[float, DrawnBead]] = []
    knots: list[float] = []
    breaks: list[float] = []
    cord = ["M0 0"] if strand.ends == "bare" else [f"M{num(end * 0.55)} 0"]
    x = end
    for order, window in enumerate(windows):
        if order:
            breaks.append(x + BREAK_MM / 2)
            cord.append(f"H{num(x + BREAK_MM / 2 - 1)}M{num(x + BREAK_MM / 2 + 1.6)} 0")
            x += BREAK_MM
        for place in range(window.first, window.last):
            bead = strand.beads[place]
            if place > window.first:
                if strand.knotted:
                    knots.append(x + strand.gap_mm / 2)
                x += strand.gap_mm
            placed.append((x + bead.length_mm / 2, bead))
            x += bead.length_mm
    whole = x + end
    cord.append(f"H{num(whole if strand.ends == 'bare' else whole - end * 0.55)}")
    scale = px_per_mm or min(most_px_per_mm, width / whole)
    high = max(bead.across_mm for _, bead in placed) + 0.8
    high = max(high, 7.0)
    return Straight(
        tuple(placed),
        line("".join(cord), "sd-cord", CORD, 0.5) + knots_at(knots),
        breaks_at(breaks)
        + end_of(strand.ends, end * 0.55, -1)
        + end_of(strand.ends, whole - end * 0.55, 1),
        (whole * scale, high * scale),
        (0, -high / 2, whole, high),
    )


def _curve(span: float, sag: float, steps: int = 240) -> list[tuple[float, float, float]]:
    """A hanging curve as (arc length so far, x, y), from the left end to the right."""
    points, travelled, before = [], 0.0, (-span / 2, -sag)
    for step in range(steps + 1):
        x = -span / 2 + span * step / steps
        y = -sag * (2 * x / span) ** 2
        travelled += hypot(x - before[0], y - before[1])
        points.append((travelled, x, y))
        before = (x, y)
    return points


def _sag_for(length: float, span: float) -> float:
    """How deep a cord of this length hangs over this span, by halving."""
    low, high = 0.0, length
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if _curve(span, middle, 60)[-1][0] < length else (low, middle)
    return (low + high) / 2


def hanging_svg(
    strand: DrawnStrand,
    *,
    width: int = 640,
    title: str = "",
    prefix: str = "",
    slack: float = 0.7,
    paper: bool = False,
) -> str:
    """The whole strand as it hangs between two hands, every bead in its place and to scale.

    slack  span over length of cord; less hangs deeper
    """
    if not strand.beads or len(strand.beads) > 3 * MOST_BEADS:
        return strand_svg(strand, width=width, title=title, prefix=prefix, paper=paper)
    end = 10.0
    whole = strand.beaded_mm + 2 * end
    span = whole * slack
    sag = _sag_for(whole, span)
    curve = _curve(span, sag)
    name = prefix or f"h{strand.beads[0].mark}"
    uses, at = [], 0
    stretch = curve[-1][0] / whole
    for middle, bead in zip(strand.middles_mm(), strand.beads, strict=True):
        target = (end + middle) * stretch
        while at < len(curve) - 2 and curve[at + 1][0] < target:
            at += 1
        (s0, x0, y0), (s1, x1, y1) = curve[at], curve[at + 1]
        share = (target - s0) / (s1 - s0)
        turn = degrees(atan2(y1 - y0, x1 - x0))
        uses.append(
            f'<use href="#{name}-{bead.mark}" transform="translate({num(x0 + (x1 - x0) * share)} '
            f'{num(y0 + (y1 - y0) * share)}) rotate({num(turn)})"/>'
        )
    _, x1, y1 = curve[1]
    rise = degrees(atan2(y1 + sag, x1 + span / 2))
    ends = "".join(
        tag(
            "g",
            end_of(strand.ends, 0.0, side),
            transform=f"translate({num(x)} {num(-sag)}) rotate({num(turn)})",
        )
        for side, x, turn in ((-1, -span / 2, rise), (1, span / 2, -rise))
    )
    # The parabola is one quadratic curve; its control point lies as far below as the ends above.
    cord = f"M{num(-span / 2)} {num(-sag)}Q0 {num(sag)} {num(span / 2)} {num(-sag)}"
    across = strand.across_mm
    room = max(across / 2, 5.0)  # for the beads and for what closes the cord
    left, top = -span / 2 - room, -sag - room
    wide, high = span + 2 * room, sag + room + across / 2 + 1
    scale = min(MOST_PX_PER_MM, width / wide)
    body = chain(
        [definitions(name, strand.beads, paper=paper), line(cord, "sd-cord", CORD, 0.6), ends],
        uses,
    )
    return svg(
        body,
        Frame(
            width=wide * scale,
            height=high * scale,
            view=(left, top, wide, high),
            title=title,
            class_="sd-strand hanging",
        ),
    )
