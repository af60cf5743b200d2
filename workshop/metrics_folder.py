"""Where worker processes lay down their counts, so that any of them can tell of all.

Set before prometheus_client is first imported; it looks into the environment then.
"""

import os
import re
import shutil
import tempfile
from pathlib import Path

NAME = "PROMETHEUS_MULTIPROC_DIR"
OURS = re.compile(r"strandwork-metrics-(\d+)-")
# The counts are mapped into memory: on a disk that fills up, a write would end the worker.
IN_MEMORY = Path("/dev/shm")  # noqa: S108


def share_counts() -> None:
    """Let all workers that this process forks count into one folder, a fresh one of their own."""
    if os.environ.get(NAME):
        return
    in_memory = IN_MEMORY.is_dir() and os.access(IN_MEMORY, os.W_OK)
    home = IN_MEMORY if in_memory else Path(tempfile.gettempdir())
    for left in home.glob("strandwork-metrics-*"):
        found = OURS.match(left.name)
        if found and not _is_alive(int(found[1])):
            shutil.rmtree(left, ignore_errors=True)
    os.environ[NAME] = tempfile.mkdtemp(prefix=f"strandwork-metrics-{os.getpid()}-", dir=home)


def forget_counts() -> None:
    """Take the folder away again, if it is one of ours."""
    folder = Path(os.environ.get(NAME, ""))
    if OURS.match(folder.name):
        shutil.rmtree(folder, ignore_errors=True)
        del os.environ[NAME]  # or a desk that opens again would count into what is gone


def _is_alive(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except OSError:
        pass
    return True
