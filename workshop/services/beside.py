"""Commands of ours that go on beside the web workers, in a process that is nobody's child.

What it does is asked for by a row of the database and told there: it goes on when the server is
started anew, nobody has to collect it when it ends, and no broker stands between.
"""

import subprocess
import sys

from django.conf import settings

# A process between, so that the other is nobody's child: this one ends at once.
LET_GO = """
import subprocess, sys
quiet = dict.fromkeys(("stdin", "stdout", "stderr"), subprocess.DEVNULL)
subprocess.Popen(sys.argv[1:], start_new_session=True, **quiet)
"""


def start_beside(*words: str) -> bool:
    """Start one of our commands and let it go; False where this machine cannot."""
    command = [sys.executable, "-m", "django", *words]
    try:
        subprocess.run(
            [sys.executable, "-c", LET_GO, *command], cwd=settings.BASE_DIR, check=True, timeout=20
        )
    except (OSError, subprocess.SubprocessError):
        return False
    return True
