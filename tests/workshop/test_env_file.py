"""The settings file beside the project, and which book a command works on."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from django.core.exceptions import ImproperlyConfigured

from workshop.env_file import read_env_file
from workshop.environment import ASKED, book_in_words

ROOT = Path(__file__).resolve().parent.parent.parent


@pytest.fixture
def environment(monkeypatch):
    """The environment of the machine, of which nothing is kept afterwards."""
    kept = {name: value for name, value in os.environ.items() if name != "STRANDWORK_ENV_FILE"}
    monkeypatch.setattr(os, "environ", kept)
    return kept


def test_the_file_is_read_and_what_the_environment_says_stands_above_it(tmp_path, environment):
    environment["SIGN_IN_TRIES"] = "7"
    (tmp_path / ".env").write_text(
        "# of this server\n\nPROXY_COUNT=1\nSIGN_IN_TRIES=9\n"
        "COPY_PASSPHRASE='salt wind # over the yard'\nHSTS_SECONDS=60  # a minute\n"
        "SECRET_KEY=a$b${c}d\n"
    )
    assert read_env_file(tmp_path) == tmp_path / ".env"
    assert environment["PROXY_COUNT"] == "1"
    assert environment["SIGN_IN_TRIES"] == "7"
    assert environment["COPY_PASSPHRASE"] == "salt wind # over the yard"
    assert environment["HSTS_SECONDS"] == "60"
    assert environment["SECRET_KEY"] == "a$b${c}d"


def test_without_a_file_nothing_changes(tmp_path, environment):
    before = dict(environment)
    assert read_env_file(tmp_path) is None
    assert environment == before


def test_a_line_that_is_no_setting_is_named(tmp_path, environment):
    (tmp_path / ".env").write_text("PROXY_COUNT=1\nDATABASE URL=postgresql:///beads\n")
    with pytest.raises(ImproperlyConfigured, match="Line 2 of .*write NAME=value"):
        read_env_file(tmp_path)


def test_a_slip_in_a_name_never_means_another_book(tmp_path):
    file = tmp_path / "settings"
    for slip, meant in (("DATABASE_ULR", "DATABASE_URL"), ("PROXY_COUNTS", "PROXY_COUNT")):
        file.write_text(f"{slip}=1\n")
        done = manage("showmigrations", STRANDWORK_ENV_FILE=str(file))
        assert done.returncode == 1
        assert done.stderr.strip().endswith(f"{file} says {slip}; did you mean {meant}?")


def test_names_of_other_programs_may_stand_in_the_file(tmp_path):
    file = tmp_path / "settings"
    file.write_text("BOOK_PASSWORD=x\nWEB_CONCURRENCY=2\nSSL_CERT_FILE=y\nTZ=UTC\nPGUSER=z\n")
    assert manage("version", STRANDWORK_ENV_FILE=str(file)).returncode == 0
    # Every setting that is written up is known by its own name.
    page = (ROOT / "workshop" / "deploy.md").read_text()
    names = re.findall(r"^\| `([A-Z_]+)` \|", page, re.MULTILINE)
    assert set(names) - {"BROWSER"} <= ASKED and len(names) > 20


def test_a_file_that_is_named_and_missing_stops_the_start(tmp_path, environment):
    environment["STRANDWORK_ENV_FILE"] = str(tmp_path / "gone")
    with pytest.raises(ImproperlyConfigured, match="no file is there"):
        read_env_file(tmp_path)
    environment["STRANDWORK_ENV_FILE"] = ""
    assert read_env_file(tmp_path) is None


def test_a_file_that_cannot_be_read_never_means_another_book(tmp_path, environment):
    (tmp_path / ".env").mkdir()
    with pytest.raises(ImproperlyConfigured, match="cannot be read .* another book"):
        read_env_file(tmp_path)


def manage(*words: str, **settings: str) -> subprocess.CompletedProcess:
    kept = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"}
    return subprocess.run(
        [sys.executable, "manage.py", *words],
        cwd=ROOT, env={**kept, "STRANDWORK_VENV": sys.prefix, **settings},
        capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip


def test_a_command_says_on_which_book_it_works_and_by_which_file(tmp_path):
    book, file = tmp_path / "book.sqlite3", tmp_path / "settings"
    file.write_text(f"DATABASE_URL=sqlite:///{book}\n")
    done = manage("showmigrations", "workshop", STRANDWORK_ENV_FILE=str(file))
    assert f"Working on the book {book} (by {file}).\n" in done.stderr
    # What opens no book says nothing.
    assert "Working on" not in manage("version", STRANDWORK_ENV_FILE=str(file)).stderr


def test_a_book_is_named_without_its_password():
    said = book_in_words(
        {"ENGINE": "django.db.backends.postgresql", "NAME": "beads", "HOST": "db.example",
         "PORT": "5433", "PASSWORD": "secret"}
    )  # fmt: skip
    assert said == "the book in the PostgreSQL database beads on db.example:5433"
