"""The page of the server, `workshop/deploy.md`, as commands run in a folder of a test's own.

Only what one machine cannot lend to a test is stood in for: the package manager, new users and
systemd are noted down, folders of the machine lie under the test's folder, ports are free ones.
"""

import os
import re
import shlex
import shutil
import signal
import subprocess
import sys
import textwrap
from contextlib import suppress
from pathlib import Path

from tests.patience import PATIENCE_S

ROOT = Path(__file__).resolve().parent.parent.parent
PAGE = ROOT / "workshop" / "deploy.md"
NAME = "beads.example"


def sections(text: str) -> dict[str, list[str]]:
    """The indented blocks under each heading."""
    return {
        part.split("\n")[0].lstrip("# "): [
            textwrap.dedent(block).strip() + "\n"
            for block in re.findall(r"(?:^    .*\n|^\n(?=    ))+", part, re.MULTILINE)
            if block.strip()
        ]
        for part in re.split(r"\n(?=#+ )", text)
    }


# Each stands in for a program that a test may not run on this machine; all are noted down.
STAND_INS = {
    "apt-get": "",
    "adduser": "",
    "chown": "",
    "systemctl": "",
    # The user's name is given to PostgreSQL, which in this test asks for no more.
    "runuser": 'user=$2; shift 3; export PGUSER=$user; exec "$@"',
    "install": (
        'words=(); while (($#)); do case $1 in -o|-g) shift;; *) words+=("$1");; esac; shift; '
        'done; exec /usr/bin/install "${words[@]}"'
    ),
    "nginx": 'exec "$REAL_NGINX" -p "$MACHINE" -c "$MACHINE/nginx.conf" "$@"',
}
# nginx's own main file, as Debian's package lays it down, but for what wants a machine of its own.
NGINX_MAIN = """\
{user}
pid {machine}/nginx.pid;
error_log {machine}/nginx.log warn;
events {{ worker_connections 768; }}
http {{
    access_log {machine}/access.log;
    client_body_temp_path {machine}/body;
    proxy_temp_path {machine}/proxy;
    fastcgi_temp_path {machine}/fastcgi;
    uwsgi_temp_path {machine}/uwsgi;
    scgi_temp_path {machine}/scgi;
    default_type application/octet-stream;
    include {machine}/etc/nginx/sites-enabled/*;
}}
"""


class Machine:
    """A folder that stands for an empty machine."""

    def __init__(self, folder: Path, *, postgres: tuple[Path, int], ports: dict[int, int]) -> None:
        self.folder, self.ports = folder, ports
        self.processes: list[subprocess.Popen] = []
        self.notes = folder / "notes"
        self.notes.touch()
        for name in ("bin", "srv", *(f"etc/{part}" for part in (
            "systemd/system", "nginx/sites-available", "nginx/sites-enabled", "caddy",
            "ssl/private", "ssl/certs"))):  # fmt: skip
            (folder / name).mkdir(parents=True)
        for name, does in STAND_INS.items():
            path = folder / "bin" / name
            note = f'echo {name} "$*" >> {shlex.quote(str(self.notes))}'
            path.write_text(f"#!/usr/bin/env bash\n{note}\n{does or 'exit 0'}\n")
            path.chmod(0o755)
        (folder / "bin" / "python3").symlink_to(sys.executable)
        # The test's folder is closed to nginx's usual user.
        user = "user root;" if os.geteuid() == 0 else ""
        (folder / "nginx.conf").write_text(NGINX_MAIN.format(machine=folder, user=user))
        left_out = re.compile(
            "DATABASE_URL|SECRET_KEY|STRANDWORK_.*|ALLOWED_HOSTS|DJANGO_.*|PG.*|COPIES_.*"
        )
        self.environment = {
            **{name: value for name, value in os.environ.items() if not left_out.fullmatch(name)},
            "PATH": f"{folder / 'bin'}:{os.environ['PATH']}",
            "MACHINE": str(folder),
            "REAL_NGINX": shutil.which("nginx") or "",
            "PGHOST": str(postgres[0]),
            "PGPORT": str(postgres[1]),
            "SSL_CERT_FILE": str(folder / "etc/ssl/certs/strandwork.pem"),
        }

    def here(self, text: str) -> str:
        """The page's words with this machine's folders, ports and name in them."""
        for place in ("/srv/strandwork", "/etc/systemd", "/etc/nginx", "/etc/caddy", "/etc/ssl"):
            text = text.replace(place, f"{self.folder}{place}")
        text = text.replace("127.0.0.1:8000", f"127.0.0.1:{self.ports[8000]}")
        text = re.sub(r"listen (80|443)\b", lambda m: f"listen {self.ports[int(m[1])]}", text)
        text = text.replace(NAME, "localhost")
        return text.replace("THE-ADDRESS-OF-STRANDWORK", str(ROOT))

    def run(self, commands: str, **more: str) -> str:
        """Run a block of the page; what it said."""
        done = subprocess.run(
            ["bash", "-euo", "pipefail", "-c", self.here(commands)],
            cwd=self.folder, env={**self.environment, **more}, capture_output=True, text=True,
            timeout=300, check=False,
        )  # fmt: skip
        assert done.returncode == 0, f"{commands}\n{done.stdout[-2000:]}\n{done.stderr[-3000:]}"
        return done.stdout + done.stderr

    def noted(self, words: str) -> bool:
        return words in self.notes.read_text()

    def start_unit(self, name: str) -> subprocess.Popen:
        """What systemd would run for a unit, in its folder; without the shell's own settings."""
        unit = dict(
            line.split("=", 1)
            for line in (self.folder / "etc/systemd/system" / name).read_text().splitlines()
            if "=" in line
        )
        with (self.folder / f"{name}.log").open("ab") as log:
            made = subprocess.Popen(
                shlex.split(unit["ExecStart"]), cwd=unit["WorkingDirectory"],
                # PostgreSQL knows the unit's user by its name only, for a test makes no users. A
                # home that is there and can never be written, as of a user of the system's.
                env={**self.environment, "PGUSER": unit["User"], "HOME": "/proc"},
                stdout=log, stderr=log, start_new_session=True,
            )  # fmt: skip
        self.processes.append(made)
        return made

    def start(self, *words: str) -> subprocess.Popen:
        with (self.folder / "programs.log").open("ab") as log:
            made = subprocess.Popen(
                words, cwd=self.folder, env=self.environment, stdout=log, stderr=log,
                start_new_session=True,
            )  # fmt: skip
        self.processes.append(made)
        return made

    def start_web(self) -> None:
        self.web = self.start(str(self.folder / "bin/nginx"), "-g", "daemon off;")

    def reload_web(self) -> None:
        """As `systemctl reload nginx`, but sure that the old settings are gone."""
        self.stop(self.web)
        self.start_web()

    def stop(self, process: subprocess.Popen) -> None:
        with suppress(ProcessLookupError):
            process.send_signal(signal.SIGTERM)
        process.wait(timeout=PATIENCE_S)
        self.processes.remove(process)

    def close(self) -> None:
        for process in list(self.processes):
            with suppress(ProcessLookupError):
                os.killpg(process.pid, signal.SIGKILL)
            process.wait(timeout=PATIENCE_S)
