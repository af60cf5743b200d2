"""The first thing a workshop of one's own writes down is whose it is."""

import pytest
from django.urls import reverse

from tests.builders import make_person
from tests.plain_pages import PlainPages
from workshop.models import Business

pytestmark = pytest.mark.django_db


def test_the_business_of_an_empty_book_is_saved_as_its_page_shows_it(client):
    client.force_login(make_person("owner"))
    page = PlainPages(client).open(reverse("workshop:business"))
    page.fill("Name", "Saltmarsh Glass").press("Save")
    assert page.complaints == ""
    assert Business.objects.get().name == "Saltmarsh Glass"
