import pytest
from django.db import connection

from orders.models import Customer
from workshop.query_plans import look_at_tables


@pytest.mark.django_db
@pytest.mark.skipif("connection.vendor != 'postgresql'")
def test_postgresql_knows_how_many_rows_came_at_once():
    Customer.objects.bulk_create(Customer(name=f"Trader {number}") for number in range(300))
    look_at_tables()
    with connection.cursor() as cursor:
        cursor.execute("SELECT reltuples FROM pg_class WHERE oid = 'orders_customer'::regclass")
        assert cursor.fetchone() == (300,)
