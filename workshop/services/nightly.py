"""A copy every night without anybody thinking of it: by systemd's user timers, or else by cron."""

import hashlib
import os
import re
import shlex
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path
from shutil import which

from django.conf import settings
from django.utils.translation import gettext as _

# What the copy must be told of this machine, as it stands when the timer is set up.
CARRIED = (
    "DATABASE_URL", "COPIES_DIR", "COPIES_KEPT", "COPY_PASSPHRASE", "SECOND_PLACE",
    "STRANDWORK_DESK", "STRANDWORK_VENV", "STRANDWORK_ENV_FILE", "SECRET_KEY",
    "ALLOWED_HOSTS", "LOG_FORMAT", "PATH",
)  # fmt: skip
CLOCK = re.compile(r"([01]\d|2[0-3]):([0-5]\d)")
SERVICE = """\
[Unit]
Description=Nightly copy of the book of {folder}

[Service]
Type=oneshot
ExecStart=/bin/sh {script}
"""
TIMER = """\
[Unit]
Description=Nightly copy of the book of {folder}

[Timer]
OnCalendar=*-*-* {at}:00
# A computer that was off at that hour copies when it is on again.
Persistent=true

[Install]
WantedBy=timers.target
"""


class NoTimer(Exception):
    """No timer can be set up here; the text says what to do instead."""


def turn_on(at: str = "02:00") -> str:
    """Copy every night at `at`; a sentence says how. Raises NoTimer and changes nothing."""
    if not CLOCK.fullmatch(at):
        raise NoTimer(_("“%(at)s” is no time of day; write one such as 02:00.") % {"at": at})
    if not _has_systemd() and which("crontab") is None:
        raise NoTimer(
            _(
                "Neither systemd's timers nor cron can be used here. Let something else run this "
                "every night: %(line)s"
            )
            % {"line": shlex.join([sys.executable, str(settings.BASE_DIR / "manage.py"), "backup"])}
        )
    script = _write_script()
    if _has_systemd():
        return _by_systemd(script, at)
    return _by_cron(script, at)


def turn_off() -> bool:
    """Make no more copies at night; whether there was a timer."""
    was_on = how_set_up() is not None
    if _unit("timer").exists():
        _run("systemctl", "--user", "disable", "--now", _unit("timer").name)
        for kind in ("timer", "service"):
            _unit(kind).unlink(missing_ok=True)
        _run("systemctl", "--user", "daemon-reload")
    lines = _cron_lines()
    if any(_mark() in line for line in lines):
        _write_cron([line for line in lines if _mark() not in line])
    _script().unlink(missing_ok=True)
    return was_on


def how_set_up() -> str | None:
    """By what a nightly copy is made: “systemd”, “cron”, or None."""
    if not _script().exists():
        return None
    if _unit("timer").exists():
        return "systemd"
    return "cron" if any(_mark() in line for line in _cron_lines()) else None


def _by_systemd(script: Path, at: str) -> str:
    words = {
        "folder": str(settings.BASE_DIR).replace("%", "%%"),
        "script": _for_systemd(str(script)),
        "at": at,
    }
    _unit("timer").parent.mkdir(parents=True, exist_ok=True)
    _unit("service").write_text(SERVICE.format(**words))
    _unit("timer").write_text(TIMER.format(**words))
    for command in (["daemon-reload"], ["enable", "--now", _unit("timer").name]):
        if said := _run("systemctl", "--user", *command):
            turn_off()
            raise NoTimer(_("systemd refused the timer: %(why)s") % {"why": said})
    # Without it the timer rests while nobody is signed in at the computer.
    lingers = not _run("loginctl", "enable-linger")
    sentence = _("A copy is made every night at %(at)s, by systemd (%(unit)s).") % {
        "at": at,
        "unit": _unit("timer").name,
    }
    if lingers:
        return sentence
    return sentence + " " + _("While nobody is signed in at this computer it waits.")


def _for_systemd(word: str) -> str:
    """One word of a unit's command line: quoted, nothing in it expanded (systemd.service(5))."""
    quoted = word.replace("\\", "\\\\").replace('"', '\\"').replace("%", "%%").replace("$", "$$")
    return f'"{quoted}"'


def _by_cron(script: Path, at: str) -> str:
    found = CLOCK.fullmatch(at)
    assert found is not None
    line = f"{int(found[2])} {int(found[1])} * * * /bin/sh {shlex.quote(str(script))} {_mark()}"
    # A percent sign ends a line of cron's.
    kept = [each for each in _cron_lines() if _mark() not in each]
    if said := _write_cron([*kept, line.replace("%", r"\%")]):
        _script().unlink(missing_ok=True)
        raise NoTimer(_("cron refused the line: %(why)s") % {"why": said})
    return _("A copy is made every night at %(at)s, by cron.") % {"at": at}


def _write_script() -> Path:
    """What is run at night, with the settings of now; nobody else may read it."""
    script = _script()
    script.parent.mkdir(parents=True, exist_ok=True)
    carried: Mapping[str, str] = {n: os.environ[n] for n in CARRIED if os.environ.get(n)}
    log = shlex.quote(str(script.with_suffix(".log")))
    standing = shlex.quote(str(script.with_suffix(".standing.log")))
    lines = [
        "#!/bin/sh",
        "# Written by manage.py nightly_copies; run it again after a change of the settings.",
        *(f"export {name}={shlex.quote(value)}" for name, value in carried.items()),
        f"cd {shlex.quote(str(settings.BASE_DIR))} || exit 1",
        # What customers want again and again is taken first, so that the copy holds it.
        f"{shlex.quote(sys.executable)} manage.py take_standing > {standing} 2>&1",
        f"exec {shlex.quote(sys.executable)} manage.py backup > {log} 2>&1",
    ]
    script.touch(mode=0o600)
    script.chmod(0o700)
    script.write_text("\n".join(lines) + "\n")
    return script


def _script() -> Path:
    return Path(settings.VAR_DIR) / "nightly-copy.sh"


def _name() -> str:
    # Two workshops on one computer have two timers.
    return "strandwork-copy-" + hashlib.sha256(str(settings.BASE_DIR).encode()).hexdigest()[:8]


def _mark() -> str:
    return f"# {_name()}"


def _unit(kind: str) -> Path:
    return Path.home() / ".config" / "systemd" / "user" / f"{_name()}.{kind}"


def _has_systemd() -> bool:
    return which("systemctl") is not None and not _run("systemctl", "--user", "show-environment")


def _cron_lines() -> list[str]:
    if which("crontab") is None:
        return []
    done = subprocess.run(["crontab", "-l"], capture_output=True, text=True, check=False)
    return done.stdout.splitlines() if done.returncode == 0 else []


def _write_cron(lines: list[str]) -> str:
    return _run("crontab", "-", given="".join(f"{line}\n" for line in lines))


def _run(*command: str, given: str = "") -> str:
    """Run it; nothing when it went well, else what it said."""
    try:
        done = subprocess.run(
            command, input=given, capture_output=True, text=True, check=False, timeout=30
        )
    except (OSError, subprocess.TimeoutExpired) as error:
        return str(error)
    return "" if done.returncode == 0 else done.stderr.strip() or f"it ended with {done.returncode}"
