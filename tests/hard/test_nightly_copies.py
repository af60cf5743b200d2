"""A copy every night: the timer that `open` sets up, in a home and with programs of its own."""

import os
import shutil
import stat
import subprocess
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from workshop.services import nightly
from workshop.services.copies import kept_copies

pytestmark = pytest.mark.skipif(os.name != "posix", reason="timers of Linux and its relatives")
SYSTEMCTL = """#!/bin/sh
echo "$@" >> "$HOME/said"
[ "$1" = enable-linger ] && exit {linger}
exit {code}
"""
CRONTAB = """#!/bin/sh
[ "$1" = -l ] && exec cat "$HOME/cron"
cat > "$HOME/cron"
"""


@pytest.fixture
def home(tmp_path, monkeypatch, settings):
    """A home of its own, and no programs but those that a test puts there."""
    settings.VAR_DIR = tmp_path / "var"
    (tmp_path / "bin").mkdir()
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("PATH", f"{tmp_path}/bin:/bin:/usr/bin")
    monkeypatch.setattr(nightly, "which", lambda name: shutil.which(name, path=f"{tmp_path}/bin"))
    return tmp_path


def put(home: Path, name: str, text: str, **words: int) -> None:
    path = home / "bin" / name
    path.write_text(text.format(**words) if words else text)
    path.chmod(0o755)


def units(home: Path) -> dict[str, str]:
    folder = home / ".config" / "systemd" / "user"
    return {path.suffix: path.read_text() for path in sorted(folder.glob("*"))}


def test_systemd_is_asked_for_a_timer_of_this_user(home, capsys):
    for name in ("systemctl", "loginctl"):
        put(home, name, SYSTEMCTL, code=0, linger=0)
    call_command("nightly_copies", at="03:30")
    said = capsys.readouterr().out
    assert "every night at 03:30, by systemd" in said and "waits" not in said
    assert "OnCalendar=*-*-* 03:30:00" in units(home)[".timer"]
    assert "Persistent=true" in units(home)[".timer"]
    assert f'ExecStart=/bin/sh "{home}/var/nightly-copy.sh"' in units(home)[".service"]
    told = (home / "said").read_text()
    assert "--user daemon-reload" in told and "--user enable --now strandwork-copy-" in told
    assert nightly.how_set_up() == "systemd"
    call_command("nightly_copies", off=True)
    assert units(home) == {} and nightly.how_set_up() is None
    assert "--user disable --now" in (home / "said").read_text()


def test_the_keeper_is_told_if_the_timer_rests_while_nobody_is_signed_in(home):
    for name in ("systemctl", "loginctl"):
        put(home, name, SYSTEMCTL, code=0, linger=1)
    assert "While nobody is signed in at this computer it waits." in nightly.turn_on()


def test_systemds_own_checker_takes_the_units(home):
    checker = shutil.which("systemd-analyze", path="/usr/bin:/bin")
    if checker is None:
        pytest.skip("systemd-analyze is missing")
    for name in ("systemctl", "loginctl"):
        put(home, name, SYSTEMCTL, code=0, linger=0)
    nightly.turn_on("02:15")
    folder = home / ".config" / "systemd" / "user"
    done = subprocess.run(
        [checker, "--user", "verify", *map(str, folder.glob("*.timer"))],
        capture_output=True, text=True, env={"HOME": str(home), "XDG_RUNTIME_DIR": str(home)},
        timeout=60, check=False,
    )  # fmt: skip
    assert str(folder) not in done.stderr, done.stderr


def test_without_systemd_a_line_of_cron_does_it_and_the_other_lines_stay(home):
    put(home, "crontab", CRONTAB)
    (home / "cron").write_text("5 4 * * 0 /usr/bin/water-the-plants\n")
    for at in ("02:00", "23:05"):  # again with another hour: still one line
        assert "by cron" in nightly.turn_on(at)
    first, ours = (home / "cron").read_text().splitlines()
    assert first == "5 4 * * 0 /usr/bin/water-the-plants"
    assert ours.startswith(f"5 23 * * * /bin/sh {home}/var/nightly-copy.sh # strandwork-copy-")
    assert nightly.how_set_up() == "cron"
    assert nightly.turn_off()
    assert (home / "cron").read_text() == "5 4 * * 0 /usr/bin/water-the-plants\n"
    assert not nightly.turn_off()


def test_where_there_is_no_timer_the_line_to_run_is_told_and_nothing_is_left(home):
    with pytest.raises(CommandError, match=r"Neither systemd.* backup"):
        call_command("nightly_copies")
    assert not (home / "var").exists()


def test_a_timer_that_systemd_refuses_leaves_nothing(home):
    put(home, "systemctl", '#!/bin/sh\n[ "$2" != enable ] || { echo "no bus" >&2; exit 1; }\n')
    with pytest.raises(CommandError, match="systemd refused the timer: no bus"):
        call_command("nightly_copies")
    assert units(home) == {} and nightly.how_set_up() is None


def test_an_hour_that_is_none_is_refused(home):
    put(home, "crontab", CRONTAB)
    with pytest.raises(CommandError, match="“25:00” is no time of day"):
        call_command("nightly_copies", at="25:00")


def test_opening_the_workshop_sets_it_up_or_says_how(home, capsys):
    from workshop.management.commands.serve_desk import Command

    put(home, "crontab", CRONTAB)
    Command().see_to_the_night(wanted=False)
    assert "manage.py open --nightly-copies" in capsys.readouterr().out
    Command().see_to_the_night(wanted=True)
    assert "every night at 02:00, by cron" in capsys.readouterr().out
    Command().see_to_the_night(wanted=False)
    assert capsys.readouterr().out == ""


@pytest.mark.slow
@pytest.mark.xdist_group("servers")
def test_what_runs_at_night_makes_a_copy_of_the_book_of_now(home, monkeypatch, tmp_path):
    """The very line of cron's, run by a shell that knows nothing of this machine's settings."""
    from tests.hard.server import Server, make_workshop

    book, copies = tmp_path / "it's a book.sqlite3", tmp_path / "copies % of it"
    make_workshop(Server(f"sqlite:///{book}", tmp_path))
    monkeypatch.setenv("DATABASE_URL", f"sqlite:///{book}")
    monkeypatch.setenv("COPIES_DIR", str(copies))
    put(home, "crontab", CRONTAB)
    nightly.turn_on()
    script = home / "var" / "nightly-copy.sh"
    assert stat.S_IMODE(script.stat().st_mode) == 0o700, "it may hold a password"
    line = (home / "cron").read_text().split("* * * ", 1)[1].replace(r"\%", "%")
    done = subprocess.run(
        ["/bin/sh", "-c", line], env={"HOME": str(home)}, capture_output=True, text=True,
        timeout=120, check=False,
    )  # fmt: skip
    assert done.returncode == 0, (home / "var" / "nightly-copy.log").read_text()
    assert len(kept_copies(copies)) == 1
    assert "made and read back" in (home / "var" / "nightly-copy.log").read_text()
