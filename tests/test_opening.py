"""The workshop's desk, served for real: opened, looked at, closed with Ctrl-C or its terminal."""

import os
import re
import signal
import socket
import subprocess
import sys
import threading
import urllib.error
import urllib.request
from contextlib import contextmanager
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from tests.patience import PATIENCE_S
from workshop.models import Person

ROOT = Path(__file__).resolve().parent.parent

pytestmark = pytest.mark.skipif(os.name != "posix", reason="Ctrl-C is sent the POSIX way")


def free_port() -> int:
    with socket.socket() as trial:
        trial.bind(("127.0.0.1", 0))
        return trial.getsockname()[1]


@contextmanager
def desk(
    book: Path,
    port: int,
    *arguments: str,
    before: tuple[str, ...] = (),
    root: Path = ROOT,
    **settings: str,
):
    """Serve `book` until the block ends; gives what was said up to the opening, and the process."""
    process = subprocess.Popen(
        [*before, sys.executable, "manage.py", "serve_desk", "--port", str(port), *arguments],
        cwd=root,
        start_new_session=True,  # a terminal of its own, as far as signals go
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env={
            **{name: value for name, value in os.environ.items() if name != "ALLOWED_HOSTS"},
            "DATABASE_URL": f"sqlite:///{book}",
            "COPIES_DIR": str(book.parent / "copies"),
            "STRANDWORK_VENV": sys.prefix,
            **settings,
        },
        # Whoever runs the tests may have told them to outlive a terminal; a desk begins as usual.
        preexec_fn=lambda: signal.signal(signal.SIGHUP, signal.SIG_DFL),
    )
    watchdog = threading.Timer(PATIENCE_S, process.kill)
    watchdog.start()
    try:
        said = []
        for line in process.stdout:
            said.append(line)
            if "is open at" in line:
                break
        yield "".join(said), process
    finally:
        watchdog.cancel()
        process.kill()
        process.wait()


def first_page(port: int) -> int:
    try:
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=PATIENCE_S) as page:
            return page.status
    except urllib.error.HTTPError as refused:
        return refused.code


def test_an_empty_book_opens_with_one_owner_and_closes_with_ctrl_c(tmp_path):
    book, port = tmp_path / "book.sqlite3", free_port()
    with desk(book, port, "--no-demo") as (said, process):
        assert f"The workshop is open at http://127.0.0.1:{port}/" in said
        password = re.search(r"shown only now: (\S+)", said)[1]
        assert len(password) >= 16
        assert first_page(port) == 200
        process.send_signal(signal.SIGINT)
        assert process.wait(timeout=PATIENCE_S) == 0
        assert "Traceback" not in process.stdout.read()
    # The same book again: nobody is added, and no password is shown.
    with desk(book, port, "--no-demo") as (said, process):
        assert "is open at" in said
        assert "shown only now" not in said
        assert "manage.py changepassword NAME" in said
        # The terminal is closed: everything started from it is told, and the desk closes.
        os.killpg(process.pid, signal.SIGHUP)
        assert process.wait(timeout=PATIENCE_S) == 0
    # With nohup it stays.
    with desk(book, port, "--no-demo", before=("nohup",)) as (said, process):
        os.killpg(process.pid, signal.SIGHUP)
        assert first_page(port) == 200
        assert process.poll() is None
        process.send_signal(signal.SIGINT)
        assert process.wait(timeout=PATIENCE_S) == 0


def test_a_book_that_cannot_be_read_is_told_in_one_sentence(tmp_path):
    book = tmp_path / "book.sqlite3"
    book.write_text("no database at all, but long enough to be looked at as one" * 50)
    with desk(book, free_port(), "--no-demo") as (said, process):
        assert process.wait(timeout=PATIENCE_S) == 1
        assert f"The book {book} is damaged (file is not a database)" in said
        assert "Traceback" not in said


def test_a_server_is_not_opened_like_a_desk(settings):
    settings.DESK = False
    with pytest.raises(CommandError, match="deploy.md tells how a server is started"):
        call_command("serve_desk")


@pytest.mark.django_db
def test_the_first_owner_is_written_once(capsys):
    call_command("first_owner")
    owner = Person.objects.get()
    password = re.search(r"shown only now: (\S+)", capsys.readouterr().out)[1]
    assert owner.is_owner and owner.check_password(password)
    with pytest.raises(CommandError, match="There are people in the book already"):
        call_command("first_owner")
    assert Person.objects.count() == 1
