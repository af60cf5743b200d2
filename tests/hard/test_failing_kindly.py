"""When something under the workshop gives way: a sentence for the person, a line in the log,
nothing half-written, and work that goes on by itself afterwards."""

import errno
import os
import sqlite3
import subprocess
import sys
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.db import OperationalError, connection, transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from orders.models import Document, DocumentFile
from orders.papers import press
from stock.models import Sack
from tests.builders import make_business, make_person
from tests.hard.server import Hand, Server, make_workshop
from tests.hard.test_asvs_forms import a_sack
from tests.hard.world import database_hash, signed_in

ROOT = Path(__file__).resolve().parent.parent.parent


# --- the real server, its database taken away and brought back ---


@pytest.fixture
def server(tmp_path):
    made = Server(f"sqlite:///{tmp_path}/book/book.sqlite3", tmp_path, workers=1)
    (tmp_path / "book").mkdir()
    yield made
    made.kill_all()


SACK = """
import django; django.setup()
from stock.models import Sack, Collector, GlassColour
print(Sack.objects.count(), Collector.objects.first().pk, GlassColour.objects.first().pk)
"""


@pytest.mark.slow
def test_a_book_that_is_away_says_so_and_comes_back_by_itself(server, tmp_path):
    """The real server, its database pulled away while it starts and put back."""
    sessions = make_workshop(server)
    count, collector, colour = map(int, server.python("-c", SACK).split())
    server.start()
    hand = Hand(server, sessions["yard"])
    book = tmp_path / "book" / "book.sqlite3"
    form = a_sack_form(collector, colour)

    def weigh() -> tuple[int, str]:
        status, _to, page = hand.post("/stock/sacks/log/", form)
        return status, page

    # Gone: the folder is moved away, as a pulled disk would be.
    hidden = tmp_path / "hidden"
    server.kill_all()
    (tmp_path / "book").rename(hidden)
    (tmp_path / "book").write_text("not a folder")
    server.process = None
    server.start(answers=503)
    status, page = server.ask("GET", "/workshop/health/")
    assert (status, page) == (503, "not ready\n")
    status, page = server.ask("GET", "/workshop/sign-in/")
    assert status == 503 and "The book cannot be reached" in page and "sqlite" not in page.lower()
    (tmp_path / "book").unlink()
    hidden.rename(tmp_path / "book")
    assert server.ask("GET", "/workshop/health/")[0] == 200, "it did not come back by itself"

    # And work goes on by itself, with nothing half-written.
    status, page = weigh()
    assert status == 302
    assert "the book cannot be used" in server.log()
    assert int(server.python("-c", SACK).split()[0]) == count + 1
    assert "The book is sound" in server.python("-m", "django", "check_book")
    with sqlite3.connect(book) as opened:
        assert opened.execute("PRAGMA integrity_check").fetchone()[0] == "ok"


def a_sack_form(collector: int, colour: int) -> dict:
    return {
        "collector": collector,
        "colour": colour,
        "gross_g": "10",
        "tare_g": "0",
        "dirt_share": "0",
        "origin": "bottles",
        "paid": "no",
        "received_on": date(2026, 1, 5).isoformat(),
    }


# --- the database refuses to write ---


@pytest.mark.django_db
@pytest.mark.parametrize(
    "word",
    ["attempt to write a readonly database", "database or disk is full", "disk I/O error",
     "database is locked", "unable to open database file"],
)  # fmt: skip
def test_a_write_that_the_database_refuses_is_said_and_leaves_nothing(world, word, caplog):
    """Every INSERT and UPDATE fails from the third on, in the words of SQLite itself."""
    client, written = signed_in("yard"), {"n": 0}
    before = database_hash("django_session")

    def refuse(execute, sql, params, many, context):
        if sql.lstrip().upper().startswith(("INSERT", "UPDATE")):
            written["n"] += 1
            if written["n"] >= 3:
                raise OperationalError(word)
        return execute(sql, params, many, context)

    with connection.execute_wrapper(refuse):
        answer = client.post(reverse("stock:sack_log"), a_sack())
    assert answer.status_code == 503
    text = answer.content.decode()
    assert "Nothing of this step was written" in text
    assert word not in text
    assert word in caplog.text
    assert answer.headers["Retry-After"]
    assert database_hash("django_session") == before
    # And by itself again.
    sacks = Sack.objects.count()
    assert client.post(reverse("stock:sack_log"), a_sack()).status_code == 302
    assert Sack.objects.count() == sacks + 1


@pytest.mark.skipif(os.environ.get("DATABASE_URL", "").startswith("postgres"), reason="SQLite")
def test_a_read_only_book_can_still_be_read(tmp_path):
    """The real file, without the right to write; run in a process of its own."""
    look = """
import django; django.setup()
from django.core.management import call_command
call_command("migrate", verbosity=0)
from tests.builders import make_person, make_colour
make_person("yard"); make_colour()
from django.db import connection, connections
from django.test import Client
from workshop.models import Person
client = Client(raise_request_exception=False, SERVER_NAME="localhost")
client.force_login(Person.objects.get(role="yard"))
with connection.cursor() as cursor:
    cursor.execute("PRAGMA query_only = ON")
print("GET", client.get("/stock/colours/").status_code)
answer = client.post("/stock/colours/new/", {"name": "ochre", "swatch": "#aa8800",
    "price_per_kg": "1", "grinding_yield": "90", "washing_yield": "95", "bottle_g": "300",
    "in_use": "on", "expansion": "", "grinding": "90", "washing": "95"})
print("POST", answer.status_code, "cannot be reached" in answer.content.decode())
"""
    done = subprocess.run(
        [sys.executable, "-c", look],
        env={**os.environ, "DATABASE_URL": f"sqlite:///{tmp_path}/book.sqlite3",
             "DJANGO_SETTINGS_MODULE": "workshop.settings", "PYTHONPATH": str(ROOT)},
        cwd=ROOT, capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip
    assert "GET 200" in done.stdout, done.stderr[-2000:]
    assert "POST 503 True" in done.stdout, done.stdout + done.stderr[-2000:]


@pytest.mark.django_db
@pytest.mark.skipif(connection.vendor != "postgresql", reason="PostgreSQL")
def test_a_read_only_postgres_can_still_be_read(world):
    """As a standby is, or a database whose disk is full: 500 was the answer to every form."""
    client = signed_in("yard")
    # Inside a savepoint the word holds until its end.
    with transaction.atomic():
        with connection.cursor() as cursor:
            cursor.execute("SET TRANSACTION READ ONLY")
        assert client.get(reverse("stock:colour_list")).status_code == 200
        answer = client.post(reverse("stock:sack_log"), a_sack())
        transaction.set_rollback(True)
    assert answer.status_code == 503
    assert "cannot be reached" in answer.content.decode()


# --- papers ---


@pytest.mark.django_db
def test_a_paper_whose_bytes_were_changed_is_not_handed_out(world, caplog):
    paper = Document.objects.filter(kind="invoice").first()
    DocumentFile.objects.filter(paper=paper).delete()
    DocumentFile.objects.create(paper=paper, pdf=b"%PDF-1.7 changed", sha256="0" * 64)
    answer = signed_in("owner").get(reverse("orders:paper_pdf", args=[paper.pk]), follow=True)
    text = answer.content.decode(errors="replace")
    assert "%PDF" not in text
    assert "its hash differs" in text or "not the one that was issued" in text


@pytest.mark.django_db
def test_without_the_printing_libraries_everything_but_printing_works(world, monkeypatch):
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    press._press.cache_clear()
    paper = Document.objects.filter(kind="invoice").first()
    DocumentFile.objects.filter(paper=paper).delete()
    client = signed_in("owner")
    numbers = Document.objects.count()
    answer = client.get(reverse("orders:paper_pdf", args=[paper.pk]), follow=True)
    assert "cannot print PDFs yet" in answer.content.decode()
    assert answer.status_code in {200, 503}
    assert Document.objects.count() == numbers, "a paper that cannot be printed keeps its number"
    assert client.get(reverse("orders:paper", args=[paper.pk])).status_code == 200


@pytest.mark.django_db
def test_a_full_disk_while_copying_leaves_the_old_copies(tmp_path, settings, monkeypatch):
    from workshop.services import copies, copy_file
    from workshop.services.copy_file import CopyRefused

    good = copies.back_up(tmp_path / "copies", keep=2)

    def full(*args, **kwargs):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(copy_file, "_seal", full)
    with pytest.raises(CopyRefused, match="No space left on device"):
        copies.back_up(tmp_path / "copies", keep=2)
    assert [path.name for path in (tmp_path / "copies").iterdir()] == [good.name]


# --- clocks and calendars ---


@pytest.mark.django_db
def test_an_evening_sack_is_booked_on_the_workshops_own_day():
    """23:30 UTC on 30 June is 1 July in London: the day of the book is the workshop's."""
    make_business(time_zone="Europe/London")
    make_person("yard")
    with time_machine.travel(datetime(2026, 6, 30, 23, 30, tzinfo=UTC), tick=False):
        client = Client()
        client.force_login(make_person("yard"))
        page = client.get(reverse("stock:sack_log")).content.decode()
        assert 'value="2026-07-01"' in page
        form = {**a_sack(), "received_on": "2026-07-01"}
        assert client.post(reverse("stock:sack_log"), form).status_code == 302
        assert Sack.objects.latest("pk").received_on == date(2026, 7, 1)


@pytest.mark.parametrize(
    ("start", "hours"),
    [(datetime(2026, 10, 24, 20), 13), (datetime(2026, 3, 28, 20), 11)],
)
def test_a_night_firing_over_a_change_of_clocks_has_its_true_length(start, hours):
    """20:00 to 08:00 in London is 13 h when the clocks go back, 11 h when they go on (tzdata)."""
    zone = ZoneInfo("Europe/London")
    lit = start.replace(tzinfo=zone).astimezone(UTC)
    out = (start + timedelta(hours=12)).replace(tzinfo=zone).astimezone(UTC)
    assert out - lit == timedelta(hours=hours)


@pytest.mark.django_db
@pytest.mark.parametrize("back", [timedelta(hours=1), timedelta(days=366)])
def test_numbers_still_rise_when_the_clock_is_set_back(back):
    person = make_person("yard")
    moment = timezone.now()
    numbers = []
    for at in (moment, moment - back, moment):
        with time_machine.travel(at, tick=False):
            client = Client()
            client.force_login(person)
            form = {**a_sack(), "received_on": "2024-01-05"}
            assert client.post(reverse("stock:sack_log"), form).status_code == 302
            numbers.append(Sack.objects.latest("pk").number)
    assert numbers == [numbers[0], numbers[0] + 1, numbers[0] + 2]


@pytest.mark.django_db
@pytest.mark.parametrize("moment", ["2026-03-29T00:59:59", "2026-03-29T01:00:00",
                                    "2026-10-25T00:59:59", "2026-10-25T01:00:00"])  # fmt: skip
def test_every_list_opens_in_the_hour_that_is_missing_or_comes_twice(moment):
    make_business(time_zone="Europe/London")
    with time_machine.travel(datetime.fromisoformat(moment).replace(tzinfo=UTC), tick=False):
        client = signed_in("owner")
        for name in ("orders:home", "orders:firing", "stock:glass", "workshop:act_list"):
            assert client.get(reverse(name)).status_code == 200, name
