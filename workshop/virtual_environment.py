"""The virtual environment: made from the hash-locked requirements, and known by a stamp.

Standard library only: it runs before anything is installed.
"""

import hashlib
import importlib.util
import json
import os
import subprocess
import sys
import sysconfig
import zipfile
from pathlib import Path

from workshop.machine import (
    VENV_PACKAGE,
    Progress,
    SetUpError,
    apt_install,
    apt_line,
    check_folder,
    missing_pango_packages,
    no_room_sentence,
    say,
)

RUN_LOCK = "requirements.lock"
# Holds every pin of RUN_LOCK and the tools of the tests besides; a test compares the two.
TEST_LOCK = "requirements-test.lock"
STAMP = "strandwork-locks.json"

NO_NETWORK_WORDS = (
    "NewConnectionError",
    "Failed to establish a new connection",
    "Temporary failure in name resolution",
    "Name or service not known",
    "Network is unreachable",
    "Connection refused",
    "Connection broken",
    "Read timed out",
    "ConnectTimeout",
    "ProxyError",
    "from versions: none",
)


NO_ROOM_WORDS = ("No space left", "Disk quota exceeded", "File too large")


def folder_of(root: Path) -> Path:
    """Where the virtual environment stands: `.venv`, or the folder that STRANDWORK_VENV names."""
    return Path(os.environ.get("STRANDWORK_VENV") or root / ".venv").absolute()


def python_of(venv: Path) -> Path:
    """The Python inside a virtual environment."""
    return venv / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def is_running_inside(venv: Path) -> bool:
    """Whether this very Python is the one of the virtual environment."""
    return Path(sys.prefix).resolve() == venv.resolve()


def fingerprint(lock: Path) -> str:
    """SHA-256 of a lock file."""
    return hashlib.sha256(lock.read_bytes()).hexdigest()


def read_stamp(venv: Path) -> dict[str, str]:
    """Fingerprints of the locks that stand installed; empty for a half-made environment."""
    try:
        stamp = json.loads((venv / STAMP).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return stamp if isinstance(stamp, dict) else {}


def is_up_to_date(root: Path, venv: Path, lock_name: str) -> bool:
    """Whether the lock as it is now was installed whole."""
    return read_stamp(venv).get(lock_name) == fingerprint(root / lock_name)


def to_be_written(root: Path, lock_name: str) -> "list[Path]":
    """The folders that setting up will write into: none where everything stands already."""
    venv = folder_of(root)
    return [] if is_up_to_date(root, venv, lock_name) else [venv]


def make_ready(root: Path, lock_name: str) -> Path:
    """Make or mend the virtual environment so that it holds what the lock lists.

    Does nothing when the stamp agrees. Returns the Python to go on with; raises SetUpError
    with one sentence when it cannot be done.
    """
    venv = folder_of(root)
    if is_up_to_date(root, venv, lock_name) and _works(venv):
        return python_of(venv)
    check_folder(venv.parent)
    fresh = not _works(venv)
    if fresh:
        _make(venv, may_clear=venv == root / ".venv" or (venv / "pyvenv.cfg").exists())
    (venv / STAMP).unlink(missing_ok=True)
    packages = (root / lock_name).read_text(encoding="utf-8").count("==")
    say(f"Installing {_many(packages)} at the versions that {lock_name} fixes ...")
    output = _pip_install(root, venv, lock_name, packages)
    if output and not fresh and not is_running_inside(venv) and _explain(output) is None:
        # Something in the old environment stood in the way: start it afresh, once.
        _make(venv, may_clear=True)
        output = _pip_install(root, venv, lock_name, packages)
    if output:
        raise SetUpError(_explain(output) or _last_words(root, output))
    _write_stamp(root, venv, lock_name)
    return python_of(venv)


def _works(venv: Path) -> bool:
    """Whether the environment has a Python new enough and a pip to go with it."""
    if is_running_inside(venv):
        return True
    question = "import sys, pip; sys.exit(sys.version_info < (3, 11))"
    try:
        answer = subprocess.run(
            [python_of(venv), "-c", question], check=False, capture_output=True, timeout=60
        )
    except (OSError, subprocess.TimeoutExpired):
        return False
    return answer.returncode == 0


def _make(venv: Path, *, may_clear: bool) -> None:
    if venv.exists() and not may_clear and any(venv.iterdir()):
        raise SetUpError(
            f"The folder {venv} holds something that is no virtual environment. "
            "Name another folder in STRANDWORK_VENV, or leave that unset to use .venv."
        )
    if importlib.util.find_spec("ensurepip") is None and not _apt_brings_ensurepip():
        raise SetUpError(
            "This Python cannot make virtual environments, because Debian keeps that part in a "
            "package of its own. Run this as root, then the same line as before: "
            + apt_line([VENV_PACKAGE, *missing_pango_packages()])
        )
    say(f"Making a virtual environment in {venv} ...")
    wheel = _pip_wheel()
    done = subprocess.run(
        [sys.executable, "-m", "venv", "--clear", *["--without-pip"] * bool(wheel), venv],
        check=False,
        capture_output=True,
        text=True,
    )
    if done.returncode:
        said = done.stderr or done.stdout
        raise SetUpError(
            _explain(said)
            or f"The virtual environment in {venv} could not be made: {_last_line(said)}"
        )
    if wheel:
        _unpack(wheel, venv)


def _pip_wheel() -> "Path | None":
    """The wheel of pip that came with this Python, where Debian or Python's makers keep it."""
    folders = [sysconfig.get_config_var("WHEEL_PKG_DIR")]
    if spec := importlib.util.find_spec("ensurepip"):
        folders.append(Path(spec.origin or "").parent / "_bundled")
    found = [wheel for folder in folders if folder for wheel in Path(folder).glob("pip-*.whl")]
    return found[0] if found else None


def _unpack(wheel: Path, venv: Path) -> None:
    """Lay pip into the environment: a wheel of plain Python is its folder, packed.

    What ensurepip does besides costs three seconds: it runs pip out of the packed wheel to install
    itself, and compiles all of it, of which a tenth is ever read.
    """
    names = {"base": str(venv), "platbase": str(venv)}
    scheme = "venv" if "venv" in sysconfig.get_scheme_names() else "posix_prefix"
    with zipfile.ZipFile(wheel) as packed:
        packed.extractall(sysconfig.get_path("purelib", scheme, names))


def _apt_brings_ensurepip() -> bool:
    installed = apt_install([VENV_PACKAGE], to="to make virtual environments")
    importlib.invalidate_caches()
    return installed and importlib.util.find_spec("ensurepip") is not None


def _pip_install(root: Path, venv: Path, lock_name: str, packages: int) -> str:
    """Install the lock; returns "" when it worked, else what pip said."""
    command = [
        *(str(python_of(venv)), "-m", "pip", "install", "--require-hashes", "--no-deps"),
        # Python compiles what it reads when it first reads it; the rest need never be compiled.
        *("--no-compile", "--no-input", "--disable-pip-version-check", "--progress-bar", "off"),
        *("--retries", "2", "--timeout", "20", "--requirement", str(root / lock_name)),
    ]
    done = subprocess.Popen(
        command,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        stdin=subprocess.DEVNULL,
        text=True,
        errors="replace",
    )
    said, fetched, progress = [], 0, Progress("fetched")
    assert done.stdout is not None
    for line in done.stdout:
        said.append(line)
        if line.startswith(("Collecting ", "Requirement already satisfied")):
            fetched += 1
            progress.at(min(fetched, packages), packages, line.split()[1].split("==")[0])
        elif line.startswith("Installing collected"):
            progress.over()
            say("  putting them in place ...")
    if done.wait():
        return "".join(said).strip() or "pip stopped"
    return ""


def _many(packages: int) -> str:
    return f"{packages} packages" if packages != 1 else "one package"


def _explain(output: str) -> str | None:
    """The one sentence for what pip said, or None when it is none of the usual troubles."""
    if "DO NOT MATCH THE HASHES" in output:
        return (
            "A package that came over the network is not the one that the lock file was made "
            "with, so it was not installed. Try again later; if it stays so, tell whoever keeps "
            "this copy of Strandwork."
        )
    if any(words in output for words in NO_ROOM_WORDS):
        return no_room_sentence(None)
    if any(words in output for words in NO_NETWORK_WORDS):
        return (
            "The packages could not be fetched, because their registry cannot be reached. "
            "Connect this computer to the network and run the same line again; what was fetched "
            "already is kept."
        )
    if "Permission denied" in output:
        return f"The virtual environment cannot be written to by this user. {_last_line(output)}"
    return None


def _last_words(root: Path, output: str) -> str:
    log = root / "var" / "setting_up.log"
    check_folder(log.parent)
    log.write_text(output + "\n", encoding="utf-8")
    return f"The packages could not be installed: {_last_line(output)} The whole of it is in {log}."


def _last_line(text: str) -> str:
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    return lines[-1].removeprefix("ERROR: ") if lines else "no reason was given."


def _write_stamp(root: Path, venv: Path, lock_name: str) -> None:
    names = {RUN_LOCK, lock_name}
    stamp = {name: fingerprint(root / name) for name in sorted(names)}
    (venv / STAMP).write_text(json.dumps(stamp, indent=1) + "\n", encoding="utf-8")
