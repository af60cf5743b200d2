"""Time limits that mean the same on a busy machine as on a quiet one."""

import time

# Only what hangs is waited for so long; how long a busy machine takes is not asked.
PATIENCE_S = 300
TRIAL_S = 0.1


def on_this_machine(seconds: float) -> float:
    """A limit on the clock, longer by as much as others keep this machine busy just now.

    A tenth of a second of work is done, and how long it took tells what a limit of a quiet machine
    means here.
    """
    began, worked = time.monotonic(), time.thread_time()
    while time.thread_time() - worked < TRIAL_S:
        pass
    return seconds * max(1.0, (time.monotonic() - began) / TRIAL_S)
