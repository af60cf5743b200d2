"""Small drawings inside lines of text: a progress strand, a bar, a drop of colour."""

from collections.abc import Mapping, Sequence
from functools import lru_cache

from workshop.drawing.colours import checked
from workshop.drawing.svg import AMBER, CORD, EMBER, GREEN, HAIR, INK, NOW, PAPER, Frame, svg, tag

_LOOKS = {
    "done": (GREEN, GREEN),
    "now": (NOW, AMBER),
    "late": (EMBER, EMBER),
    "todo": (PAPER, CORD),
}


def progress_svg(
    stages: Sequence[tuple[str, str]], *, title: str = "", words: Mapping[str, str] | None = None
) -> str:
    """A strand that fills as the order goes: (label, state) with done, now, late or todo.

    words  the four states in another language

    Where it stands is told three ways: by colour, by the bigger bead, and in the title.
    """
    said = title or ", ".join(
        f"{label}: {(words or {}).get(state, state)}" for label, state in stages
    )
    return _progress(tuple((str(label), state) for label, state in stages), said)


@lru_cache(maxsize=512)
def _progress(stages: tuple[tuple[str, str], ...], said: str) -> str:
    step, middle = 17, 9
    here = next((label for label, state in stages if state in {"now", "late"}), "")
    wide = step * len(stages) + 4
    parts = [
        tag("path", d=f"M1 {middle}H{wide - 1}", class_="sd-cord", stroke=CORD, stroke_width=1)
    ]
    for place, (label, state) in enumerate(stages):
        fill, edge = _LOOKS.get(state, _LOOKS["todo"])
        parts.append(
            tag(
                "circle",
                tag("title", label.replace("&", "&amp;").replace("<", "&lt;")),
                cx=step * place + 10.5,
                cy=middle,
                r=6.5 if state in {"now", "late"} else 5.0,
                class_=f"sd-{state if state in _LOOKS else 'todo'}",
                fill=fill,
                stroke=edge,
                stroke_width=1.25,
            )
        )
    return svg(parts, Frame(width=wide, height=18, title=said or here, class_="sd-progress"))


def bar_svg(share: float, colour: str, *, title: str = "") -> str:
    """A bar of glass, `share` (0 to 1) of the room it is given; stretched to fit it."""
    share = min(1.0, max(0.0, share))
    parts = [
        tag("rect", x=0, y=2.5, width=100, height=1, class_="sd-hair-fill", fill=HAIR),
        tag(
            "rect",
            x=0,
            y=0.5,
            width=100 * share,
            height=5,
            fill=checked(colour),
            class_="sd-edge",
            stroke=INK,
            stroke_opacity=0.3,
            stroke_width=1,
            vector_effect="non-scaling-stroke",
        ),
    ]
    return svg(parts, Frame(width=100, height=6, title=title, class_="sd-bar", stretch=True))


@lru_cache(maxsize=512)
def swatch_svg(colour: str) -> str:
    """A drop of glass colour; its name always stands beside it."""
    return svg(
        tag(
            "circle",
            cx=8,
            cy=8,
            r=7,
            fill=checked(colour),
            class_="sd-edge",
            stroke=INK,
            stroke_opacity=0.35,
        ),
        Frame(
            width=16,
            height=16,
            class_="sd-swatch",
        ),
    )


# Drawn on a bottle's belly, so that colours are told apart by eyes that see none.
PATTERNS = (
    "",
    "M4 32h12",
    "M4 30h12M4 38h12",
    "M10 27v18",
    "M7 27v18M13 27v18",
    "M4 42 16 28",
    "M4 42 16 28M4 28l12 14",
    "M4 36l3-5 3 5 3-5 3 5",
    "M10 30a5 5 0 1 0 .1 0",
    "M6 31h1M13 31h1M6 41h1M13 41h1",
    "M10 28v16M4 36h12",
    "M4 30h12M4 36h12M4 42h12",
)


def bottle_svg(colour: str, *, see_through: bool = True, pattern: int) -> str:
    """An empty bottle of a colour of glass; the colour's name always stands beside it.

    pattern  which of the twelve is drawn on it, counted on and round again; 0 for a plain one
    """
    body = tag(
        "path",
        # neck, shoulder, body: 20 wide, 52 high
        d="M8 2h4v13c0 4 6 5 6 11v20c0 3-1 4-4 4H6c-3 0-4-1-4-4V26c0-6 6-7 6-11z",
        fill=checked(colour),
        fill_opacity=0.78 if see_through else 1,
        class_="sd-edge",
        stroke=INK,
        stroke_opacity=0.5,
    )
    drawn = PATTERNS[pattern % len(PATTERNS)]
    # Light around dark is seen on any glass.
    lines = [
        tag("path", d=drawn, fill="none", stroke=stroke, stroke_width=width)
        for stroke, width in ((PAPER, 3.5), (INK, 1.5))
        if drawn
    ]
    return svg([body, *lines], Frame(width=20, height=52, class_="sd-bottle"))
