"""The small workshop that the tests of a module share; each test leaves it as it found it."""

import pytest
from django.db import transaction

from tests.hard.world import make_world
from tests.own_database import own_database


@pytest.fixture(scope="module")
def world(django_db_setup, django_db_blocker):
    """Around every test's own transaction; the test must be marked `django_db` as well."""
    with django_db_blocker.unblock(), transaction.atomic():
        make_world()
        yield
        transaction.set_rollback(True)


@pytest.fixture(params=["sqlite", "postgresql"])
def server_database(request, tmp_path):
    """The address of an empty database for a server of its own; PostgreSQL where one is named."""
    with own_database(request.param, tmp_path, "book") as url:
        yield url
