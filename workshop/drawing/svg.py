"""The few pieces of SVG that every drawing is made of. Text is escaped here and nowhere else.

Colours and sizes are presentation attributes, so that a page needs no inline style and paper
shows the same; a class beside them lets the screen's stylesheet follow light and dark.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from html import escape

from workshop.physics.sentences import without_zeros

INK, SOFT, HAIR, CORD, PAPER = "#23211c", "#665f52", "#ddd3c0", "#8d8370", "#fffcf5"
GREEN, AMBER, NOW, EMBER, COBALT, CLEAR = (
    "#2f6b4a",
    "#94560f",
    "#e9a92f",
    "#a9391f",
    "#244f9e",
    "#466a68",
)
WARM = "#ecd8b3"
FACE = "Source Sans Pro, Source Sans 3, sans-serif"


def num(value: float) -> str:
    """A coordinate with two decimals at most, as short as it can be written.

    >>> num(3.0), num(0.125), num(-0.001)
    ('3', '0.13', '0')
    """
    text = without_zeros(f"{value + 1e-9:.2f}")
    return "0" if text in {"-0", ""} else text


def _name(key: str) -> str:
    return key.rstrip("_").replace("__", ":").replace("_", "-")


def tag(name: str, body: str = "", /, **attributes: object) -> str:
    """One element; numbers are shortened, text escaped, None left out, `class_` means class.

    >>> tag("circle", r=2.0, class_="sd-edge", stroke_width=0.25)
    '<circle r="2" class="sd-edge" stroke-width="0.25"/>'
    """
    written = "".join(
        f' {_name(key)}="{num(value) if isinstance(value, float) else escape(str(value))}"'
        for key, value in attributes.items()
        if value is not None
    )
    return f"<{name}{written}>{body}</{name}>" if body else f"<{name}{written}/>"


def words(
    x: float,
    y: float,
    text: str,
    *,
    size: float = 13,
    class_: str = "sd-ink",
    fill: str = INK,
    **more: object,
) -> str:
    """A line of text; its baseline begins at x, y."""
    return tag(
        "text",
        escape(text),
        x=float(x),
        y=float(y),
        font_size=float(size),
        class_=f"sd-text {class_}",
        fill=fill,
        **more,
    )


@dataclass(frozen=True)
class Frame:
    """What a drawing stands in.

    width, height  in pixels; view  what of its own units is seen, usually as much
    title          said to a listener, who is spared a drawing without one
    text           whether letters stand in it; stretch  whether it fills its place out of shape
    opens          whether things in it can be followed; a listener then meets them one by one
    """

    width: float
    height: float
    view: tuple[float, float, float, float] | None = None
    title: str = ""
    class_: str | None = None
    text: bool = False
    stretch: bool = False
    opens: bool = False

    @property
    def said(self) -> str:
        if self.title:
            return f'role="{"group" if self.opens else "img"}" aria-label="{escape(self.title)}"'
        return 'role="group"' if self.opens else 'aria-hidden="true"'


def svg(body: Iterable[str] | str, frame: Frame) -> str:
    """The whole drawing in its frame."""
    inside = body if isinstance(body, str) else "".join(body)
    box = " ".join(num(float(side)) for side in frame.view or (0, 0, frame.width, frame.height))
    name = f"<title>{escape(frame.title)}</title>" if frame.title else ""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{num(float(frame.width))}" '
        f'height="{num(float(frame.height))}" viewBox="{box}" {frame.said}'
        + (f' class="{escape(frame.class_)}"' if frame.class_ else "")
        + (f' font-family="{FACE}"' if frame.text else "")
        + (' preserveAspectRatio="none"' if frame.stretch else "")
        + f">{name}{inside}</svg>"
    )
