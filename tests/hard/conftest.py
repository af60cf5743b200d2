"""The small workshop that the tests of a module share; each test leaves it as it found it."""

import pytest
from django.db import transaction

from tests.hard.world import make_world


@pytest.fixture(scope="module")
def world(django_db_setup, django_db_blocker):
    """Around every test's own transaction; the test must be marked `django_db` as well."""
    with django_db_blocker.unblock(), transaction.atomic():
        make_world()
        yield
        transaction.set_rollback(True)
