"""The demo opened beside a workshop's own book, to try acts in without leaving it.

A second desk, in a process of its own on a port of its own, with its own cookies and copies. Only
at a desk and on its own computer: a server's workers share one database and have no demo beside it.
"""

import contextlib
import os
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core import signing
from django.db import connection
from django.utils.translation import gettext as _

from workshop.books import WHICH, can_practise, copies_path
from workshop.metrics_folder import NAME as METRICS
from workshop.models import Person

# Beyond the two ports at which phones come in.
PORT_ABOVE = 3
HERE = ("127.0.0.1", "localhost")
SALT = "practice"
PASS_S = 60
STARTS_S = 60
LOOK_EVERY_S = 2.0


def practises_here() -> bool:
    """Whether this program is the demo opened to practise in."""
    return bool(settings.DESK and settings.BOOK == "practice")


def may_practise(request: Any) -> bool:
    """Whether the demo can be opened beside the book, for whoever sits at the desk itself."""
    book = Path(str(connection.settings_dict["NAME"]))
    return bool(
        settings.DESK
        and settings.OPENS_AGAIN
        and os.name == "posix"
        and request.get_host().partition(":")[0] in HERE
        and can_practise(book, settings.VAR_DIR)
    )


def is_open(port: int) -> bool:
    """Whether the desk beside answers."""
    with socket.socket() as trial:
        trial.settimeout(0.5)
        return trial.connect_ex((HERE[0], port + PORT_ABOVE)) == 0 and _began() is not None


def open_beside(port: int) -> str:
    """Begin to open the demo beside the desk at `port`; gives why that cannot be, or nothing."""
    if is_open(port):
        return ""
    began = _began()
    if began is not None and time.time() - began < STARTS_S:
        return ""
    with socket.socket() as trial:
        if trial.connect_ex((HERE[0], port + PORT_ABOVE)) == 0:
            return _("Another program uses port %(port)s, where the demo would open.") % {
                "port": port + PORT_ABOVE
            }
    _mark().unlink(missing_ok=True)
    # Whichever worker makes the mark starts the desk; the other finds it there.
    with contextlib.suppress(FileExistsError):
        os.close(os.open(_mark(), os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
        _start(port)
    return ""


def _start(port: int) -> None:
    named = {name: value for name, value in os.environ.items() if name != METRICS}
    named |= {
        WHICH: "practice",
        "COPIES_DIR": str(copies_path(settings.VAR_DIR, "practice")),
        "SECOND_PLACE": "",
    }
    subprocess.Popen(
        [
            sys.executable, str(settings.BASE_DIR / "manage.py"), "serve_desk", "--again",
            "--port", str(port + PORT_ABOVE), "--beside", str(os.getppid()),
        ],
        env=named, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL, start_new_session=True,
    )  # fmt: skip


def _mark() -> Path:
    return settings.VAR_DIR / "practice-desk"


def _began() -> float | None:
    """When the desk beside was last begun, in seconds of the clock."""
    try:
        return _mark().stat().st_mtime
    except FileNotFoundError:
        return None


def address_of(request: Any) -> str:
    """Where this person goes in, in the same role; good for a minute."""
    host, _colon, port = request.get_host().partition(":")
    pass_ = signing.dumps(
        {"role": request.user.role, "back": request.build_absolute_uri("/")}, salt=SALT
    )
    return f"http://{host}:{int(port or 80) + PORT_ABOVE}/workshop/practise/in/{pass_}/"


def read_pass(text: str) -> tuple[Person, str] | None:
    """Who goes in by a pass, and the address of the book that she came from."""
    try:
        said = signing.loads(text, salt=SALT, max_age=PASS_S)
    except signing.BadSignature:
        return None
    person = Person.objects.filter(role=said["role"], is_active=True).order_by("pk").first()
    return (person, said["back"]) if person else None


def close_after(pid: int, close: Callable[[], None]) -> None:
    """Close this desk once the one it was opened beside is gone."""

    def watch() -> None:
        while _is_alive(pid):
            time.sleep(LOOK_EVERY_S)
        _mark().unlink(missing_ok=True)
        close()

    threading.Thread(target=watch, daemon=True).start()


def _is_alive(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except OSError:
        return False
    return True
