"""A large sheet is read and looked at without holding the book: nobody else waits for either."""

from threading import Thread

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection, connections
from django.urls import reverse

from orders.models import Customer
from orders.moving_in import services, views
from tests.builders import make_customer, make_person


@pytest.mark.django_db
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


@pytest.mark.django_db(transaction=True)
def test_others_write_while_a_sheet_is_looked_at_and_nothing_of_the_look_stays(client, monkeypatch):
    client.force_login(make_person("owner"))
    carrying_out, troubles = services._carry_out, []

    def somebody_else() -> None:
        try:
            make_customer("Ines Vela")
        except Exception as error:
            troubles.append(error)
        finally:
            connections.close_all()

    def watched(*words):
        look = carrying_out(*words)
        assert Customer.objects.filter(name="Marisa Orlo").exists(), "it is looked at by doing it"
        other = Thread(target=somebody_else)
        other.start()
        other.join()
        return look

    monkeypatch.setattr(services, "_carry_out", watched)
    sheet = SimpleUploadedFile("customers.csv", b"Name\nMarisa Orlo\n", "text/csv")
    sent = client.post(reverse("orders:moving_in"), {"sheet": sheet, "kind": "customers"})
    assert sent.status_code == 302
    assert not troubles
    assert list(Customer.objects.values_list("name", flat=True)) == ["Ines Vela"]
