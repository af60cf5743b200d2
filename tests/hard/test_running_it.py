"""What probes, metrics and the doctor say, and what they keep to themselves."""

import io
import re
from datetime import timedelta

import pytest
import time_machine
from django.core.management import CommandError, call_command
from django.db import connection
from django.db.utils import OperationalError
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from prometheus_client.parser import text_string_to_metric_families

from tests.builders import make_collector, make_colour, make_customer, make_person
from tests.hard.server import Server, make_workshop
from workshop.models import AuditEntry
from workshop.services.copies import back_up, kept_copies

pytestmark = pytest.mark.django_db
# Prometheus text format 0.0.4: comments, then name, labels, value.
SAMPLE = re.compile(r'[a-z_]+(\{[a-z]+="[^"\n]*"(,[a-z]+="[^"\n]*")*\})? -?[0-9.e+-]+')


def test_health_says_ready_and_nothing_else(client):
    answer = client.get(reverse("workshop:health"))
    assert (answer.status_code, answer.content) == (200, b"ready\n")
    assert client.post(reverse("workshop:health")).status_code == 405


def test_health_is_503_without_a_reason_while_the_book_is_away():
    def away(execute, sql, params, many, context):
        raise OperationalError("could not connect to server at 10.0.0.7, user strandwork")

    client = Client(raise_request_exception=False)
    with connection.execute_wrapper(away):
        answer = client.get(reverse("workshop:health"))
    assert (answer.status_code, answer.content) == (503, b"not ready\n")


def test_metrics_are_prometheus_text_without_anybodys_name(client):
    make_customer("Marisa Orlo"), make_person("owner", full_name="Ines Falk")
    make_collector("Ilse Brandt"), make_colour("sea green")
    answer = client.get(reverse("workshop:metrics"))
    text = answer.content.decode()
    assert answer.headers["Content-Type"].startswith("text/plain; version=0.0.4")
    for line in text.splitlines():
        assert line.startswith(("# HELP ", "# TYPE ")) or SAMPLE.fullmatch(line), line
    assert 'strandwork_rows{table="orders_customer"} 1.0' in text
    assert "strandwork_migrations_waiting 0.0" in text
    # Its makers' own reader takes every line of it.
    families = {each.name: each for each in text_string_to_metric_families(text)}
    assert families["strandwork_acts"].type == "counter"
    assert families["strandwork_request_seconds"].type == "histogram"
    for word in ("Marisa", "Ines", "owner", "Ilse", "sea green", "EUR"):
        assert word not in text


def test_metrics_are_for_this_machine_or_for_whoever_has_the_token(client, settings):
    address = reverse("workshop:metrics")
    away = {"REMOTE_ADDR": "203.0.113.9"}
    assert client.get(address, **away).status_code == 404
    assert client.get(address, HTTP_X_FORWARDED_FOR="203.0.113.9").status_code == 404
    assert client.get(address, **away, HTTP_AUTHORIZATION="Bearer ").status_code == 404
    settings.METRICS_TOKEN = "a long word"
    assert client.get(address, **away, HTTP_AUTHORIZATION="Bearer a long wor").status_code == 404
    assert client.get(address, **away, HTTP_AUTHORIZATION="Bearer a long word").status_code == 200


def timed(client, **labels) -> float:
    """How many answers were timed under these labels, as the metrics page tells it."""
    text = client.get(reverse("workshop:metrics")).content.decode()
    return sum(
        sample.value
        for family in text_string_to_metric_families(text)
        for sample in family.samples
        if sample.name == "strandwork_request_seconds_count"
        and labels.items() <= sample.labels.items()
    )


def test_answers_are_timed_by_the_name_of_the_address_and_never_by_what_stands_in_it(client):
    customer = make_customer("Marisa Orlo")
    client.force_login(make_person("owner"))
    path = reverse("orders:customer_detail", args=[customer.pk])
    at_it = {"address": "orders:customer_detail", "method": "GET", "status": "200"}
    before, lost = timed(client, **at_it), timed(client, address="none", status="404")
    client.get(path, {"q": "a secret"}), client.get(path), client.get("/customers/secret-name/")
    assert timed(client, **at_it) == before + 2
    assert timed(client, address="none", status="404") == lost + 1
    text = client.get(reverse("workshop:metrics")).content.decode()
    assert "secret" not in text and path not in text


@pytest.mark.slow
@pytest.mark.xdist_group("servers")
def test_several_workers_tell_of_all_and_a_killed_one_is_not_forgotten(tmp_path):
    server = Server(f"sqlite:///{tmp_path}/book.sqlite3", tmp_path, workers=3)
    make_workshop(server)
    server.start()
    try:
        before = told_by(server)
        for number in range(30):
            assert server.ask("GET", "/workshop/sign-in/")[0] == 200
            if number == 15:
                server.kill_worker(0)
                server.wait_until_open()
        # Whichever worker answers: the count is that of all of them.
        assert {told_by(server) for _ask in range(6)} == {before + 30}
    finally:
        server.kill_all()


def told_by(server: Server) -> float:
    text = server.ask("GET", "/workshop/metrics/")[1]
    return sum(
        float(line.rsplit(" ", 1)[1])
        for line in text.splitlines()
        if line.startswith("strandwork_request_seconds_count{")
        and 'address="workshop:sign_in"' in line
    )


# --- the doctor ---


@pytest.fixture(autouse=True)
def own_copies(settings, tmp_path):
    settings.COPIES_DIR = tmp_path / "copies"
    return settings.COPIES_DIR


def doctor() -> str:
    said = io.StringIO()
    try:
        call_command("doctor", stdout=said)
    except CommandError as error:
        said.write(str(error))
    return said.getvalue()


def test_a_healthy_workshop_is_told_so():
    make_person("owner")
    told = doctor()
    assert "Everything that was looked at is in order." in told
    assert "bad " not in told


@pytest.mark.skipif("connection.vendor != 'sqlite'")
def test_a_damaged_copy_is_found(own_copies):
    make_person("owner")
    back_up(own_copies, keep=3)
    assert "The newest copy is whole" in doctor()
    path = kept_copies(own_copies)[0].path
    path.write_bytes(path.read_bytes()[:-9])
    assert "not whole" in doctor()
    assert "One thing wants mending" in doctor()


@pytest.mark.skipif("connection.vendor != 'sqlite'")
def test_an_old_copy_is_named_with_its_age(own_copies):
    make_person("owner")
    back_up(own_copies, keep=3)
    with time_machine.travel(timezone.now() + timedelta(hours=50)):
        assert "The newest copy is 50 hours old" in doctor()


def test_a_clock_set_back_is_found():
    make_person("owner")
    AuditEntry.objects.create(act="x", subject_kind="x", subject_ref="1")
    with time_machine.travel(timezone.now() - timedelta(hours=2)):
        assert "before the last line of the log" in doctor()


def test_a_book_without_an_owner_is_found():
    assert "No owner can sign in" in doctor()


def test_a_database_that_fails_is_a_finding_and_the_rest_is_still_looked_at():
    make_person("owner")

    def full(execute, sql, params, many, context):
        if sql.startswith(("INSERT", "UPDATE", "DELETE")):
            raise OperationalError("database or disk is full")
        return execute(sql, params, many, context)

    with connection.execute_wrapper(full):
        told = doctor()
    assert "disk is full" in told  # a book in a file names its folder, one in memory has none
    assert "MB are free" in told


def test_debug_on_is_a_finding(settings):
    settings.DEBUG = True
    make_person("owner")
    assert "DEBUG is on" in doctor()


def test_the_second_step_of_somebody_can_be_taken_away_at_the_computer():
    person = make_person("owner")
    said = io.StringIO()
    call_command("forget_second_step", person.username, stdout=said)
    assert "password alone" in said.getvalue()
    with pytest.raises(CommandError, match="Nobody signs in as"):
        call_command("forget_second_step", "nobody")
