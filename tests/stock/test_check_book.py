"""The book checked against itself."""

import pytest

from stock.models import Balance, LocationKind, Movement, Posting
from tests.builders import make_bead, put_beads

pytestmark = pytest.mark.django_db


@pytest.fixture
def tray():
    """120 beads of one batch on the bead shelf."""
    item = put_beads(make_bead(), 120)
    return Balance.objects.select_related("item", "place").get(
        item=item, place__kind=LocationKind.BEAD_SHELF
    )


def test_the_book_says_first_what_does_not_hold(tray):
    from django.core.management import CommandError, call_command
    from django.db import connection

    call_command("check_book")
    with connection.cursor() as cursor:
        cursor.execute("UPDATE stock_balance SET quantity = 119 WHERE id = %s", [tray.pk])
    with pytest.raises(CommandError) as found:
        call_command("check_book")
    assert tray.item.name in str(found.value) and "+1" in str(found.value)


def test_what_was_posted_is_never_edited_not_even_by_hand(tray):
    from django.db import DatabaseError, transaction

    for change in (
        lambda: Movement.objects.update(quantity=1),
        lambda: Posting.objects.update(why="another story"),
        lambda: Movement.objects.all().delete(),
    ):
        with pytest.raises(DatabaseError), transaction.atomic():
            change()
