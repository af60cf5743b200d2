"""Pages that look back read a copy of the book; whoever has just written reads the book itself.

Our own rules; no outside source.
"""

import os
import subprocess
import sys

import pytest

from tests.own_database import ROOT, own_database

# The copy is a file of its own on SQLite, and the same database opened for reading on PostgreSQL:
# there it is the server that refuses whatever would be written.
BOOK = """
from django.core.management import call_command
call_command("migrate", verbosity=0, skip_checks=True)
from tests.builders import make_business, make_person, make_rate, make_kiln
make_business(name="As it was"); make_person("owner"); make_rate(); make_kiln()
"""
LOOKS = """
import sys
from django.conf import settings
settings.ALLOWED_HOSTS = ["*"]
from django.db import connections
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from workshop.models import Person, StandingCost
from workshop.replica import LOOK_BACK
client = Client()
client.force_login(Person.objects.get(role="owner"))

def asked(page):
    with CaptureQueriesContext(connections["read"]) as copy, \\
            CaptureQueriesContext(connections["default"]) as book:
        answer = client.get(reverse(page))
    assert answer.status_code == 200, page
    own = [q["sql"] for q in book.captured_queries
           if not any(f'"{t}"' in q["sql"] for t in ("django_session", "workshop_person",
                      "workshop_business"))]
    return len(copy.captured_queries), own

for page in sorted(LOOK_BACK):
    copy, book = asked(page)
    assert copy and not book, (page, copy, book)
assert asked("orders:order_list")[0] == 0
assert client.post(reverse("workshop:sign_out")).status_code == 302
assert client.cookies["written"].value == "yes"
client.force_login(Person.objects.get(role="owner"))
assert asked("orders:money")[0] == 0
del client.cookies["written"]
assert asked("orders:money")[0] > 0
print("read")
"""


@pytest.mark.parametrize("kind", ["sqlite", pytest.param("postgresql", marks=pytest.mark.slow)])
def test_pages_that_look_back_ask_the_copy_and_nothing_else_does(kind, tmp_path):
    with own_database(kind, tmp_path, "replica") as url:
        told = os.environ | {"DATABASE_URL": url, "PYTHONPATH": str(ROOT)}
        run = [sys.executable, "manage.py", "shell", "--no-imports", "-c"]
        subprocess.run([*run, BOOK], cwd=ROOT, env=told, check=True)
        only_read = "-c default_transaction_read_only=on".replace(" ", "%20").replace("=", "%3D")
        told["DATABASE_URL_READ"] = f"{url}?options={only_read}"
        if kind == "sqlite":
            book = tmp_path / "replica.sqlite3"
            copied = tmp_path / "copy.sqlite3"
            subprocess.run(
                [sys.executable, "-c", "import sqlite3, sys; sqlite3.connect(sys.argv[1])"
                 ".backup(sqlite3.connect(sys.argv[2]))", book, copied], check=True,
            )  # fmt: skip
            told["DATABASE_URL_READ"] = f"sqlite:///{copied}"
        done = subprocess.run(
            [*run, LOOKS], cwd=ROOT, env=told, capture_output=True, text=True, check=False
        )
        assert done.stdout.strip().endswith("read"), done.stderr[-2000:]
