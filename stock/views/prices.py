"""Who sees what stock is worth."""

from workshop.access import OWNER, YARD


def sees_prices(request) -> bool:
    """What collectors are paid, and so what stock is worth, is for the yard and the owner."""
    return request.user.role in {OWNER, YARD}
