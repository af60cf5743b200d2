"""Gunicorn as one workshop's desk needs it: a few workers, no files outside the workshop."""

import sys
from collections.abc import Callable
from typing import Any

from django.core.wsgi import get_wsgi_application
from gunicorn.app.base import BaseApplication

from workshop.metrics_folder import forget_counts, share_counts

# Threads, because a browser opens connections ahead of need and each would hold a whole worker.
WORKERS, THREADS = 2, 4


class DeskServer(BaseApplication):
    """Serve the workshop on one address until Ctrl-C."""

    def __init__(self, options: dict[str, Any]) -> None:
        self.options = options
        super().__init__()

    def load_config(self) -> None:
        for name, value in self.options.items():
            self.cfg.set(name, value)

    def load(self) -> Callable:
        return get_wsgi_application()


def serve(bind: str, *, when_open: Callable[[], None]) -> None:
    """Serve on `bind`, calling `when_open` once connections are accepted; returns by SystemExit."""
    share_counts()
    sys.argv = sys.argv[:1]  # gunicorn would read our own arguments as its own
    DeskServer(
        {
            "bind": bind,
            "workers": WORKERS,
            "threads": THREADS,
            "worker_class": "gthread",
            "preload_app": True,
            "timeout": 60,
            "graceful_timeout": 5,
            "loglevel": "error",
            "control_socket_disable": True,
            "on_exit": lambda server: forget_counts(),
            "when_ready": lambda server: when_open(),
        }
    ).run()
