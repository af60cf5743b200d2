"""Tags and filters of our templates; loaded in every template without asking.

Filters take the program's inner units: grams, millimetres, minutes, shares of one.
"""

from dataclasses import dataclass
from decimal import Decimal
from secrets import token_hex
from typing import Any

from django import template
from django.templatetags.static import static
from django.urls import reverse
from django.utils.safestring import mark_safe
from django.utils.translation import pgettext_lazy

from workshop import bundles, drawing, formats
from workshop.doors import may
from workshop.models import Photo
from workshop.photos import KINDS
from workshop.signs import sign_of
from workshop.sprites import draw_once, sprite_of

register = template.Library()

# How far a bead of the progress strand is, for whoever listens.
STATES = {
    "done": pgettext_lazy("state of a stage", "done"),
    "now": pgettext_lazy("state of a stage", "now"),
    "late": pgettext_lazy("state of a stage", "late"),
    "todo": pgettext_lazy("state of a stage", "still to do"),
}


def _shown(write):
    """Nothing to write when there is nothing to say."""

    # Django counts a filter's arguments by its signature, so the one it may take has a name.
    def filter_(value, argument=None):
        if value is None or value == "":
            return ""
        return write(value) if argument is None else write(value, argument)

    filter_.__doc__ = write.__doc__
    return filter_


for _name, _write in {
    "money": formats.money,
    "price_each": formats.price_each,
    "count": formats.count,
    "decimal": formats.decimal,
    "percent": formats.percent,
    "kg": formats.kg,
    "mass": formats.mass,
    "grams": formats.grams,
    "hours": formats.hours,
    "minutes": formats.minutes,
    "mm": formats.mm,
    "cord_length": formats.length,
    "celsius": formats.celsius,
    "days": formats.days,
    "date_short": formats.date_short,
    "date_long": formats.date_long,
    "time_short": formats.time_short,
}.items():
    register.filter(_name, _shown(_write))


@register.filter
def mg_kg(milligrams: int | None) -> str:
    """Stock is kept in milligrams; shelves are read in kilograms (or the owner's unit)."""
    return "" if milligrams is None else formats.mass(Decimal(milligrams) / 1000)


@register.filter
def term_value(term: Any) -> str:
    """The figure of a Term of the working."""
    return formats.quantity(term.value, getattr(term, "unit", ""))


def _prefix(context: template.Context) -> str:
    """Drawings on one page must not share ids, so each gets the next number."""
    holder = context.get("request") or context.dicts[0]
    if isinstance(holder, dict):
        number = holder["_drawn"] = holder.get("_drawn", 0) + 1
    else:
        number = holder._drawn = getattr(holder, "_drawn", 0) + 1
    if getattr(holder, "htmx", False):
        # Part of a page that has drawings of its own already.
        holder._drawn_by = getattr(holder, "_drawn_by", "") or token_hex(4)
        return f"d{holder._drawn_by}n{number}"
    return f"d{number}"


@register.simple_tag(takes_context=True)
def door(context, name: str) -> str:
    """{% door 'stock:bead_add' as add %}: a page's address if this person may open it, else ""."""
    return reverse(name) if may(context["request"], name) else ""


@register.inclusion_tag("parts/_photos.html", takes_context=True)
def photos(context, kind: str, key: int, origin: int | None = None) -> dict[str, Any]:
    """{% photos "sack" sack.pk %}: photographs of a thing, and the way to the camera (1 query).

    origin  what this was made after, whose photographs show it too
    """
    pictured, user = KINDS[kind], context["request"].user
    return {
        "photos": Photo.objects.of(kind, [key, origin] if origin else [key]).select_related(
            "taken_by", *pictured.beside
        ),
        "match_page": pictured.matched,
        "kind": kind,
        "key": key,
        "words": pictured.invites,
        "may_show": pictured.on_papers and user.is_owner,
        "user": user,
        "csrf_token": context.get("csrf_token"),
    }


@register.simple_tag(takes_context=True)
def strand(context, drawn, width: int = 320, title: str = "", **kwargs) -> str:
    """{% strand drawn_strand width=320 title=design.name %}"""
    if (sprite := sprite_of(_request(context))) and not kwargs:
        return mark_safe(sprite.strand(drawn, width=width, title=title))
    svg = drawing.strand_svg(drawn, width=width, title=title, prefix=_prefix(context), **kwargs)
    return mark_safe(svg)


@register.simple_tag(takes_context=True)
def drawings_once(context) -> str:
    """{% drawings_once %}: from here on, small drawings are only named where they are seen."""
    draw_once(_request(context))
    return ""


@register.simple_tag(takes_context=True)
def drawings_named(context) -> str:
    """{% drawings_named %}: the drawings that were named on this page."""
    sprite = sprite_of(_request(context))
    return mark_safe(sprite.svg()) if sprite else ""


def _request(context: template.Context) -> Any:
    """The request, in a part that is included with `only` too."""
    return getattr(context, "request", None) or context.get("request")


def _small(context, svg: str) -> str:
    sprite = sprite_of(_request(context))
    return mark_safe(sprite.drawing(svg) if sprite else svg)


@register.simple_tag(takes_context=True)
def strand_hanging(context, drawn, width: int = 320, title: str = "", **kwargs) -> str:
    """{% strand_hanging drawn_strand width=640 %}: the whole strand, hung between two hands."""
    svg = drawing.hanging_svg(drawn, width=width, title=title, prefix=_prefix(context), **kwargs)
    return mark_safe(svg)


@register.simple_tag(takes_context=True)
def strand_bench(context, drawn, said, findings_mm: float = 0, width: int = 760) -> str:
    """{% strand_bench drawn said findings_mm %}: on its cord above a rule, each piece in reach."""
    prefix = _prefix(context)
    return mark_safe(
        drawing.cord_svg(drawn, said, width=width, findings_mm=findings_mm, prefix=prefix)
    )


@register.simple_tag(takes_context=True)
def strand_loop(context, drawn, wearer, findings_mm: float = 0, title: str = "") -> str:
    """{% strand_loop drawn wearer findings_mm title=… %}: closed, on whoever wears it."""
    prefix = _prefix(context)
    return mark_safe(
        drawing.loop_svg(drawn, wearer, findings_mm=findings_mm, prefix=prefix, title=title)
    )


@register.simple_tag(takes_context=True)
def bead(context, drawn, px_per_mm: float = 4, title: str = "", **kwargs) -> str:
    """{% bead drawn_bead px_per_mm=4 title=bead.name %}"""
    svg = drawing.bead_svg(
        drawn, px_per_mm=px_per_mm, title=title, prefix=_prefix(context), **kwargs
    )
    return mark_safe(svg)


@register.simple_tag(takes_context=True)
def bead_measured(context, drawn, bore_mm: float, said, title: str = "") -> str:
    """{% bead_measured drawn_bead bore_mm said title=… %}: large, with its measures on it."""
    prefix = _prefix(context)
    return mark_safe(
        drawing.measured_svg(drawn, bore_mm=bore_mm, said=said, prefix=prefix, title=title)
    )


@register.simple_tag(takes_context=True)
def progress(context, stages, title: str = "") -> str:
    """{% progress stages %}: list of (label, state), state done, now, late or todo."""
    return _small(context, drawing.progress_svg(stages, title=title, words=STATES))


@register.simple_tag
def glass_bar(share, colour: str, title: str = "") -> str:
    """{% glass_bar share hex %}: one bar in the glass's own colour; share 0 to 1."""
    return mark_safe(drawing.bar_svg(float(share or 0), colour, title=title))


@register.simple_tag
def bottle(colour: str, see_through: bool = True, pattern: int = 0) -> str:
    """{% bottle hex see_through colour.pk %}: a bottle of that glass, beside its name in words."""
    return mark_safe(drawing.bottle_svg(colour, see_through=see_through, pattern=pattern))


@register.simple_tag(takes_context=True)
def swatch(context, colour: str) -> str:
    """{% swatch hex %}: a drop of the colour, always beside its name in words."""
    return _small(context, drawing.swatch_svg(colour))


@register.simple_tag(takes_context=True)
def sign(context, name: str, title: str = "", size: int = 24) -> str:
    """{% sign 'mould' %}: a sign of workshop.drawing beside the words of an act."""
    return _small(context, drawing.sign_svg(name, title=str(title), size=size))


@register.simple_tag(takes_context=True)
def act_sign(context, address: str = "") -> str:
    """{% act_sign act.url %}: the sign of the act behind an address, or of this page's own."""
    name = sign_of(address or context["request"].path)
    return _small(context, drawing.sign_svg(name)) if name else ""


@register.simple_tag
def box_sign(field) -> str:
    """{% box_sign field %}: the sign that a form gives its box in `signs`, by the box's name."""
    name = getattr(field.form, "signs", {}).get(field.name.rstrip("_0123456789"))
    return mark_safe(drawing.sign_svg(name)) if name else ""


@register.simple_tag
def choice_sign(form, radio) -> str:
    """{% choice_sign form radio %}: the sign that a form gives to one answer, as `box=answer`."""
    name = getattr(form, "signs", {}).get(f"{radio.data['name']}={radio.data['value']}")
    return mark_safe(drawing.sign_svg(name)) if name else ""


@register.simple_tag
def own_mark(number: int) -> str:
    """{% own_mark collector.pk %}: somebody's own mark of three beads, beside the name."""
    return mark_safe(drawing.mark_svg(number))


@register.simple_tag
def drawn(svg: str) -> str:
    """{% drawn chart %}: a finished drawing of workshop.drawing, made by the view."""
    return mark_safe(svg)


@dataclass(frozen=True)
class Problem:
    """One line of an error summary."""

    label: str
    sentence: str
    target: str = ""


@register.simple_tag
def error_list(form=None, forms=None) -> list[Problem]:
    """Every error of one form, several, or a formset, in the order of the page."""
    found: list[Problem] = []
    for each in [form, *(forms or [])]:
        if each is None or each == "":
            continue
        if hasattr(each, "management_form"):
            found += [Problem("", str(error)) for error in each.non_form_errors()]
            for part in each.forms:
                found += _problems(part)
        else:
            found += _problems(each)
    return found


def _problems(form) -> list[Problem]:
    if not form.errors:
        return []
    found = [Problem("", str(error)) for error in form.non_field_errors()]
    for field in form:
        target = field.id_for_label or field.auto_id or ""
        found += [
            Problem(str(field.label), str(error), "" if field.is_hidden else target)
            for error in field.errors
        ]
    return found


@register.simple_tag
def made(word: str) -> str:
    """The address of a made file: `style`, `script`, or a face of the font such as `Regular`."""
    return static(bundles.address_of(word))
