"""Hosts without machines: network namespaces joined by cables of their own (Linux, root).

Addresses are those kept for documentation (RFC 5737); nothing of it is seen from outside.
"""

import ctypes
import os
import shutil
import socket
import subprocess
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

CLONE_NEWNET = 0x40000000  # linux/sched.h


def cannot() -> str:
    """Why no namespaces can be made here, as a sentence; "" when they can."""
    if os.name != "posix" or os.geteuid() != 0:
        return "only root may make network namespaces"
    if shutil.which("ip") is None:
        return "the program ip is missing; run: apt-get install -y iproute2"
    name = f"sw-try-{uuid.uuid4().hex[:6]}"
    if _ip("netns", "add", name, check=False):
        return "this machine refuses to make network namespaces"
    _ip("netns", "del", name)
    return ""


def run_inside(namespace: str, *command: str) -> list[str]:
    """The command as it is started inside a namespace; as it stands where there is none."""
    return ["ip", "netns", "exec", namespace, *command] if namespace else list(command)


def connect_inside(namespace: str, address: tuple[str, int], timeout_s: float) -> socket.socket:
    """A socket that lives in a namespace, whoever uses it afterwards."""
    if not namespace:
        return socket.create_connection(address, timeout_s)
    with _standing_in(namespace):
        return socket.create_connection(address, timeout_s)


@contextmanager
def _standing_in(namespace: str) -> Iterator[None]:
    """This thread, and no other, looks at the network from inside a namespace (setns(2))."""
    libc = ctypes.CDLL(None, use_errno=True)
    with (
        open("/proc/thread-self/ns/net") as home,
        open(f"/run/netns/{namespace}") as there,
    ):
        if libc.setns(there.fileno(), CLONE_NEWNET):
            raise OSError(ctypes.get_errno(), f"setns {namespace}")
        try:
            yield
        finally:
            libc.setns(home.fileno(), CLONE_NEWNET)


@dataclass(frozen=True)
class Network:
    """A host for the database and two for the workshop, a cable from each of them to it."""

    database: str
    hosts: tuple[str, str]
    # The database's address as each host sees it.
    database_at: tuple[str, str] = ("192.0.2.1", "198.51.100.1")


@contextmanager
def three_hosts() -> Iterator[Network]:
    """Make the namespaces and the cables, and take them away again."""
    mark = uuid.uuid4().hex[:6]
    net = Network(f"sw-db-{mark}", (f"sw-a-{mark}", f"sw-b-{mark}"))
    try:
        for name in (net.database, *net.hosts):
            _ip("netns", "add", name)
            _ip("-n", name, "link", "set", "lo", "up")
        for number, (host, at) in enumerate(zip(net.hosts, net.database_at, strict=True)):
            there = f"host{number}"
            _ip("link", "add", "db", "netns", host, "type", "veth",
                "peer", "name", there, "netns", net.database)  # fmt: skip
            for name, end, address in (
                (net.database, there, at),
                (host, "db", at.rsplit(".", 1)[0] + ".2"),
            ):
                _ip("-n", name, "address", "add", f"{address}/30", "dev", end)
                _ip("-n", name, "link", "set", end, "up")
        yield net
    finally:
        for name in (net.database, *net.hosts):
            if Path("/run/netns", name).exists():
                _ip("netns", "del", name)


def _ip(*words: str, check: bool = True) -> int:
    done = subprocess.run(["ip", *words], capture_output=True, text=True, check=False)
    assert not check or done.returncode == 0, f"ip {' '.join(words)}: {done.stderr}"
    return done.returncode
