"""`manage.py open` and `manage.py test` on machines that lack something."""

import ast
import errno
import hashlib
import os
import re
import shutil
import socket
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from workshop import machine, setting_up, virtual_environment
from workshop.machine import SetUpError
from workshop.virtual_environment import RUN_LOCK, TEST_LOCK, make_ready, read_stamp

ROOT = Path(__file__).resolve().parent.parent


# --- An old Python ---


def test_the_door_can_be_read_by_a_python_too_old_to_go_through():
    source = (ROOT / "manage.py").read_text()
    ast.parse(source, feature_version=(3, 7))
    assert "f'" not in source and 'f"' not in source


@pytest.mark.parametrize("version", [(2, 7, 18), (3, 8, 18), (3, 10, 13)])
def test_an_old_python_is_told_which_one_is_needed(version):
    pretend = f"import sys; sys.version_info = {version}; exec(open('manage.py').read())"
    done = subprocess.run(
        [sys.executable, "-c", pretend], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 1
    assert "needs Python 3.11 or newer, and this is Python " + ".".join(map(str, version)) in (
        done.stderr
    )
    assert "Traceback" not in done.stderr


# --- Ports and addresses ---


@pytest.fixture
def taken_port():
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        listener.listen(1)
        yield listener.getsockname()[1]


def test_a_taken_port_is_named_and_a_free_one_suggested(taken_port):
    with pytest.raises(SetUpError) as refused:
        machine.check_port("127.0.0.1", taken_port)
    sentence = str(refused.value)
    assert f"Port {taken_port} on 127.0.0.1 is already taken" in sentence
    suggested = int(re.search(r"open --port (\d+)", sentence)[1])
    assert suggested > taken_port
    machine.check_port("127.0.0.1", suggested)


def test_a_taken_port_stops_the_opening_before_anything_is_installed(
    taken_port, monkeypatch, capsys
):
    monkeypatch.setattr(virtual_environment, "make_ready", lambda *_: pytest.fail("installed"))
    assert setting_up.main(["manage.py", "open", "--port", str(taken_port)]) == 1
    assert "already taken" in capsys.readouterr().err


@pytest.mark.parametrize("port", [0, -1, 65536, 10**12])
def test_a_number_that_is_no_port_is_refused(port):
    with pytest.raises(SetUpError, match="is no port; choose one"):
        machine.check_port("127.0.0.1", port)


def test_a_port_of_the_computer_itself_is_refused_with_a_free_one(monkeypatch):
    def refuse_below_1024(host, port):
        return PermissionError(errno.EACCES, "Permission denied") if port < 1024 else None

    monkeypatch.setattr(machine, "_listening_error", refuse_below_1024)
    with pytest.raises(SetUpError, match="Port 80 is kept for .*--port 1024"):
        machine.check_port("127.0.0.1", 80)


def test_an_address_of_another_computer_cannot_be_listened_on():
    # 192.0.2.0/24 is set aside for examples (RFC 5737), so it is no machine's own.
    with pytest.raises(SetUpError, match="“192.0.2.1” is no address of this computer"):
        machine.check_port("192.0.2.1", 8000)


@pytest.mark.parametrize("host", ["0.0.0.0", "::", ""])
def test_every_address_at_once_is_refused(host):
    with pytest.raises(SetUpError, match="Give the one address"):
        machine.check_host(host)


# --- The libraries that print papers ---


def test_missing_pango_names_the_line_to_run_and_goes_on(monkeypatch, capsys):
    monkeypatch.setattr(machine, "_loads", lambda name: False)
    monkeypatch.setattr(machine, "may_install", lambda: False)
    monkeypatch.setattr(sys, "platform", "linux")
    assert machine.look_for_pango() is False
    said = capsys.readouterr().out
    assert (
        "run as root: apt-get update && apt-get install -y --no-install-recommends "
        "libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0" in said
    )


def test_only_the_missing_libraries_are_installed_when_apt_may(monkeypatch, capsys):
    here = {"libpango-1.0.so.0"}
    monkeypatch.setattr(machine, "_loads", lambda name: name in here)
    asked = []

    def install(packages, *, to):
        asked.extend(packages)
        here.update(machine.PANGO_PACKAGES.values())
        return True

    monkeypatch.setattr(machine, "apt_install", install)
    assert machine.look_for_pango() is True
    assert asked == ["libpangoft2-1.0-0", "libharfbuzz-subset0"]


def test_apt_that_refuses_leaves_the_line_to_run(monkeypatch, capsys):
    monkeypatch.setattr(machine, "_loads", lambda name: False)
    monkeypatch.setattr(machine, "may_install", lambda: True)
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.setattr(
        subprocess, "run", lambda *a, **k: subprocess.CompletedProcess(a, 100, "", "")
    )
    assert machine.look_for_pango() is False
    assert "Papers cannot be printed to PDF yet" in capsys.readouterr().out


def test_a_library_that_does_not_exist_does_not_load():
    assert machine._loads("libstrandwork-of-no-such-name.so.0") is False


# --- A folder that cannot be written to ---


def test_a_folder_that_cannot_be_written_to_is_named(tmp_path):
    in_the_way = tmp_path / "var"
    in_the_way.write_text("a file where the folder should be")
    with pytest.raises(SetUpError, match=re.escape(f"The folder {in_the_way} cannot be written")):
        machine.check_folder(in_the_way)


@pytest.fixture
def nobody_in_particular():
    """Root may write everywhere, so as root the test steps down to a user without rights."""
    if os.name == "posix" and os.geteuid() == 0:
        os.seteuid(65534)
        yield
        os.seteuid(0)
    else:
        yield


def test_a_read_only_folder_is_named(tmp_path, request):
    tmp_path.chmod(0o555)
    request.getfixturevalue("nobody_in_particular")
    with pytest.raises(SetUpError, match="cannot be written to"):
        machine.check_folder(tmp_path)


# --- The virtual environment, made for real from a lock of one small package ---


@pytest.fixture(scope="module")
def wheels(tmp_path_factory):
    """A folder with one tiny package that pip can install without any network."""
    folder = tmp_path_factory.mktemp("wheels")
    with zipfile.ZipFile(folder / "glassbead-1.0-py3-none-any.whl", "w") as wheel:
        wheel.writestr("glassbead.py", "COLOUR = 'amber'\n")
        inside = "glassbead-1.0.dist-info/"
        wheel.writestr(inside + "METADATA", "Metadata-Version: 2.1\nName: glassbead\nVersion: 1.0")
        wheel.writestr(inside + "WHEEL", "Wheel-Version: 1.0\nTag: py3-none-any\n")
        wheel.writestr(inside + "RECORD", "")
    return folder


def lock_line(wheels: Path, digest: str = "") -> str:
    wheel = next(wheels.iterdir())
    digest = digest or hashlib.sha256(wheel.read_bytes()).hexdigest()
    return f"glassbead==1.0 \\\n    --hash=sha256:{digest}\n"


@pytest.fixture
def clone(tmp_path, wheels, monkeypatch):
    """A folder that holds locks and nothing else, on a machine whose pip sees only `wheels`."""
    monkeypatch.delenv("STRANDWORK_VENV", raising=False)
    monkeypatch.setenv("PIP_CONFIG_FILE", os.devnull)
    monkeypatch.setenv("PIP_NO_INDEX", "1")
    monkeypatch.setenv("PIP_FIND_LINKS", str(wheels))
    (tmp_path / RUN_LOCK).write_text(lock_line(wheels))
    (tmp_path / TEST_LOCK).write_text(lock_line(wheels))
    return tmp_path


def what_the_bead_says(python: Path) -> str:
    done = subprocess.run(
        [python, "-c", "import glassbead; print(glassbead.COLOUR)"],
        capture_output=True,
        text=True,
        check=False,
    )
    return done.stdout.strip()


def test_setting_up_twice_installs_once(clone, capsys):
    python = make_ready(clone, RUN_LOCK)
    assert what_the_bead_says(python) == "amber"
    first = capsys.readouterr().out
    assert "Making a virtual environment" in first
    assert "Installing one package" in first

    assert make_ready(clone, RUN_LOCK) == python
    assert capsys.readouterr().out == ""

    # Another lock: what stands is mended, not made anew.
    (clone / RUN_LOCK).write_text("# newer\n" + (clone / RUN_LOCK).read_text())
    make_ready(clone, RUN_LOCK)
    again = capsys.readouterr().out
    assert "Installing" in again and "Making" not in again

    # The test lock brings the run-time packages too, so opening afterwards has nothing to do.
    make_ready(clone, TEST_LOCK)
    capsys.readouterr()
    make_ready(clone, RUN_LOCK)
    assert capsys.readouterr().out == ""


def test_a_half_made_environment_is_made_again(clone, capsys):
    half_made = clone / ".venv" / "bin"
    half_made.mkdir(parents=True)
    (half_made / "python").write_text("")
    python = make_ready(clone, RUN_LOCK)
    assert what_the_bead_says(python) == "amber"


def test_a_package_that_is_not_the_locked_one_is_refused(clone, wheels):
    (clone / RUN_LOCK).write_text(lock_line(wheels, digest="0" * 64))
    with pytest.raises(SetUpError, match="is not the one that the lock file was made with"):
        make_ready(clone, RUN_LOCK)
    assert read_stamp(clone / ".venv") == {}


def test_without_a_network_one_sentence_says_so_and_what_was_made_is_kept(clone, monkeypatch):
    with socket.socket() as nobody_listens:
        nobody_listens.bind(("127.0.0.1", 0))
        port = nobody_listens.getsockname()[1]
    monkeypatch.delenv("PIP_NO_INDEX")
    monkeypatch.delenv("PIP_FIND_LINKS")
    monkeypatch.setenv("PIP_INDEX_URL", f"http://127.0.0.1:{port}/simple")
    with pytest.raises(SetUpError) as refused:
        make_ready(clone, RUN_LOCK)
    assert "Connect this computer to the network" in str(refused.value)
    assert "\n" not in str(refused.value)
    assert read_stamp(clone / ".venv") == {}
    assert virtual_environment.python_of(clone / ".venv").exists()


def test_a_folder_that_is_no_environment_is_never_emptied(clone, monkeypatch):
    papers = clone / "papers"
    papers.mkdir()
    (papers / "invoice.pdf").write_text("a paper that must not be lost")
    monkeypatch.setenv("STRANDWORK_VENV", str(papers))
    with pytest.raises(SetUpError, match="holds something that is no virtual environment"):
        make_ready(clone, RUN_LOCK)
    assert (papers / "invoice.pdf").exists()


def test_python_without_ensurepip_names_the_debian_package(clone, monkeypatch):
    monkeypatch.setattr(virtual_environment.importlib.util, "find_spec", lambda name: None)
    monkeypatch.setattr(virtual_environment, "apt_install", lambda packages, *, to: False)
    with pytest.raises(
        SetUpError, match="Run this as root, .*: apt-get update && apt-get install .* python3-venv"
    ):
        make_ready(clone, RUN_LOCK)


@pytest.mark.parametrize(
    ("pip_said", "sentence"),
    [
        ("OSError: [Errno 28] No space left on device", "The disk is full"),
        ("ERROR: [Errno 13] Permission denied: '.venv/lib'", "cannot be written to by this user"),
        ("socket.gaierror: Temporary failure in name resolution", "Connect this computer"),
    ],
)
def test_the_usual_troubles_of_pip_are_told_in_plain_words(pip_said, sentence):
    assert sentence in virtual_environment._explain(pip_said)


def test_an_unusual_trouble_is_kept_whole_in_a_file(tmp_path):
    sentence = virtual_environment._last_words(tmp_path, "first line\nERROR: the kiln is cold.\n")
    assert sentence.startswith("The packages could not be installed: the kiln is cold.")
    assert (tmp_path / "var" / "setting_up.log").read_text().startswith("first line")


# --- Other commands ---


def run_manage(folder: Path, *arguments: str, **environment: str) -> subprocess.CompletedProcess:
    return subprocess.run(
        [sys.executable, "-S", str(folder / "manage.py"), *arguments],
        capture_output=True,
        text=True,
        check=False,
        env={"PATH": os.environ["PATH"], **environment},
    )


@pytest.fixture
def bare_clone(tmp_path):
    """The door and what it needs before anything is installed."""
    (tmp_path / "workshop").mkdir()
    shutil.copy(ROOT / "manage.py", tmp_path)
    for name in ("__init__", "setting_up", "books", "machine", "virtual_environment"):
        shutil.copy(ROOT / "workshop" / f"{name}.py", tmp_path / "workshop")
    return tmp_path


def test_before_setting_up_other_commands_say_what_to_run_first(bare_clone):
    # -S: no packages in sight, as on a fresh machine.
    done = run_manage(bare_clone, "cost", "214", "--json")
    assert done.returncode == 1
    assert done.stderr.strip() == ("Strandwork is not set up here yet; run: python3 manage.py open")
    assert done.stdout == ""


def test_no_command_at_all_shows_the_two_commands(bare_clone):
    done = run_manage(bare_clone)
    assert done.returncode == 0
    assert "manage.py open" in done.stdout and "manage.py test" in done.stdout


def test_a_bad_setting_stops_the_start_with_its_own_sentence(tmp_path):
    done = subprocess.run(
        [sys.executable, str(ROOT / "manage.py"), "check"],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "STRANDWORK_VENV": sys.prefix, "DEBUG": "perhaps"},
    )
    assert done.returncode == 1
    assert done.stderr.strip().endswith("DEBUG is “perhaps”; write yes or no.")
    assert "Traceback" not in done.stderr
