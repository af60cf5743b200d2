"""Gunicorn as one workshop's desk needs it: a few workers, no files outside the workshop."""

import signal
import sys
from collections.abc import Callable
from typing import Any

from django.core.wsgi import get_wsgi_application
from gunicorn.app.base import BaseApplication

from workshop.metrics_folder import forget_counts, share_counts
from workshop.patient_server import SERVING

# Few, for a desk has few cores; a worker more than one, so that a long act holds up nobody.
WORKERS, THREADS = 2, 4


class DeskServer(BaseApplication):
    """Serve the workshop on one address until Ctrl-C, or until its terminal is closed."""

    def __init__(self, options: dict[str, Any]) -> None:
        self.options = options
        super().__init__()

    def load_config(self) -> None:
        for name, value in self.options.items():
            self.cfg.set(name, value)

    def load(self) -> Callable:
        return get_wsgi_application()


def serve(
    bind: list[str],
    *,
    when_open: Callable[[], None],
    when_closed: Callable[[], None] = lambda: None,
    worker: str = SERVING["worker_class"],
) -> None:
    """Serve on `bind`; connections are accepted once `when_open` runs. Returns by SystemExit."""
    share_counts()
    sys.argv = sys.argv[:1]  # gunicorn would read our own arguments as its own

    # Under nohup a desk outlives its terminal, as whoever started it so wished.
    outlives = signal.getsignal(signal.SIGHUP) == signal.SIG_IGN

    def opened(server: Any) -> None:
        signal.signal(signal.SIGHUP, signal.SIG_IGN if outlives else lambda *_: close(server))
        when_open()

    def close(server: Any) -> None:
        """A terminal that is closed closes its desk; gunicorn would start it anew."""
        server.signal(signal.SIGINT, None)

    def closed(server: Any) -> None:
        forget_counts()
        when_closed()

    DeskServer(
        {
            "bind": bind,
            "workers": WORKERS,
            "threads": THREADS,
            **SERVING,
            "worker_class": worker,
            "loglevel": "error",
            "on_exit": closed,
            "when_ready": opened,
        }
    ).run()
