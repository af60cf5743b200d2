"""The legend of the kilns' picture."""

from django import template
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from workshop.drawing import kiln_sign_svg

register = template.Library()

SIGNS = {
    "burning": _("burning"),
    "planned": pgettext_lazy("state of a load", "planned"),
    "pinned": _("pinned"),
    "kept": _("room kept, not planned"),
    "late": _("late"),
    "rounds": _("rounds in a kiln kept hot"),
    "changed": _("changed"),
    "gone": _("where it stood"),
}


@register.simple_tag
def kiln_signs(names: str) -> list[tuple[str, object]]:
    """{% kiln_signs "burning late" as legend %}: each form with its word."""
    return [(kiln_sign_svg(name), SIGNS[name]) for name in names.split()]
