"""The design bench's drawings: a strand on its cord above a rule, and closed on who wears it.

Every piece of the cord can be met by a listener and taken hold of: it knows which piece of the
design it is (`data-place`) and where it lies on the cord (`data-at`).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from itertools import chain
from math import atan2, cos, degrees, pi, sin

from workshop.drawing.strands import (
    BREAK_MM,
    END_MM,
    DrawnStrand,
    breaks_at,
    definitions,
    end_of,
    knots_at,
    line,
    windows_of,
)
from workshop.drawing.svg import CORD, EMBER, HAIR, INK, SOFT, Frame, num, svg, tag, words

THUMB_PX = 44.0  # a usual bead is drawn as wide as a thumb needs it
LEAST_FOR_MOUSE_PX = 20.0
LEAST_PX_PER_MM, MOST_PX_PER_MM = 2.2, 5.5
LONGEST_PX = 3400.0  # longer ones are broken, as everywhere
SAG = 0.03  # of its length, at most SAG_MM
SAG_MM = 6.0
CM_MM = 10.0


@dataclass(frozen=True)
class CordWords:
    """What is said of the cord, in the reader's language.

    title   of the whole drawing
    pieces  of each bead of the strand, in their order
    cm      the rule's unit
    """

    title: str
    pieces: Sequence[str]
    cm: str = "cm"


def cord_svg(
    strand: DrawnStrand, said: CordWords, *, width: int, findings_mm: float, prefix: str
) -> str:
    """The strand hung loosely over its whole width, with a rule of centimetres below.

    width        the room it has on a wide screen; where a thumb needs more it is drawn wider
    findings_mm  what clasp and ends take of its length, half at each end
    """
    end = max(END_MM.get(strand.ends, END_MM["bare"]), findings_mm / 2 + 2.0)
    scale = _scale(strand, width, end)
    placed, knots, breaks, starts, whole = _laid_along(strand, end, LONGEST_PX / scale - 2 * end)
    fits = _fits(strand, width, end)
    seen = width / whole if fits else scale  # on a wide screen
    across = max(strand.across_mm, 6.0)
    sag = min(SAG_MM, SAG * whole)

    def hang(x: float) -> float:
        return sag * (1 - (2 * x / whole - 1) ** 2)

    def turn(x: float) -> float:
        return degrees(atan2(-sag * 4 * (2 * x / whole - 1) / whole, 1))

    def stands(x: float) -> str:
        return f"translate({num(x)} {num(hang(x))}) rotate({num(turn(x))})"

    tall = max(across + 2.0, THUMB_PX * 1.3 / scale)
    uses = (_piece(prefix, strand, at, stands(x), tall, said.pieces[at]) for at, x in placed)
    down = sag + tall / 2 + 1.0
    ends = "".join(
        tag(
            "g",
            end_of(strand.ends, 0.0, side),
            transform=stands(x),
        )
        for side, x in ((-1, END_MM["clasp"] * 0.4), (1, whole - END_MM["clasp"] * 0.4))
    )
    first, last = END_MM["clasp"] * 0.4, whole - END_MM["clasp"] * 0.4
    # A parabola is one quadratic curve: its control point lies where the tangents meet.
    dip = hang(first) + (hang(whole / 2) - hang(first)) * 2
    ends_y = hang(first)
    cord = f"M{num(first)} {num(ends_y)}Q{num(whole / 2)} {num(dip)} {num(last)} {num(ends_y)}"
    body = chain(
        [
            definitions(prefix, strand.beads),
            line(cord, "sd-cord", CORD, 0.5),
            tag("g", knots_at(knots), transform=f"translate(0 {num(sag * 0.85)})") if knots else "",
            _rule(starts, whole, down, seen, findings_mm, said.cm),
            ends,
        ],
        uses,
        [tag("g", breaks_at(breaks), transform=f"translate(0 {num(sag * 0.8)})") if breaks else ""],
    )
    high = down + 30 / seen + tall / 2
    drawing = svg(
        body,
        Frame(
            width=whole * scale,
            height=high * scale,
            view=(0, -tall / 2, whole, high),
            title=said.title,
            class_=f"sd-strand{' fits' * fits}",
            opens=True,
        ),
    )
    # A list whose pieces are chosen one at a time (WAI-ARIA 1.2, listbox and option).
    return drawing.replace('role="group"', 'role="listbox" aria-orientation="horizontal"', 1)


def _usual_mm(strand: DrawnStrand) -> float:
    return sorted(bead.length_mm for bead in strand.beads)[len(strand.beads) // 2]


def _fits(strand: DrawnStrand, width: int, end: float) -> bool:
    """Whether a mouse can still take hold of a usual bead where all of it stands in the width."""
    return _usual_mm(strand) * width / (strand.beaded_mm + 2 * end) >= LEAST_FOR_MOUSE_PX


def _scale(strand: DrawnStrand, width: int, end: float) -> float:
    """Pixels for a millimetre: to fill the width, or so that a usual bead fits a thumb."""
    wide = width / (strand.beaded_mm + 2 * end)
    return min(MOST_PX_PER_MM, max(LEAST_PX_PER_MM, wide, THUMB_PX / max(_usual_mm(strand), 1.0)))


def _laid_along(
    strand: DrawnStrand, end: float, room_mm: float
) -> tuple[
    list[tuple[int, float]], list[float], list[float], list[tuple[float, float, float]], float
]:
    """Where pieces, knots and breaks lie; of each drawn stretch from, to and its true beginning."""
    middles = strand.middles_mm()
    placed: list[tuple[int, float]] = []
    knots: list[float] = []
    breaks: list[float] = []
    stretches: list[tuple[float, float, float]] = []
    x = end
    for order, window in enumerate(windows_of(strand, room_mm)):
        if order:
            breaks.append(x + BREAK_MM / 2)
            x += BREAK_MM
        begins, true = x, middles[window.first] - strand.beads[window.first].length_mm / 2
        for at in range(window.first, window.last):
            if at > window.first:
                if strand.knotted:
                    knots.append(x + strand.gap_mm / 2)
                x += strand.gap_mm
            length = strand.beads[at].length_mm
            placed.append((at, x + length / 2))
            x += length
        stretches.append((begins, x, true))
    return placed, knots, breaks, stretches, x + end


def _piece(prefix: str, strand: DrawnStrand, at: int, stands: str, tall: float, name: str) -> str:
    bead = strand.beads[at]
    place = strand.places[at] if strand.places else at
    ring = max(bead.length_mm, bead.across_mm) / 2 + 1.0
    return (
        f'<g class="piece" role="option" tabindex="-1" aria-selected="false" data-at="{at}" '
        f'data-place="{place}" aria-label="{escape(name)}" '
        f'transform="{stands}">'
        f'<rect class="piece-reach" x="{num(-bead.length_mm / 2)}" y="{num(-tall / 2)}" '
        f'width="{num(bead.length_mm)}" height="{num(tall)}" fill="none"/>'
        f'<use href="#{prefix}-{bead.mark}"/>'
        f'<circle class="piece-ring" r="{num(ring)}" fill="none"/></g>'
    )


def _rule(
    stretches: Sequence[tuple[float, float, float]],
    whole: float,
    y: float,
    scale: float,
    findings_mm: float,
    cm: str,
) -> str:
    """Centimetres of the strung length, along each stretch that is drawn; fives bear a number."""
    ticks, numbers = [], []
    half = findings_mm / 2
    for order, (begins, ends, true) in enumerate(stretches):
        # The first and the last stretch measure their end of the findings too.
        low = true if order else true - half
        high = true + (ends - begins) + (half if order == len(stretches) - 1 else 0)
        step = int((low + half) // CM_MM)
        while step * CM_MM - half <= high + 1e-6:
            at = begins + (step * CM_MM - half - true)
            if step * CM_MM - half >= low - 1e-6:
                five = step % 5 == 0
                ticks.append(f"M{num(at)} {num(y)}v{num((9 if five else 5) / scale)}")
                if five:
                    text = f"0 {cm}" if step == 0 else str(step)
                    numbers.append(
                        words(
                            at, y + 23 / scale, text, size=13 / scale, class_="sd-soft",
                            fill=SOFT, text_anchor="middle",
                        )
                    )  # fmt: skip
            step += 1
    marks = tag(
        "path", d="".join(ticks), class_="sd-axis", stroke=CORD, stroke_width=1 / scale, fill="none"
    )
    return tag("g", marks + "".join(numbers), aria_hidden="true") if ticks else ""


@dataclass(frozen=True)
class Wearer:
    """Who wears it, drawn inside: how far round, what is written there, whether it is too tight.

    hangs  from the nape, so that the ring falls; else it lies evenly round a wrist
    """

    around_mm: float | None
    lines: tuple[str, ...] = ()
    too_small: bool = False
    hangs: bool = False


def loop_svg(
    strand: DrawnStrand, wearer: Wearer, *, findings_mm: float, prefix: str, title: str
) -> str:
    """The strand closed to a ring, with the wrist or neck inside at the same scale."""
    length = strand.beaded_mm + max(findings_mm, 2 * END_MM["bare"])
    radius = length / (2 * pi)
    half = strand.across_mm / 2
    skin = wearer.around_mm / (2 * pi) if wearer.around_mm else None
    room = max(radius + half, skin or 0.0) + 3.0
    begins = (length - strand.beaded_mm) / 2
    uses = []
    for bead, middle in zip(strand.beads, strand.middles_mm(), strict=True):
        angle = (begins + middle) / length * 2 * pi
        uses.append(
            f'<use href="#{prefix}-{bead.mark}" transform="translate({num(radius * sin(angle))} '
            f'{num(-radius * cos(angle))}) rotate({num(degrees(angle))})"/>'
        )
    inner = ""
    middle_y = 0.0
    if skin is not None:
        middle_y = min(0.0, -(radius - half - skin)) if wearer.hangs else 0.0
        inner = tag(
            "circle", cx=0.0, cy=middle_y, r=skin, class_=f"sd-skin{' short' * wearer.too_small}",
            fill=HAIR, fill_opacity=0.5, stroke=EMBER if wearer.too_small else CORD,
            stroke_width=0.5 * room / 30, stroke_dasharray=f"{num(room / 30)} {num(room / 40)}",
        )  # fmt: skip
    size = room / 8.5
    first = middle_y - (len(wearer.lines) - 1) * size * 0.6 + size * 0.3
    told = "".join(
        words(
            0.0, first + nth * size * 1.25, text, size=size * (1 if nth == 0 else 0.85),
            class_="sd-ink" if nth == 0 else "sd-short" if wearer.too_small else "sd-soft",
            fill=INK if nth == 0 else EMBER if wearer.too_small else SOFT, text_anchor="middle",
        )
        for nth, text in enumerate(wearer.lines)
    )  # fmt: skip
    ring = tag(
        "circle", r=radius, class_="sd-cord", fill="none", stroke=CORD, stroke_width=room / 110
    )
    closed = tag("g", end_of(strand.ends, 0.0, -1), transform=f"translate(0 {num(-radius)})")
    return svg(
        chain([definitions(prefix, strand.beads), inner, ring, closed], uses, [told]),
        Frame(
            width=260,
            height=260,
            view=(-room, -room, 2 * room, 2 * room),
            title=title,
            class_="sd-loop",
        ),
    )
