"""Gunicorn as one workshop's desk needs it: a few workers, no files outside the workshop."""

import os
import sys
import time
from collections.abc import Callable
from typing import Any

from django.core.wsgi import get_wsgi_application
from gunicorn.app.base import BaseApplication

from workshop.metrics_folder import forget_counts, share_counts

# Threads, because a browser opens connections ahead of need and each would hold a whole worker.
WORKERS, THREADS = 2, 4


# Ctrl-C is answered within a second; who is being served just then gets this long.
LAST_ANSWERS_S = 0.6


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


def serve(
    bind: str, *, when_open: Callable[[], None], when_closed: Callable[[], None] = lambda: None
) -> None:
    """Serve on `bind`; connections are accepted once `when_open` runs. Returns by SystemExit."""
    share_counts()
    sys.argv = sys.argv[:1]  # gunicorn would read our own arguments as its own
    answering = Answering()

    def closed(server: Any) -> None:
        forget_counts()
        when_closed()

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
            "pre_request": answering.begun,
            "post_request": answering.done,
            "worker_int": answering.finish,
            "on_exit": closed,
            "when_ready": lambda server: when_open(),
        }
    ).run()


class Answering:
    """How many requests this worker is answering; each worker has its own after the fork."""

    def __init__(self) -> None:
        self.now: set[int] = set()

    def begun(self, worker: Any, request: Any) -> None:
        self.now.add(id(request))

    def done(self, worker: Any, request: Any, environ: Any, answer: Any) -> None:
        self.now.discard(id(request))

    def finish(self, worker: Any) -> None:
        """Let the last answers out, then go at once.

        Left alone, the threads would wait for connections that a browser holds open without asking
        anything, until the master kills the worker and blames the memory for it.
        """
        until = time.monotonic() + LAST_ANSWERS_S
        while self.now and time.monotonic() < until:
            time.sleep(0.02)
        os._exit(0)
