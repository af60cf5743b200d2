"""Boxes ask for what belongs there in the workshop's own words."""

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from tests.builders import make_business, make_person
from workshop.form_fields import MoneyBox

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("page", "typed", "sentence"),
    [
        ("workshop:mould_add", {"name": ""}, "Write this in; it is needed."),
        ("workshop:programme_add", {"kind": ""}, "Choose one; it is needed."),
        ("workshop:programme_add", {"kind": "brick"}, "not on the list any more"),
        ("workshop:kiln_add", {"name": "K" * 300}, "letters fit here; shorten the 300 written"),
        ("workshop:kiln_add", {"places": "-1"}, "too little; write"),
    ],
)
def test_no_box_speaks_of_fields_and_values(client, page, typed, sentence):
    make_business()
    client.force_login(make_person("owner"))
    answer = client.post(reverse(page), typed)
    told = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in told
    assert "This field" not in told and "Ensure this value" not in told


def test_an_amount_that_is_a_thousand_times_more_to_another_reader_is_asked_about():
    box = MoneyBox()
    with pytest.raises(ValidationError, match="can be read as 1.234 or as 1234"):
        box.clean("1,234")
    assert [box.clean(text) for text in ("12,50", "0,125", "1234,5")] == [
        Decimal("12.50"),
        Decimal("0.125"),
        Decimal("1234.5"),
    ]
