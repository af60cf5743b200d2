"""What stands is kept in memory under a mark of the book: nothing stale is ever shown.

Our own rules; no outside source.
"""

import os
import re
import subprocess
import sys
from decimal import Decimal as D

import pytest
from django.apps import apps
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from orders.facts.order import facts_for
from orders.facts.standing import standing_facts
from orders.floor.facts import read_facts
from orders.floor.promise_rows import firings_of
from orders.models import DesignPrice, StrandDesign, WantedLine
from tests.builders import (
    make_bead,
    make_business,
    make_colour,
    make_customer,
    make_design,
    make_kiln,
    make_person,
    make_rate,
)
from tests.own_database import ROOT, own_database
from workshop.models import Kiln, LabourRate, Mould
from workshop.standing import TABLE, mark, watch


@pytest.fixture
def design(db):
    make_business()
    make_kiln()
    make_kiln(
        "Hot kiln", places=8, way="hot", warm_up_min=60, change_min=10, keep_hot_min=45,
        hotter_c_per_min=8, cooler_c_per_min=6,
    )  # fmt: skip
    make_rate()
    two = {make_colour("green"): D("0.5"), make_colour("brown"): D("0.5")}
    return make_design(beads=make_bead(colours=two))


def facts(design):
    return standing_facts([design.pk], timezone.localdate())


def test_asked_again_it_takes_one_query(design, django_assert_num_queries):
    first = facts(design)
    with django_assert_num_queries(1):
        assert facts(design) is first


@pytest.mark.parametrize(
    "change",
    [
        lambda design: Mould.objects.update(price=D("99")),
        lambda design: LabourRate.objects.all().delete(),
        lambda design: Kiln.objects.bulk_create([Kiln(name="third", places=9)]),
        lambda design: connection.cursor().execute("UPDATE stock_bead SET name = 'other'"),
    ],
    ids=["many at once", "taken away", "put in many", "by another program"],
)
def test_whatever_is_written_is_seen_at_once(design, change):
    before = facts(design)
    change(design)
    assert facts(design) != before


def test_who_signed_in_when_moves_no_mark(design):
    person, before = make_person("owner"), mark()
    person.last_login = timezone.now()
    person.save(update_fields=["last_login"])
    assert mark() == before
    person.role = "counter"
    person.save(update_fields=["role"])
    assert mark() != before


def test_a_change_that_is_rolled_back_leaves_nothing_behind(design):
    before = facts(design)
    with transaction.atomic():
        StrandDesign.objects.update(name="never")
        assert facts(design).rows[0].name == "never"
        transaction.set_rollback(True)
    assert facts(design) is before


def test_what_is_read_while_it_changes_is_not_kept(design):
    from workshop.standing import kept

    def changed_meanwhile():
        Mould.objects.update(price=D("7"))
        return "read too early"

    assert kept("test", 1, changed_meanwhile) == "read too early"
    assert kept("test", 1, lambda: "read anew") == "read anew"


def test_only_standing_tables_are_read_for_what_is_kept(design):
    """A table that moves no mark would be read once and shown for ever."""
    standing = {
        config.get_model(name)._meta.db_table
        for config in apps.get_app_configs()
        for name in getattr(config, "standing", ())
    }
    Mould.objects.update(price=D("1"))  # nothing is kept of this mark
    with CaptureQueriesContext(connection) as first:
        facts(design)
        told = read_facts(timezone.now())
        firings_of(told)
    read = set(re.findall(r'(?:FROM|JOIN) "?(\w+)"?', " ".join(q["sql"] for q in first)))
    assert read - {TABLE, "stock_kilnload"} <= standing
    with CaptureQueriesContext(connection) as again:
        facts(design)
        firings_of(read_facts(timezone.now()))
    tables = re.findall(r'FROM "?(\w+)"?', " ".join(q["sql"] for q in again))
    assert sorted(tables) == ["stock_kilnload", TABLE, TABLE, TABLE]


def test_a_table_made_anew_moves_the_mark_again(design):
    name = "orders_stranddesign_moves_mark"
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute(f"DROP TRIGGER {name}_update")
        else:
            cursor.execute(f"DROP TRIGGER {name} ON orders_stranddesign")
        before = mark()
        StrandDesign.objects.update(name="unseen")
        assert mark() == before
        watch(apps.get_app_config("orders"))
    between = mark()
    assert between != before  # what was written while nobody watched is read anew
    StrandDesign.objects.update(name="seen")
    assert mark() != between


def test_a_customers_own_price_is_never_kept_for_another(design):
    wanted, one, other = [WantedLine(design.pk, 1)], make_customer("One"), make_customer("Other")
    DesignPrice.objects.create(
        design=design, customer=one, price=D("7"), valid_from=timezone.localdate()
    )
    agreed = [facts_for(wanted, customer=who).agreed for who in (one, other, None, one)]
    assert agreed == [((design.pk, D("7")),), (), (), ((design.pk, D("7")),)]


ASKS = """
import sys
from django.core.management import call_command
from django.utils import timezone
from orders.facts.standing import standing_facts
from orders.models import StrandDesign
from tests.builders import make_bead, make_business, make_design
call_command("migrate", verbosity=0)
make_business()
key = make_design("as it was", beads=make_bead()).pk
for line in sys.stdin:
    print(standing_facts([key], timezone.localdate()).rows[0].name, flush=True)
"""
CHANGES = """
from orders.models import StrandDesign
StrandDesign.objects.update(name="as it is now")
"""


@pytest.mark.parametrize("kind", ["sqlite", pytest.param("postgresql", marks=pytest.mark.slow)])
def test_what_one_process_changes_another_that_kept_it_shows(kind, tmp_path):
    with own_database(kind, tmp_path, "standing") as url:
        told = os.environ | {"DATABASE_URL": url, "PYTHONPATH": str(ROOT)}
        run = [sys.executable, "manage.py", "shell", "--no-imports", "-c"]
        pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE}
        asks = subprocess.Popen([*run, ASKS], cwd=ROOT, env=told, text=True, **pipes)
        try:
            assert [ask(asks), ask(asks)] == ["as it was", "as it was"]
            subprocess.run([*run, CHANGES], cwd=ROOT, env=told, check=True)
            assert ask(asks) == "as it is now"
        finally:
            asks.communicate(timeout=60)


def ask(process) -> str:
    process.stdin.write("\n")
    process.stdin.flush()
    return process.stdout.readline().strip()
