"""The log speaks as the screens do."""

import pytest

from workshop.log_words import changes, subject

pytestmark = pytest.mark.django_db


def test_what_was_acted_on_bears_the_name_it_has_on_the_screens():
    assert subject("taxrate", "3").lower().startswith("vat rate")
    assert subject("no such thing", "3") == "no such thing 3"


@pytest.mark.parametrize(
    ("kind", "before", "after", "told"),
    [
        ("taxrate", {"rate": "9.800000"}, {"rate": "21.000"}, "per cent: 9.8 → 21"),
        ("taxrate", {}, {"standard": "True"}, ": yes"),
        ("sack", {"paid_on": ""}, {"paid_on": "2025-05-05"}, ": – → Mon 5 May 2025"),
        ("sack", None, {"reason": "1.2.3"}, "reason: 1.2.3"),
        ("sack", None, {"weights": ["1.500", "2.000"]}, "weights: 1.5, 2"),
        ("kilnload", {"state": "planned"}, {"state": "burning"}, "→"),
    ],
)
def test_changes_are_told_with_the_names_of_boxes_and_figures_as_people_write_them(
    kind, before, after, told
):
    assert told in changes(kind, before, after)
    assert "000000" not in changes(kind, before, after)
