"""What the costing says, in the reader's language."""

from django.utils.translation import gettext as _

from orders.costing.errors import CostingError
from orders.costing.notices import Notice


def refusal(error: CostingError) -> str:
    """The sentence with which the costing refuses."""
    return _(error.template) % error.params


def notice(told: Notice) -> str:
    """The sentence of something the owner should know."""
    return _(told.template) % dict(told.params)
