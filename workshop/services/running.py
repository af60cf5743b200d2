"""Commands of ours on another book, in a process of their own."""

import os
import subprocess
import sys

from django.conf import settings
from django.utils.translation import gettext as _

from workshop.services.copy_file import CopyRefused

LONGEST_S = 3600


def run_manage(*words: str, **environment: str) -> str:
    """Run a command of ours with other settings; what it said. Raises CopyRefused if it fails."""
    done = subprocess.run(
        [sys.executable, "-m", "django", *words],
        cwd=settings.BASE_DIR,
        env={**os.environ, "DJANGO_SETTINGS_MODULE": "workshop.settings", **environment},
        capture_output=True, text=True, check=False, timeout=LONGEST_S,
    )  # fmt: skip
    if done.returncode:
        why = (done.stderr.strip().splitlines() or ["?"])[-1]
        raise CopyRefused(why.removeprefix("CommandError: ") or _("It could not be restored."))
    return done.stdout
