"""From a fresh clone to an open workshop: `manage.py open` and `manage.py test`.

Standard library only until the virtual environment stands; then the work goes on inside it.
"""

import argparse
import importlib.util
import os
import shlex
import sqlite3
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from workshop import books, virtual_environment
from workshop.machine import (
    SetUpError,
    check_folder,
    check_host,
    check_ours,
    check_port,
    look_for_pango,
    say,
    sentence_of,
)

ROOT = Path(__file__).resolve().parent.parent

USAGE = """\
Strandwork: the order book, stock room and kiln board of a bead workshop.

  python3 manage.py open    sets up what is missing and opens the workshop in the browser
  python3 manage.py test    sets up what is missing and runs the tests
  python3 manage.py help    lists every other command, once the workshop is set up
"""


def main(argv: Sequence[str]) -> int:
    """Run one command line; returns the exit code. Troubles become one sentence each."""
    command, *rest = argv[1:] or [""]
    try:
        if command == "open":
            return open_workshop(rest)
        if command == "test":
            return run_tests(rest)
        if command in {"", "-h", "--help"} and not _django_is_here():
            say(USAGE)
            return 0
        return run_django(argv)
    except SetUpError as error:
        print(error, file=sys.stderr)
        return error.code
    except OSError as error:
        sentence = sentence_of(error)
        if sentence is None:
            raise
        print(sentence, file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("\nStopped.", file=sys.stderr)
        return 130


def open_workshop(arguments: Sequence[str]) -> int:
    """Set up what is missing, then serve the workshop from inside the virtual environment."""
    parser = argparse.ArgumentParser(
        prog="manage.py open", description="Set up what is missing and open the workshop."
    )
    parser.add_argument("--port", type=int, default=8000, help="where to listen; usually 8000")
    parser.add_argument("--host", default="127.0.0.1", help="this computer's own address")
    which = parser.add_mutually_exclusive_group()
    which.add_argument(
        "--no-demo", action="store_true", help="begin with an empty book, not the demo workshop"
    )
    which.add_argument(
        "--own", action="store_true", help="begin an empty book of your own beside the demo"
    )
    which.add_argument(
        "--practice", action="store_true", help="open the demo once more, to practise in"
    )
    parser.add_argument(
        "--keep", nargs="+", metavar="WHAT", default=[],
        help="with --own: what of the demo goes along, such as kilns beads rates",
    )  # fmt: skip
    parser.add_argument(
        "--nightly-copies",
        action="store_true",
        help="let this computer keep a copy of the book every night",
    )
    parser.add_argument(
        "--phones",
        action="store_true",
        help="also let phones of this computer's own network in, over TLS, once they are paired",
    )
    wanted = parser.parse_args(arguments)
    if wanted.practice:
        os.environ[books.WHICH] = "practice"
    # What can be refused is refused first, before minutes are spent on installing.
    check_host(wanted.host)
    check_port(wanted.host, wanted.port)
    check_ours(ROOT / "var", *virtual_environment.to_be_written(ROOT, virtual_environment.RUN_LOCK))
    check_folder(ROOT / "var")
    python = virtual_environment.make_ready(ROOT, virtual_environment.RUN_LOCK)
    look_for_pango()
    serving = ["serve_desk", "--host", wanted.host, "--port", str(wanted.port)]
    if wanted.no_demo:
        serving.append("--no-demo")
    if wanted.own:
        serving += ["--own", "--keep", *wanted.keep]
    if wanted.nightly_copies:
        serving.append("--nightly-copies")
    if wanted.phones:
        serving.append("--phones")
    return go_on_inside(python, [str(ROOT / "manage.py"), *serving])


def run_tests(arguments: Sequence[str]) -> int:
    """Set up what the tests need, then run pytest with the arguments as they are."""
    check_ours(*virtual_environment.to_be_written(ROOT, virtual_environment.TEST_LOCK))
    os.environ["STRANDWORK_ENV_FILE"] = ""  # a server's own settings are none of the tests'
    if os.environ.pop("PYTHONDONTWRITEBYTECODE", ""):
        # Tests start hundreds of processes, and each would compile two seconds' worth of code anew.
        os.environ["PYTHONPYCACHEPREFIX"] = str(ROOT / ".pytest_cache" / "strandwork" / "bytecode")
    python = virtual_environment.make_ready(ROOT, virtual_environment.TEST_LOCK)
    look_for_pango()
    words = [*_on_all_cores(arguments), *arguments]
    return go_on_inside(python, ["-m", "pytest", *words], folder=ROOT)


def _on_all_cores(arguments: Sequence[str]) -> "list[str]":
    """A whole run takes every core that this process may use; a part of it, or times, one."""
    told = [*arguments, *shlex.split(os.environ.get("PYTEST_ADDOPTS", ""))]
    by_hand = ("-n", "--dist", "--pdb", "--benchmark-enable", "--co")
    if any(word.startswith(by_hand) or (ROOT / word.split("::")[0]).exists() for word in told):
        return []
    able = getattr(os, "sched_getaffinity", None)
    cores = len(able(0)) if able else os.cpu_count() or 1
    return ["-n", str(cores), "--dist", "loadgroup"] if cores > 1 else []


def run_django(argv: Sequence[str]) -> int:
    """Any other command is Django's, run inside the virtual environment when there is one."""
    venv = virtual_environment.folder_of(ROOT)
    python = virtual_environment.python_of(venv)
    in_another = sys.prefix != sys.base_prefix and _django_is_here()
    if python.exists() and not virtual_environment.is_running_inside(venv) and not in_another:
        return go_on_inside(python, [str(ROOT / "manage.py"), *argv[1:]])
    if not _django_is_here():
        raise SetUpError("Strandwork is not set up here yet; run: python3 manage.py open")
    _warn_of_a_changed_lock(venv)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "workshop.settings")
    from django.core.exceptions import ImproperlyConfigured
    from django.core.management import CommandError, execute_from_command_line
    from django.db import Error as DatabaseError

    words = list(argv)
    # With it Django hands an error on instead of putting the name of its class before the sentence.
    quietly = len(words) > 1 and not words[1].startswith("-") and "--traceback" not in words
    try:
        _say_which_book()
        execute_from_command_line([*words[:2], *["--traceback"] * quietly, *words[2:]])
    except ImproperlyConfigured as error:
        raise SetUpError(str(error)) from error
    except CommandError as error:
        if not quietly:
            raise
        raise SetUpError(str(error), code=error.returncode) from error
    except (DatabaseError, sqlite3.Error) as error:
        from workshop.troubles import sentence_of_book

        sentence = sentence_of_book(error)
        if sentence is None or not quietly:
            raise
        raise SetUpError(sentence) from error
    return 0


def _say_which_book() -> None:
    """Tell on the error output which book a command works on, when it first opens it."""
    from django.db.backends.signals import connection_created

    def say_once(sender: object, connection: Any, **kwargs: object) -> None:
        from django.conf import settings

        from workshop.environment import book_in_words

        connection_created.disconnect(say_once)
        told_by = f" (by {settings.ENV_FILE})" if settings.ENV_FILE else ""
        book = book_in_words(connection.settings_dict)
        print(f"Working on {book}{told_by}.", file=sys.stderr, flush=True)

    connection_created.connect(say_once, weak=False)


def go_on_inside(python: Path, arguments: Sequence[str], *, folder: Path | None = None) -> int:
    """Hand this process over to the Python of the virtual environment."""
    command = [str(python), *arguments]
    if folder is not None:
        os.chdir(folder)
    sys.stdout.flush()
    if os.name == "posix":
        # The same process goes on, so Ctrl-C and the exit code reach whoever started it.
        os.execv(command[0], command)
    return subprocess.run(command, check=False).returncode


def _django_is_here() -> bool:
    return importlib.util.find_spec("django") is not None


def _warn_of_a_changed_lock(venv: Path) -> None:
    installed = virtual_environment.read_stamp(venv)
    lock = virtual_environment.RUN_LOCK
    if installed and not virtual_environment.is_up_to_date(ROOT, venv, lock):
        print(
            f"{lock} has changed since the packages were installed; "
            "python3 manage.py open brings them up to date.",
            file=sys.stderr,
        )
