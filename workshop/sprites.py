"""Which page writes each of its drawings once: a whole one, whose end comes with them.

A part of a page is put among drawings that are there already, so it brings its own.
"""

from typing import Any

from workshop.drawing import Sprite


def draw_once(request: Any) -> None:
    """From here on, drawings of this page are named where they are seen."""
    if request and not getattr(request, "htmx", False):
        request.sprite = Sprite()


def sprite_of(request: Any) -> Sprite | None:
    return getattr(request, "sprite", None)
