"""What a drawing shows, said for those who listen to a paper instead of looking at it."""

import re

from django.utils.html import escape
from django.utils.translation import gettext as _

OPENS = re.compile(r"<svg\b[^>]*>(?!\s*<title>)")


def titled(svg: str, words: str) -> str:
    """The drawing with its title; a paper's reader speaks it in the place of the picture."""
    return OPENS.sub(lambda found: f"{found[0]}<title>{escape(words)}</title>", svg, count=1)


def with_titles(html: str) -> str:
    """Every drawing of a page has a title, its own or that of its kind.

    Source: ISO 14289-1, 7.3: every figure has an alternative text.
    """

    def speak(found: re.Match[str]) -> str:
        opens = found[0]
        if 'class="code"' in opens:
            words = _("Code to scan")
        elif 'class="cord"' in opens:
            words = _("Beads on a cord")
        else:
            words = _("Drawing of a strand")
        return f"{opens}<title>{escape(words)}</title>"

    return OPENS.sub(speak, html)
