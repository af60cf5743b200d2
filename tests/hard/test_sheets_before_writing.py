"""A large sheet is read before its sender holds the book: nobody else waits for the reading."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.urls import reverse

from orders.moving_in import views
from tests.builders import make_person

pytestmark = pytest.mark.django_db


def test_no_transaction_is_held_while_a_sheet_is_read(client, monkeypatch):
    client.force_login(make_person("owner"))
    depth: list[int] = []
    reading = views.read_file

    def watched(*words):
        depth.append(len(connection.savepoint_ids))
        return reading(*words)

    monkeypatch.setattr(views, "read_file", watched)
    outside = len(connection.savepoint_ids)
    address = reverse("orders:moving_in")
    sheet = SimpleUploadedFile("customers.csv", b"Name\nMarisa Orlo\n", "text/csv")
    client.post(address, {"sheet": sheet, "kind": "customers"})
    client.post(address, {"bring": "yes"})
    assert depth and set(depth) == {outside}
