"""The container file and its compose file: read as their makers' tools read them, and followed.

No engine for containers runs in a test, so each step of the file is run in a folder that stands for
the image, with the programs of this machine; what the image starts is started as a user without
rights, over files of another's, and asked by the image's own health check.
"""

import json
import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from contextlib import suppress
from fnmatch import fnmatch
from pathlib import Path

import pytest
import yaml

from tests.hard.server import free_port
from tests.own_database import ROOT, drop_database, make_database, postgres_url

ROOM = ROOT / "workshop" / "container"
STEP = re.compile(
    r"(FROM|ENV|RUN|WORKDIR|COPY|USER|VOLUME|EXPOSE|HEALTHCHECK|CMD)\s+(.*)", re.DOTALL
)
NOBODY = "65534"
AS_NOBODY = ["setpriv", f"--reuid={NOBODY}", f"--regid={NOBODY}", "--clear-groups",
             "--no-new-privs", "--bounding-set=-all", "sh", "-c"]  # fmt: skip

# In the long run the packages are fetched, as in an image, for the machine's own Python.
LONG_RUN = bool(os.environ.get("FOLLOW_WITH_PIP"))
PYTHON = "/usr/bin/python3" if LONG_RUN else sys.executable


def steps() -> list[tuple[str, str]]:
    """The instructions of the container file, lines joined as its makers' tools join them."""
    text = (ROOM / "Containerfile").read_text(encoding="utf-8")
    kept = "\n".join(line for line in text.splitlines() if not line.startswith("#"))
    joined = re.sub(r"\\\n\s*", " ", kept)
    found = []
    for line in joined.splitlines():
        if line.strip():
            read = STEP.fullmatch(re.sub(r"\s+CMD python -c", " CMD python -c", line.strip()))
            assert read, line
            found.append((read[1], read[2]))
    return found


def compose() -> dict:
    return yaml.safe_load((ROOM / "compose.yaml").read_text(encoding="utf-8"))


def test_the_image_is_made_from_the_lock_and_runs_AS_NOBODY_in_particular():
    said = steps()
    order = [name for name, _words in said]
    runs = [words for name, words in said if name == "RUN"]
    assert any("pip install --require-hashes" in run and "requirements.lock" in run for run in runs)
    assert not any("pip install" in run and "requirements.lock" not in run for run in runs)
    (user,) = [words for name, words in said if name == "USER"]
    assert user.isdigit() and user != "0"
    assert order.index("USER") < order.index("CMD") and order.index("USER") < order.index(
        "HEALTHCHECK"
    )
    assert [words for name, words in said if name == "VOLUME"] == ["/srv/strandwork/copies"]


def test_nothing_of_one_machine_gets_into_the_image():
    left_out = (ROOM / "Containerfile.dockerignore").read_text().split()
    for name in (".env", "var", ".venv", ".git", "tests"):
        assert any(fnmatch(name, pattern) for pattern in left_out), name


def test_the_workshop_of_the_compose_file_is_read_only_but_for_one_volume():
    services = compose()["services"]
    workshop = services["workshop"]
    assert workshop["read_only"] is True
    assert workshop["volumes"] == ["copies:/srv/strandwork/copies"]
    assert workshop["cap_drop"] == ["ALL"] and "no-new-privileges:true" in workshop["security_opt"]
    assert (ROOM / workshop["build"]["context"]).resolve() == ROOT
    assert (ROOT / workshop["build"]["dockerfile"]) == ROOM / "Containerfile"
    assert (ROOM / workshop["env_file"]).resolve() == ROOT / ".env"
    # Only the web server is reached from outside.
    assert [name for name, each in services.items() if "ports" in each] == ["web"]
    assert set(compose()["volumes"]) == {"book", "copies", "certificates"}


def test_pg_dump_in_the_image_is_as_new_as_the_database_beside_it():
    (base,) = [words for name, words in steps() if name == "FROM"]
    # Debian 13 (trixie) brings PostgreSQL 17: Debian's package list, postgresql-client 17+278.
    assert base.endswith("-trixie")
    assert compose()["services"]["book"]["image"] == "postgres:17"


@pytest.mark.skipif(shutil.which("caddy") is None, reason="caddy is missing; install caddy")
def test_the_web_server_of_the_compose_file_reads_its_settings():
    named = compose()["services"]["web"]
    assert "./Caddyfile:/etc/caddy/Caddyfile:ro" in named["volumes"]
    done = subprocess.run(
        ["caddy", "adapt", "--config", str(ROOM / "Caddyfile"), "--adapter", "caddyfile"],
        env={**os.environ, "ALLOWED_HOSTS": "beads.example, www.beads.example"},
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    (route,) = json.loads(done.stdout)["apps"]["http"]["servers"]["srv0"]["routes"]
    assert route["match"] == [{"host": ["beads.example", "www.beads.example"]}]
    assert '"dial":"workshop:8000"' in done.stdout


@pytest.fixture
def image():
    """The steps of the file, followed; the folder that stands for the image, and its settings."""
    if subprocess.run([*AS_NOBODY, f"{PYTHON} -c 1"], capture_output=True).returncode:
        pytest.skip("this Python lies where only its own user may run it")
    if not postgres_url():
        pytest.skip("TEST_POSTGRES names no PostgreSQL server")
    private = os.umask(0o022)  # as root has it where an image is made
    try:
        with tempfile.TemporaryDirectory(prefix="strandwork-image-") as folder:
            yield follow_steps(Path(folder))
    finally:
        os.umask(private)


def follow_steps(tmp_path: Path):
    srv = tmp_path / "srv" / "strandwork"
    srv.mkdir(parents=True)
    environment = {
        "HOME": "/nonexistent",
        "LANG": "C.UTF-8",
        "PATH": f"{tmp_path}/bin:{os.environ['PATH']}",
    }
    (tmp_path / "bin").mkdir()
    for name, does in {"useradd": "exit 0", "apt-get": "exit 0", "install": INSTALL}.items():
        (tmp_path / "bin" / name).write_text(f"#!/usr/bin/env bash\n{does}\n")
        (tmp_path / "bin" / name).chmod(0o755)
    (tmp_path / "bin" / "python3").symlink_to(PYTHON)

    def here(words: str) -> str:
        return words.replace("/srv/strandwork", str(srv))

    for name, words in steps():
        if name == "WORKDIR":
            Path(here(words)).mkdir(parents=True, exist_ok=True)
        elif name == "ENV":
            for setting in re.findall(r"(\w+)=(\S+)", here(words)):
                environment[setting[0]] = setting[1].replace("$PATH", environment["PATH"])
        elif name == "COPY":
            copy_into(srv, *words.split()[:-1])
        elif name == "RUN":
            run = here(words).replace("&& rm -rf /var/lib/apt/lists/*", "")
            if "pip install" in run and not LONG_RUN:
                run = f"ln -s {sys.prefix} .venv"
            done = subprocess.run(
                ["sh", "-ec", run],
                cwd=srv,
                env=environment,
                capture_output=True,
                text=True,
                check=False,
            )
            assert done.returncode == 0, f"{run}\n{done.stderr[-2000:]}"
    # The way there is open, as in an image; what lies there has the rights that the steps gave it.
    tmp_path.chmod(0o755)
    (srv / "copies").chmod(0o777)
    return srv, environment, here


INSTALL = (
    'words=(); while (($#)); do case $1 in -o|-g) shift;; *) words+=("$1");; esac; shift; done; '
    'exec /usr/bin/install "${words[@]}"'
)


def copy_into(target: Path, *names: str) -> None:
    """What the version control keeps, less what the ignore file leaves out."""
    left_out = (ROOM / "Containerfile.dockerignore").read_text().split()
    listed = subprocess.run(
        ["git", "ls-files", "-co", "--exclude-standard"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    ).stdout.split("\n")
    for name in listed:
        wanted = names == (".",) or name in names
        if name and wanted and not any(fnmatch(name.split("/")[0], each) for each in left_out):
            (target / name).parent.mkdir(parents=True, exist_ok=True)
            if (ROOT / name).is_file():
                shutil.copy(ROOT / name, target / name)


@pytest.mark.slow
@pytest.mark.xdist_group("servers")
@pytest.mark.skipif(os.geteuid() != 0, reason="only root can start something as another user")
def test_what_the_image_starts_needs_no_rights_and_writes_only_into_its_volume(image, tmp_path):
    srv, environment, here = image
    port, url = free_port(), make_database()
    # As compose gives them: the settings of .env, the database, a folder in memory for what passes.
    passing = srv.parent / "passing"
    passing.mkdir()
    passing.chmod(0o1777)
    environment |= {"SECRET_KEY": "s" * 60, "ALLOWED_HOSTS": "beads.example", "PROXY_COUNT": "1",
                    "DATABASE_URL": url, "TMPDIR": str(passing)}  # fmt: skip
    said = dict(steps())
    command = here(said["CMD"]).replace("0.0.0.0:8000", f"127.0.0.1:{port}")
    with (tmp_path / "log").open("w") as log:
        started = subprocess.Popen(
            [*AS_NOBODY, command],
            cwd=srv,
            env=environment,
            stdout=log,
            stderr=log,
            start_new_session=True,
        )
    probe = said["HEALTHCHECK"].split("CMD ", 1)[1].replace(":8000", f":{port}")
    try:
        give_up_at = time.monotonic() + 170
        while subprocess.run(
            [*AS_NOBODY, probe], cwd=srv, env=environment, capture_output=True
        ).returncode:
            assert started.poll() is None and time.monotonic() < give_up_at, log_of(tmp_path)
            time.sleep(1)
        kept = subprocess.run(
            [*AS_NOBODY, "python manage.py backup"],
            cwd=srv,
            env=environment,
            capture_output=True,
            text=True,
        )
        assert "is made and read back" in kept.stdout, kept.stderr[-2000:]
        assert list((srv / "copies").glob("*.copy"))
        # Nothing at the start had to be written where nothing may be.
        assert not re.search(r"\bERROR\b|denied|[Rr]ead-only|Traceback", log_of(tmp_path))
    finally:
        with suppress(ProcessLookupError):
            os.killpg(started.pid, signal.SIGKILL)
        started.wait()
        drop_database(url)


def log_of(folder: Path) -> str:
    return (folder / "log").read_text()[-3000:]
