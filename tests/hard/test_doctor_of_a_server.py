"""The doctor tells a server from a desk by what it finds, and looks at what a server stands on."""

import pytest
from django.core.management import CommandError, call_command
from django.db import connection  # noqa: F401  skipif asks it
from django.test import override_settings
from django.urls import reverse

from orders.moving_in.cells import MOST_BYTES
from tests.builders import make_business, make_person
from workshop.management import server_looks
from workshop.management.findings import BAD, CARE, GOOD
from workshop.patient_server import PROMISED_BYTES
from workshop.probes import SIGNED_QUESTION, sign_question
from workshop.services.copies import back_up

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def own_machine(settings, tmp_path, monkeypatch):
    settings.COPIES_DIR = tmp_path / "copies"
    settings.STATIC_ROOT = tmp_path / "static"
    monkeypatch.setattr(server_looks, "UNITS", tmp_path)
    return tmp_path


def server(**more):
    return override_settings(
        DESK=False, PROXY_COUNT=1, ALLOWED_HOSTS=["beads.example"], ENV_FILE=None, **more
    )


def write_unit(folder, settings, name, runs):
    (folder / name).write_text(
        f"[Service]\nWorkingDirectory={settings.BASE_DIR}\nExecStart={runs}\n"
    )


def test_a_desk_that_a_unit_serves_is_a_server_whose_settings_were_not_read(own_machine, settings):
    assert not list(server_looks.look_at_kind())
    write_unit(own_machine, settings, "beads.service", ".venv/bin/gunicorn workshop.wsgi")
    (found,) = server_looks.look_at_kind()
    assert found.how == BAD
    assert "beads.service serves it" in found.sentence and "write them into .env" in found.sentence


def test_a_unit_of_another_folder_says_nothing_about_this_one(own_machine):
    (own_machine / "other.service").write_text(
        "[Service]\nWorkingDirectory=/srv/other\nExecStart=gunicorn workshop.wsgi\n"
    )
    assert not list(server_looks.look_at_kind())


def test_gathered_static_files_at_a_desk_are_asked_about(own_machine):
    (own_machine / "static").mkdir()
    (own_machine / "static" / "staticfiles.json").write_text("{}")
    (found,) = server_looks.look_at_kind()
    assert found.how == CARE


def test_settings_that_everybody_may_read_are_found(own_machine):
    file = own_machine / ".env"
    file.write_text("PROXY_COUNT=1\n")
    file.chmod(0o644)
    with server(), override_settings(ENV_FILE=file):
        (found,) = server_looks.look_at_kind()
        assert found.how == BAD and "chmod o=" in found.sentence
        file.chmod(0o640)
        assert not list(server_looks.look_at_kind())


def test_a_server_that_believes_no_proxy_is_told_why_its_pages_never_come():
    with server(), override_settings(PROXY_COUNT=0):
        (found,) = server_looks.look_at_kind()
    assert found.how == BAD and "lead to themselves for ever" in found.sentence


@pytest.mark.parametrize("name", ["backup", "keep_copy"])
def test_a_timer_that_is_switched_off_is_found(own_machine, settings, monkeypatch, name):
    with server():
        assert [found.how for found in server_looks.look_at_timer()] == [CARE]
        write_unit(own_machine, settings, "copy.service", f"python manage.py {name}")
        (own_machine / "copy.timer").write_text("[Timer]\n")
        monkeypatch.setattr(server_looks, "_systemctl_says", lambda *words: "inactive")
        (found,) = server_looks.look_at_timer()
        assert found.how == BAD and "systemctl enable --now copy.timer" in found.sentence
        monkeypatch.setattr(server_looks, "_systemctl_says", lambda *words: "active")
        assert [found.how for found in server_looks.look_at_timer()] == [GOOD]


@pytest.mark.skipif("connection.vendor != 'sqlite'")
def test_where_something_else_makes_the_copies_a_fresh_one_is_enough(settings):
    back_up(settings.COPIES_DIR, keep=3)
    with server():
        assert not list(server_looks.look_at_timer())


@pytest.mark.skipif("connection.vendor != 'postgresql'")
def test_a_pg_dump_that_is_missing_or_older_than_the_book_is_found(monkeypatch):
    assert {found.how for found in server_looks.look_at_programs()} == {GOOD}
    monkeypatch.setattr(server_looks, "_major", lambda program: 9)
    assert all("too old" in found.sentence for found in server_looks.look_at_programs())
    monkeypatch.setattr(server_looks.shutil, "which", lambda program: None)
    assert all("is missing" in found.sentence for found in server_looks.look_at_programs())


def test_the_zone_of_the_workshop_and_an_unset_clock_are_told(monkeypatch):
    make_business(time_zone="Europe/Lisbon")
    monkeypatch.setattr(server_looks, "_timedate", lambda name: "no")
    with server():
        zone, clock = server_looks.look_at_time()
    assert zone.how == GOOD and "Europe/Lisbon" in zone.sentence
    assert clock.how == CARE and "timedatectl set-ntp on" in clock.sentence


def test_a_server_that_nobody_answers_for_is_found():
    with server():
        (found,) = server_looks.look_from_outside("https://localhost:9")
    assert found.how == BAD and "Nothing answers at https://localhost:9" in found.sentence


def test_a_second_place_that_is_away_or_on_the_same_disk_is_found(own_machine, settings):
    assert not list(server_looks.look_at_second_place())
    settings.SECOND_PLACE = str(own_machine / "unplugged")
    (found,) = server_looks.look_at_second_place()
    assert found.how == BAD and "Is the disk there?" in found.sentence
    (own_machine / "unplugged").mkdir()
    (found,) = server_looks.look_at_second_place()
    assert found.how == CARE and "same disk" in found.sentence
    settings.SECOND_PLACE = "/proc"  # a disk of its own on every Linux machine
    assert [found.how for found in server_looks.look_at_second_place()] == [GOOD]


def test_the_probe_tells_how_somebody_looks_only_to_a_signed_question(client, settings):
    health = reverse("workshop:health")
    assert client.get(health, {SIGNED_QUESTION: "guessed"}).content == b"ready\n"
    assert client.get(health, {SIGNED_QUESTION: sign_question()}).json() == {
        "address": "127.0.0.1",
        "secure": False,
    }


def test_the_proxy_is_asked_for_as_much_as_the_pages_promise():
    assert MOST_BYTES <= PROMISED_BYTES


def test_the_whole_of_it_is_run_by_the_command(capsys):
    make_person("owner")
    with server(), pytest.raises(CommandError, match="want mending"):
        call_command("doctor", address="https://localhost:9")
    said = capsys.readouterr().out
    assert "Nothing answers at https://localhost:9" in said
    assert "The workshop's days begin by the clock of" in said
