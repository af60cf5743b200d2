"""Lists by name stand as a dictionary does, whatever the database thinks of accents."""

import pytest
from django.db import connection
from django.urls import reverse

from orders.models import Customer
from stock.models import Bead, Collector
from tests.builders import make_bead, make_customer, make_person
from workshop.letters import sorting_key
from workshop.paging import beyond

pytestmark = pytest.mark.django_db

# The root order of CLDR: letters before accents, accents before capitals. Spaces and hyphens come
# before letters. Checked against ICU itself below, where PostgreSQL carries it.
NAMES = [
    "Ana Luz", "Ánalia", "Andreas", "Çelik", "Cereja", "Conçeição", "Cote", "Coté", "Côte", "Côté",
    "Edda", "Élan", "Eland", "Emil", "Ñandu", "Nora", "Œdipe", "Olek", "Øyvind", "Strasse",
    "Straße Neu", "Über", "Ulm", "Zita",
]  # fmt: skip


def test_names_stand_by_their_letters_and_then_by_their_accents():
    mixed = [*NAMES[1::2], *NAMES[::2]]
    assert sorted(mixed, key=sorting_key) == NAMES


@pytest.mark.skipif(connection.vendor != "postgresql", reason="ICU orders names on PostgreSQL")
def test_icu_orders_them_alike():
    with connection.cursor() as cursor:
        cursor.execute(
            'SELECT name FROM unnest(%s::text[]) AS each(name) ORDER BY name COLLATE "und-x-icu"',
            [NAMES],
        )
        assert [name for (name,) in cursor.fetchall()] == NAMES


def test_lists_follow_and_what_lies_beyond_a_row_is_what_comes_after_it(client):
    for name in reversed(NAMES):
        make_customer(name)
    assert list(Customer.objects.values_list("name", flat=True)) == NAMES
    middle = Customer.objects.get(name="Emil")
    rest = beyond(Customer.objects.all(), middle.pk).values_list("name", flat=True)
    assert list(rest) == NAMES[NAMES.index("Emil") + 1 :]
    client.force_login(make_person("owner"))
    page = client.get(reverse("orders:customer_list")).content.decode()
    places = [page.index(f">{name}<") for name in NAMES]
    assert places == sorted(places)


def test_a_new_name_moves_a_row_and_bulk_writers_write_it_too():
    bead = make_bead("Zebra")
    make_bead("Olive", programme=bead.programme, mould=bead.mould)
    bead.name = "Ébène"
    bead.save()
    assert [each.name for each in Bead.objects.all()] == ["Ébène", "Olive"]
    Collector.objects.bulk_create(Collector(name=name) for name in ("Zoë", "Älva", "Bo"))
    assert [each.name for each in Collector.objects.all()] == ["Älva", "Bo", "Zoë"]
