"""A PostgreSQL of a test's own, so that it may be stopped, restarted and watched."""

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.hard.namespaces import run_inside

LATE_S = 60


def program(name: str) -> str | None:
    """Where one of PostgreSQL's programs is; Debian keeps the server's beside each other."""
    kept = sorted(Path("/usr/lib/postgresql").glob(f"*/bin/{name}"))
    return shutil.which(name) or (str(kept[-1]) if kept else None)


class Cluster:
    """One server with its data in a folder; it keeps its word at every commit (fsync is on)."""

    def __init__(self, folder: Path, port: int, addresses: str, namespace: str) -> None:
        self.folder, self.port, self.namespace = folder, port, namespace
        self.options = f"-p {port} -h {addresses} -k {folder} -c max_connections=60"

    def control(self, *words: str) -> None:
        command = ["pg_ctl", "-D", str(self.folder / "data"), "-w", *words]
        done = self._run(*command, "-l", str(self.folder / "server.log"), "-o", self.options)
        assert done.returncode == 0, done.stdout + self.log()[-2000:]

    def start(self) -> None:
        self.control("start")

    def stop(self, how: str = "fast") -> None:
        self.control("stop", "-m", how)

    def restart_at_once(self) -> None:
        """As a crash: every process is gone at once, and what was acknowledged is in the log."""
        self.control("restart", "-m", "immediate")

    def log(self) -> str:
        path = self.folder / "server.log"
        return path.read_text(errors="replace") if path.exists() else ""

    def make_database(self, name: str, address: str) -> str:
        """A new database; its address for DATABASE_URL, the server standing at `address`."""
        done = self._run("createdb", "-h", str(self.folder), "-p", str(self.port),
                         "-U", "postgres", name)  # fmt: skip
        assert done.returncode == 0, done.stdout
        return f"postgresql://postgres@{address}:{self.port}/{name}"

    def _run(self, name: str, *words: str) -> subprocess.CompletedProcess:
        found = program(name)
        assert found is not None, f"{name} is missing"
        as_owner: list[str] = []
        if os.geteuid() == 0:
            # PostgreSQL refuses to run as root.
            as_owner = ["setpriv", "--reuid=postgres", "--regid=postgres", "--init-groups"]
        # The server must not hold this test's pipes open.
        with (self.folder / "command.log").open("w+") as said:
            done = subprocess.run(
                run_inside(self.namespace, *as_owner, found, *words),
                stdout=said, stderr=said, cwd=self.folder, check=False, timeout=LATE_S,
            )  # fmt: skip
            said.seek(0)
            done.stdout = said.read()
        return done


@contextmanager
def own_postgres(port: int, addresses: str = "127.0.0.1", namespace: str = "") -> Iterator[Cluster]:
    """A server on addresses of this machine, or of a namespace; gone afterwards with its data."""
    folder = Path(tempfile.mkdtemp(prefix="strandwork-pg-"))
    folder.chmod(0o755)
    if os.geteuid() == 0:
        shutil.chown(folder, "postgres")
    made = Cluster(folder, port, addresses, namespace)
    try:
        done = made._run("initdb", "-D", str(folder / "data"), "-A", "trust", "-U", "postgres",
                         "-E", "UTF8", "--locale=C.UTF-8", "-N")  # fmt: skip
        assert done.returncode == 0, done.stdout
        with (folder / "data" / "pg_hba.conf").open("a") as rules:
            for seen in ("192.0.2.0/30", "198.51.100.0/30"):
                rules.write(f"host all all {seen} trust\n")
        made.start()
        yield made
    finally:
        if (folder / "data" / "postmaster.pid").exists():
            made.stop("immediate")
        shutil.rmtree(folder, ignore_errors=True)
