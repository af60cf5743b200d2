"""Quantities of the book in templates: {{ item|say_quantity:quantity }}, {{ item|unit }}."""

from django import template

from stock.measures import PIECE, say_quantity, unit_of
from stock.models import Item

register = template.Library()
register.filter("say_quantity", say_quantity)


@register.filter
def unit(item: Item) -> str:
    """The sign of its unit; "" for pieces."""
    sign = unit_of(item)
    return "" if sign == PIECE else sign
