"""Signs for those who read little: one for each act of yard, kiln, bench and counter, and for what
is asked in it. One family: 24 by 24, solid or drawn with a line of 2, in the colour of the words.
"""

from functools import lru_cache

from workshop.drawing.svg import Frame, svg, tag

SIDE = 24

# Each sign as (solid, line): path data filled, and path data drawn with a round line of 2.
SIGNS: dict[str, tuple[str, str]] = {
    # A tied sack.
    "sack": ("M6 1h4l2 2 2-2h4l-2 4H8zM8 8h8c4 3 6 5 6 9s-2 6-5 6H7c-3 0-5-2-5-6s2-6 6-9z", ""),
    # A mortar and its pestle.
    "prepare": ("M3 11h18c0 5-2 8-5 9v2H8v-2c-3-1-5-4-5-9z", "M13 10 19 2"),
    # A stack of coins.
    "pay": ("", "M4 7c0-5 16-5 16 0s-16 5-16 0v5c0 5 16 5 16 0V7M4 12v5c0 5 16 5 16 0v-5"),
    # A mould of clay with four hollows.
    "mould": (
        "M2 4h20v16H2zM8 7.5a2.2 2.2 0 1 0 .1 0zM16 7.5a2.2 2.2 0 1 0 .1 0z"
        "M8 13.5a2.2 2.2 0 1 0 .1 0zM16 13.5a2.2 2.2 0 1 0 .1 0z",
        "",
    ),
    # A brush that leaves a line.
    "paint": ("M20 2l2 2-9 11-4-4zM8 12l4 4c-1 4-5 5-9 4 2-1 1-6 5-8z", "M13 21h9"),
    # A bead with a pin through it.
    "pierce": ("M20.5 1a2.5 2.5 0 1 0 .1 0z", "M11 7a6 6 0 1 0 .1 0M2 22 20 4"),
    # A flame.
    "light": (
        "M13 0c1 6 7 9 7 15 0 5-4 8-8 8s-8-3-8-8c0-3 2-5 3-8 1 2 2 3 3 3 0-4 0-7 3-10z"
        "M12 21c3 0 4-2 4-4 0-3-2-4-3-6-1 3-5 3-5 6 0 2 1 4 4 4z",
        "",
    ),
    # A kiln whose door stands open.
    "open": ("M13 8 22 4v19l-9-3z", "M3 20V9c0-8 10-8 10-1M2 20h11"),
    # A polished bead with its bore, and a gleam beside it.
    "finish": (
        "M10 7a7 7 0 1 0 .1 0zM10 12a2 2 0 1 1-.1 0zM19 1l1 4 4 1-4 1-1 4-1-4-4-1 4-1z",
        "M2 23h16",
    ),
    # Beads on a hanging cord.
    "string": (
        "M5 9a3 3 0 1 0 .1 0zM12 14a3.5 3.5 0 1 0 .1 0zM19 9a3 3 0 1 0 .1 0z",
        "M1 3c2 19 20 19 22 0",
    ),
    # A parcel tied with a cord.
    "pack": (
        "",
        "M2 8h20v14H2zM12 8v14M2 14h20M12 8C6 8 5 1 9 2c2 1 3 4 3 6 0-2 1-5 3-6 4-1 3 6-3 6",
    ),
    # A tally of five.
    "count": ("", "M5 4v16M10 4v16M15 4v16M20 4v16M2 17 23 7"),
    # A tag on its thread.
    "sell": ("M16 6a2 2 0 1 0 .1 0z", "M3 12 11 3h10v10l-9 9z"),
    # A written page and a pen.
    "order": ("M23 9 14 18l-4 1 1-4 9-9z", "M15 3H3v19h13v-3M6.5 8h6M6.5 12h3"),
    # An open hand, and what lies on it.
    "hand_over": ("M1 14h4l3-1 5 2h5l5-2-1 4-8 5H7l-2-1H1z", "M12 3a4 4 0 1 0 .1 0"),
    # A telephone's receiver.
    "call": ("M6 2l4 5-2 3c1 3 3 5 6 6l3-2 5 4c0 3-2 4-4 4C9 22 2 14 2 6c0-2 1-4 4-4z", ""),
    # Glass as powder and as chunks.
    "powder": ("M1 21 12 9l11 12z", "M12 3h.1M8 6h.1M16 6h.1"),
    "chunks": ("M2 12l5-5 5 3v8l-6 3-4-3zM15 4l6 1 1 6-6 2-3-4zM15 16l5-1 2 5-4 2-4-2z", ""),
    # What is asked: a scale, an empty sack, the hour, now and later.
    "scale": ("M2 21 4 10h16l2 11zM12 12.5a3.5 3.5 0 1 0 .1 0z", "M3 5h18M12 5v5"),
    "empty": ("", "M8 3h8l-2 4c4 3 6 6 6 10 0 3-1 4-4 4H8c-3 0-4-1-4-4 0-4 2-7 6-10z"),
    "hour": ("", "M12 2a10 10 0 1 0 .1 0M12 6v6l5 3"),
    # Beads: some, good ones, broken ones, those that are gone.
    "beads": (
        "M7 3a4 4 0 1 0 .1 0zM17 3a4 4 0 1 0 .1 0zM12 13a4 4 0 1 0 .1 0z",
        "",
    ),
    "good": ("", "M2 13l7 8L22 4"),
    "broken": ("M11 2 8 9l3 3-3 4 1 6C-2 20-1 3 11 2zM15 2l-2 6 3 4-4 5 2 5C25 20 25 4 15 2z", ""),
    "gone": (
        "",
        "M12 2h.5M18 4.5h.5M21.5 10h.5M21 16.5h.5M16 21h.5M9 21.5h.5M4 18h.5M2 12h.5M4 6.5h.5",
    ),
    # Help: what this is, what comes first, what may go wrong; and a voice.
    "what": ("M12 9a3 3 0 1 0 .1 0z", "M1 12C6 3 18 3 23 12 18 21 6 21 1 12z"),
    "first": ("M13 4l9 8-9 8v-5H2V9h11z", ""),
    "care": ("", "M12 2 23 21H1zM12 9v5M12 17.5v.1"),
    "aloud": ("M1 9h5l6-6v18l-6-6H1z", "M16 8c2 2 2 6 0 8M19 4c5 5 5 11 0 16"),
}


@lru_cache(maxsize=256)
def sign_svg(name: str, *, size: int = SIDE, title: str = "") -> str:
    """One sign, in the colour of what it stands beside; spoken only where it has a title.

    Raises KeyError for a name that no sign has.

    >>> 'fill="currentColor"' in sign_svg("sack")
    True
    """
    solid, line = SIGNS[name]
    parts = []
    if solid:
        parts.append(tag("path", d=solid, fill="currentColor", fill_rule="evenodd"))
    if line:
        parts.append(
            tag(
                "path",
                d=line,
                fill="none",
                stroke="currentColor",
                stroke_width=2,
                stroke_linecap="round",
                stroke_linejoin="round",
            )
        )
    frame = Frame(size, size, view=(0, 0, SIDE, SIDE), title=title, class_="sign")
    return svg(parts, frame)


# The three forms of a mark's bead, each once solid and once as a ring.
_ROUND = "M{0} 7a5 5 0 1 0 .1 0z"
_TUBE = "M{1} 2h5v20h-5z"
_POINTED = "M{0} 5l7 7-7 7-7-7z"
_FORMS = (_ROUND, _TUBE, _POINTED)


def mark_svg(number: int) -> str:
    """Somebody's own mark: three beads told apart by form and fill, the same for one number always.

    number  any whole number from 0; after 216 the marks begin again

    >>> mark_svg(1) == mark_svg(217), mark_svg(1) == mark_svg(2)
    (True, False)
    """
    # Neighbours differ in every bead, not in the first alone; 83 shares no factor with 216.
    number = number * 83 % 6**3
    parts = [tag("path", d="M1 12h46", stroke="currentColor", stroke_width=1.0)]
    for place in range(3):
        number, kind = divmod(number, 6)
        middle = 8 + 16 * place
        path = _FORMS[kind % 3].format(middle, middle - 2.5)
        fill = "currentColor" if kind < 3 else "var(--sheet, #fffcf5)"
        parts.append(tag("path", d=path, fill=fill, stroke="currentColor", stroke_width=1.5))
    return svg(parts, Frame(48, SIDE, class_="sign own-mark"))
