"""How requests are taken in: patiently, and each kind of work in a lane of its own.

Gunicorn's master keeps the workers alive; in each of them waitress reads every request to its last
byte before a thread is asked for. So a slow or silent client costs an open socket, never a thread.
"""

import gc
import os
import signal
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from django.urls import reverse
from gunicorn.workers.base import Worker
from waitress import wasyncore
from waitress.adjustments import Adjustments
from waitress.channel import HTTPChannel
from waitress.server import TcpWSGIServer
from waitress.task import ThreadedTaskDispatcher
from waitress.utilities import Error

# A whole request, and an open connection without one. A sheet of 5 MB comes in 120 s at 340 kbit/s.
LONGEST_REQUEST_S, LONGEST_SILENCE_S = 120, 60
LOOK_AROUND_S = 5
CONNECTIONS = 800  # of each worker; the usual limit of open files is 1,024
# What the pages promise to take of a sheet; a form's other boxes come on top.
PROMISED_BYTES = 5 << 20
LARGEST_BODY_BYTES = 2 * PROMISED_BYTES
# Hashing a password takes much memory on purpose, so one at a time; this many may wait for it.
WAITING_SIGN_INS = 12
# Ctrl-C is answered within a second; who is being served just then gets this long.
LAST_ANSWERS_S = 0.6
LOOKS, ACTS, SIGN_INS = "looks", "acts", "sign-ins"

# What gunicorn is told, at the desk and on a server.
SERVING: dict[str, Any] = {
    "worker_class": "workshop.patient_server.PatientWorker",
    "preload_app": True,
    "timeout": 60,
    "graceful_timeout": 5,
    # A socket to steer it by would lie in somebody's home folder; nobody here uses it.
    "control_socket_disable": True,
}
if Path("/dev/shm").is_dir():  # noqa: S108
    # The workers' signs of life, which a slow or read-only disk must not hold up.
    SERVING["worker_tmp_dir"] = "/dev/shm"  # noqa: S108


class Busy(Error):
    """Too many wait already."""

    code, reason = 503, "Service Unavailable"


class Lanes:
    """Threads that look, threads that act, and one for signing in; none waits for another lane's.

    Whoever looks at a page does not wait behind forms that wait for the book to be free, and a
    crowd that signs in holds up nobody else.
    """

    def __init__(self, threads: int, sign_in: str) -> None:
        self.sign_in = sign_in
        self.lanes = {kind: ThreadedTaskDispatcher() for kind in (LOOKS, ACTS, SIGN_INS)}
        for kind, lane in self.lanes.items():
            lane.set_thread_count(1 if kind == SIGN_INS else threads)

    def add_task(self, channel: Any) -> None:
        request = channel.requests[0]
        kind = self.kind_of(request)
        lane = self.lanes[kind]
        if kind == SIGN_INS and len(lane.queue) >= WAITING_SIGN_INS:
            request.error = Busy("Many are signing in at this moment. Try again in a few seconds.")
            lane = self.lanes[LOOKS]
        lane.add_task(channel)

    def kind_of(self, request: Any) -> str:
        if request.error or request.command in {"GET", "HEAD"}:
            return LOOKS
        return SIGN_INS if request.path == self.sign_in else ACTS


class Channel(HTTPChannel):
    """A connection that knows since when its request has been coming in."""

    asked_since = 0.0

    def received(self, data: bytes) -> bool:
        if self.request is None:
            self.asked_since = time.time()
        return super().received(data)

    @property
    def is_busy(self) -> bool:
        return bool(self.requests or self.total_outbufs_len)


class PatientServer(TcpWSGIServer):
    """Waitress's own, which also lets go of whoever sends for ever."""

    channel_class = Channel

    def maintenance(self, now: float) -> None:
        super().maintenance(now)
        for channel in self.active_channels.values():
            if channel.request is not None and now - channel.asked_since > LONGEST_REQUEST_S:
                channel.will_close = True


class PatientWorker(Worker):
    """A gunicorn worker that is waitress inside."""

    # Those that gunicorn sets back first: never SIGHUP, not even for a moment.
    SIGNALS = [each for each in Worker.SIGNALS if each != signal.SIGHUP]
    servers: list[PatientServer]
    last_answers_s: float

    def run(self) -> None:
        doors: dict[int, Any] = {}
        lanes = Lanes(self.cfg.threads, reverse("workshop:sign_in"))
        self.last_answers_s = self.cfg.graceful_timeout
        # What was read to start with stays: the collector need not walk through it ever again.
        gc.freeze()
        self.servers = [self._server(each.sock, doors, lanes) for each in self.sockets]
        # A master that was killed frees its port within a second: its workers go with it.
        while self.alive and self.ppid == os.getppid():
            self.notify()
            wasyncore.loop(timeout=1, use_poll=True, map=doors, count=1)
        for server in self.servers:
            server.accepting = False
            server.socket.close()
        began = time.monotonic()
        while time.monotonic() - began < self.last_answers_s and self._is_busy():
            self.notify()
            wasyncore.loop(timeout=0.1, use_poll=True, map=doors, count=1)
        # Python would tidy up for seconds what the machine takes back at once.
        os._exit(0)

    def init_signals(self) -> None:
        # A closing terminal tells the workers as well; the master alone says what they do.
        signal.signal(signal.SIGHUP, signal.SIG_IGN)
        super().init_signals()

    def handle_exit(self, sig: Any, frame: Any) -> None:
        """SIGTERM: no more comes in, and what is being answered is answered."""
        self.alive = False
        self._wake()

    def handle_quit(self, sig: Any, frame: Any) -> None:
        """Ctrl-C: the same, sooner."""
        self.last_answers_s = LAST_ANSWERS_S
        self.handle_exit(sig, frame)

    def _wake(self) -> None:
        for server in getattr(self, "servers", []):
            server.pull_trigger()

    def _is_busy(self) -> bool:
        channels = (each for server in self.servers for each in server.active_channels.values())
        return any(channel.is_busy for channel in channels)

    def _server(
        self,
        sock: Any,
        doors: dict,
        lanes: Lanes,
        kind: type[PatientServer] = PatientServer,
        app: Callable | None = None,
        **more: Any,
    ) -> PatientServer:
        told = Adjustments(
            sockets=[sock],
            # Django itself judges by PROXY_COUNT what a proxy has said.
            clear_untrusted_proxy_headers=False,
            connection_limit=CONNECTIONS,
            cleanup_interval=LOOK_AROUND_S,
            channel_timeout=LONGEST_SILENCE_S,
            **{
                "max_request_body_size": LARGEST_BODY_BYTES,
                "max_request_header_size": 64 << 10,
                **more,
            },
            log_socket_errors=False,
            ident=None,
        )
        where = (sock.family, sock.type, sock.proto, sock.getsockname())
        return kind(
            app or self.wsgi,
            doors,
            True,
            sock,
            dispatcher=lanes,
            adj=told,
            bind_socket=False,
            sockinfo=where,
        )
