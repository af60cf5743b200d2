"""What the yard may pay by itself: the owner sets how far it goes."""

from decimal import Decimal

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from workshop import formats
from workshop.models import Business, Person


def check_price(person: Person, price: Decimal, *, listed: Decimal) -> None:
    """A price by the kilogram that the price list does not know is the owner's to give."""
    if person.is_owner or price <= listed:
        return
    most = max(listed, Business.in_force().yard_price_most or Decimal(0))
    if price > most:
        raise ValidationError(
            {
                "price_per_kg": _(
                    "You may pay up to %(most)s a kilogram and %(price)s was written. Leave it "
                    "empty for the price list, or ask the owner."
                )
                % {"most": formats.money(most), "price": formats.money(price)}
            }
        )


def check_payout(person: Person, total: Decimal) -> None:
    """Above the owner's sum, money that leaves the yard is hers to hand out."""
    most = Business.in_force().yard_cash_most
    if person.is_owner or most is None or total <= most:
        return
    raise ValidationError(
        _(
            "You may pay out up to %(most)s at a time and this is %(total)s. Leave it owed; the "
            "owner pays it."
        )
        % {"most": formats.money(most), "total": formats.money(total)}
    )
