"""A workshop where invoices need certified programs is told so; the demo's papers could be issued.

Which countries ask for it: public summaries of the laws named, the rest from memory; not complete.
"""

import pytest
from django.urls import reverse

from orders.demo.facts import read
from tests.builders import make_business, make_person
from tests.orders.money.setting import order_of
from workshop.invoicing_law import caution

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(("country", "told"), [("PT", True), ("IE", False), ("", False)])
def test_the_owner_is_told_where_the_country_asks_for_certified_invoicing(client, country, told):
    make_business(country=country)
    client.force_login(make_person())
    order = order_of((30, "6.50"))
    for page in (reverse("orders:money"), reverse("orders:invoice_issue", args=[order.number])):
        assert ("ask your adviser" in client.get(page).content.decode()) is told


@pytest.mark.parametrize(
    ("country", "said"), [("PT", "Portaria 363/2010"), ("DE", "§ 146a AO"), ("KE", "from memory")]
)
def test_the_caution_names_its_law_or_says_that_it_is_from_memory(country, said):
    assert said in caution(country)
    assert "not certified" in caution(country)


def test_the_demo_lies_where_its_papers_could_be_issued_as_they_are():
    assert caution(read("workshop")["business"]["country"]) == ""
