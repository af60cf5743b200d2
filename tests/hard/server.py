"""The real server, with real processes, on loopback or in a network namespace of its own."""

import atexit
import contextlib
import http.client
import os
import re
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import tempfile
import time
import urllib.parse
import uuid
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path

from tests.hard.namespaces import connect_inside, run_inside
from tests.own_database import ROOT, admin, drop_database, make_database, postgres_url
from tests.patience import PATIENCE_S


def free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return found.getsockname()[1]


@dataclass
class Server:
    """Gunicorn as the README starts it, on a database of its own."""

    url: str
    folder: Path
    workers: int = 3
    port: int = field(default_factory=free_port)
    process: subprocess.Popen | None = None
    namespace: str = ""
    # What stands before the command, such as a program that takes rights away.
    before: tuple[str, ...] = ()
    settings: dict[str, str] = field(default_factory=dict)

    @property
    def environment(self) -> dict[str, str]:
        return {
            **os.environ,
            "DATABASE_URL": self.url,
            "DJANGO_SETTINGS_MODULE": "workshop.settings",
            "PYTHONPATH": str(ROOT),
            "SECRET_KEY": "only-for-this-test",
            "SIGN_IN_TRIES": "1000",
            # What a killed server could not tidy away goes with the test.
            "TMPDIR": str(self.folder),
            "COPIES_DIR": str(self.folder / "copies"),
            **self.settings,
        }

    def python(self, *command: str) -> str:
        """Run a command of ours on the same database; what it said."""
        done = subprocess.run(
            run_inside(self.namespace, sys.executable, *command),
            env=self.environment,
            cwd=ROOT,
            capture_output=True,
            text=True,
            timeout=PATIENCE_S,
            check=False,
        )
        assert done.returncode == 0, done.stderr[-3000:] + done.stdout[-1000:]
        return done.stdout

    def start(self, *, answers: int = 200) -> None:
        """Up to its first answer; 503 where its book is away."""
        options = ["--bind", f"127.0.0.1:{self.port}", "--workers", str(self.workers)]
        options += ["--threads", "2", "--preload", "--log-level", "critical", "--timeout", "60"]
        log = (self.folder / "server.log").open("ab")
        self.process = subprocess.Popen(
            run_inside(
                self.namespace,
                *self.before,
                *(sys.executable, "-m", "gunicorn", "workshop.wsgi"),
                *("--config", "python:workshop.gunicorn_config", *options),
            ),
            env=self.environment,
            cwd=ROOT,
            stdout=log,
            stderr=log,
            start_new_session=True,
        )
        self.wait_until_open(answers)

    def wait_until_open(self, answers: int = 200) -> None:
        give_up_at = time.monotonic() + PATIENCE_S
        while time.monotonic() < give_up_at:
            try:
                if self.ask("GET", "/workshop/health/")[0] == answers:
                    return
            except OSError:
                pass
            if self.process is None or self.process.poll() is not None:
                break
            time.sleep(0.05)
        raise AssertionError("the server did not open: " + self.log()[-2000:])

    def log(self) -> str:
        return (self.folder / "server.log").read_text(errors="replace")

    def connect(self, timeout_s: float = 40) -> http.client.HTTPConnection:
        """A connection to the server over the loopback address of its own network."""
        link = http.client.HTTPConnection("127.0.0.1", self.port, timeout=timeout_s)
        link.sock = connect_inside(self.namespace, ("127.0.0.1", self.port), timeout_s)
        return link

    def ask(self, method: str, path: str) -> tuple[int, str]:
        link = self.connect(30)
        try:
            link.request(method, path)
            answer = link.getresponse()
            return answer.status, answer.read().decode(errors="replace")
        except http.client.HTTPException as error:
            raise OSError(str(error)) from error
        finally:
            link.close()

    def worker_ids(self) -> list[int]:
        """The processes that the master forked."""
        assert self.process is not None
        try:
            text = Path(f"/proc/{self.process.pid}/task/{self.process.pid}/children").read_text()
        except OSError:
            return []
        return [int(word) for word in text.split()]

    def kill_worker(self, number: int) -> bool:
        """kill -9 of one worker; whether there was one."""
        workers = self.worker_ids()
        if not workers:
            return False
        try:
            os.kill(workers[number % len(workers)], signal.SIGKILL)
        except ProcessLookupError:
            return False
        return True

    def kill_all(self) -> None:
        """kill -9 of the master and of every worker, as a power cut would take them."""
        if self.process is None:
            return
        with contextlib.suppress(ProcessLookupError):
            os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait(timeout=PATIENCE_S)
        self.process = None


class Hand:
    """Somebody at a screen: keeps cookies, sends forms with their token and a key."""

    def __init__(self, server: Server, session: str) -> None:
        self.server = server
        self.cookies = {"sid": session, "csrf": uuid.uuid4().hex}
        self.link: http.client.HTTPConnection | None = None
        self.body = b""

    def request(self, method: str, path: str, form: dict | list | None = None):
        """(status, where it leads, page); raises OSError when the server is gone."""
        pairs = list(form.items()) if isinstance(form, dict) else list(form or [])
        body = None
        headers = {"Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items())}
        if method == "POST":
            pairs.append(("csrfmiddlewaretoken", self.cookies["csrf"]))
            body = urllib.parse.urlencode(pairs)
            headers["Content-Type"] = "application/x-www-form-urlencoded"
        reused = self.link is not None
        try:
            if self.link is None:
                self.link = self.server.connect()
            self.link.request(method, path, body, headers)
            answer = self.link.getresponse()
            self.body = answer.read()
        except (http.client.HTTPException, OSError) as error:
            self.close()
            if reused:
                # The server closes idle links; the form has its key, so asking again is safe.
                return self.request(method, path, form)
            raise OSError(str(error)) from error
        for name, value in answer.getheaders():
            if name.lower() == "set-cookie" and (found := re.match(r"(csrf|sid)=([^;]*)", value)):
                self.cookies[found[1]] = found[2]
        if answer.getheader("Connection", "").lower() == "close":
            self.close()
        return answer.status, answer.getheader("Location", ""), self.body.decode(errors="replace")

    def fetch(self, path: str) -> bytes:
        """A file, byte for byte."""
        status, led_to, page = self.get(path)
        assert status == 200, f"{path}: {status} {led_to} {page[:300]}"
        return self.body

    def get(self, path: str):
        return self.request("GET", path)

    def post(self, path: str, form: dict | list, key: str | None = None):
        pairs = list(form.items()) if isinstance(form, dict) else list(form)
        return self.request("POST", path, [*pairs, ("key", key or str(uuid.uuid4()))])

    def close(self) -> None:
        if self.link is not None:
            self.link.close()
            self.link = None


MAKE = """
import django; django.setup()
from django.core.management import call_command
call_command("migrate", verbosity=0)
from django.db import transaction
from django.test import Client
from django.conf import settings
from tests.hard.world import make_firings, make_world, ROLES
from tests.builders import make_person
with transaction.atomic():
    make_world()
    make_firings({firings})
for role in ROLES:
    client = Client(); client.force_login(make_person(role))
    print(role, client.cookies[settings.SESSION_COOKIE_NAME].value)
"""
# Loads that wait to be lit: as many as the longest run may fire.
FIRINGS = 40 + int(os.environ.get("CRASH_KILLS", "100")) * 2


def make_workshop(server: Server) -> dict[str, str]:
    """The small workshop in the server's database; a session for each role.

    Made once in a run of the tests for each kind of database, and copied from then on.
    """
    if server.url.startswith("sqlite"):
        kept = _kept_workshop("sqlite")
        shutil.copy(kept.path.removeprefix("sqlite:///"), server.url.removeprefix("sqlite:///"))
        return kept.sessions
    if server.namespace or server.url.split("/")[2] != postgres_url().split("/")[2]:
        return _make(server)
    kept = _kept_workshop("postgresql")
    with admin() as asked:
        name = server.url.rsplit("/", 1)[1]
        asked.execute(f"DROP DATABASE {name}")
        asked.execute(f"CREATE DATABASE {name} TEMPLATE {kept.path.rsplit('/', 1)[1]}")
    return kept.sessions


@dataclass(frozen=True)
class Kept:
    """A workshop made once: the address of its database, and a session for each role."""

    path: str
    sessions: dict[str, str]


_kept: dict[str, Kept] = {}


def _kept_workshop(kind: str) -> Kept:
    if kind not in _kept:
        folder = Path(tempfile.mkdtemp(prefix="strandwork-hard-"))
        atexit.register(shutil.rmtree, folder, ignore_errors=True)
        url = f"sqlite:///{folder}/book.sqlite3" if kind == "sqlite" else make_database()
        server = Server(url, folder)
        sessions = _make(server)
        if kind == "sqlite":
            with closing(sqlite3.connect(url.removeprefix("sqlite:///"))) as book:
                book.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        else:
            atexit.register(drop_database, url)
        _kept[kind] = Kept(url, sessions)
    return _kept[kind]


def _make(server: Server) -> dict[str, str]:
    said = server.python("-c", MAKE.replace("{firings}", str(FIRINGS)))
    return dict(line.split() for line in said.splitlines())
