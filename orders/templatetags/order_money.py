"""What the order page shows of its money, gathered where the piece stands."""

from django import template

from orders.money.queries import accounts as queries

register = template.Library()


@register.simple_tag
def order_money(order):
    """{% order_money order as purse %}: papers, payments and what is still to be charged."""
    return queries.order_money(order)
