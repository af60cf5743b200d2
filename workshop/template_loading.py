"""Templates as they are read from their folder."""

import re

from django.template.loaders import filesystem

# Whatever stands in an opening tag, template tags with a > in them too.
_OPENING = r"<td\b(?:\{%.*?%\}|\{\{.*?\}\}|[^>{])*>"
_LINES = re.compile(r"\s*\n\s*")
_EDGES = re.compile(rf"({_OPENING})\s+|\s+(?=</td>)", re.DOTALL)


def tight_cells(source: str) -> str:
    """A template without white space at the edges of its table cells.

    Laid out one element a line, a cell with nothing in it would hold a line's end, and only a cell
    that is truly empty (`td:empty`) is left out where tables are stacked on a telephone.

    >>> tight_cells('<td class="num">\\n  {% if late %}{{ late }}{% endif %}\\n</td>')
    '<td class="num">{% if late %}{{ late }}{% endif %}</td>'
    """
    return _EDGES.sub(lambda found: found[1] or "", source)


def without_margins(source: str) -> str:
    """A template without the margins and empty lines it is laid out with; they are a third of what
    a long page would send.

    >>> without_margins("<ul>\\n    <li>1\\n\\n    </li>\\n")
    '<ul>\\n<li>1\\n</li>\\n'
    """
    return _LINES.sub("\n", source)


class Loader(filesystem.Loader):
    def get_contents(self, origin):
        return without_margins(tight_cells(super().get_contents(origin)))
