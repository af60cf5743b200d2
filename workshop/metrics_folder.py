"""Where worker processes lay down their counts, so that any of them can tell of all.

Set before prometheus_client is first imported; it looks into the environment then.
"""

import os
import shutil
import tempfile
from pathlib import Path

NAME = "PROMETHEUS_MULTIPROC_DIR"
PREFIX = "strandwork-metrics-"


def share_counts() -> None:
    """Let all workers that this process forks count into one folder, a fresh one of their own."""
    if not os.environ.get(NAME):
        os.environ[NAME] = tempfile.mkdtemp(prefix=PREFIX)


def forget_counts() -> None:
    """Take the folder away again, if it is one of ours."""
    folder = Path(os.environ.get(NAME, ""))
    if folder.name.startswith(PREFIX):
        shutil.rmtree(folder, ignore_errors=True)
