"""Tell the local network the desk's name (multicast DNS, RFC 6762) for as long as it is open.

A process of its own, `python -m workshop.phone_door.announce NAME PORT`: the server forks its
workers, and a thread that speaks with the network would not survive that.
"""

import contextlib
import os
import signal
import subprocess
import sys
import time

from workshop.phone_door.network import own_addresses

LOOK_EVERY_S = 10


def begin(host: str, port: int) -> subprocess.Popen:
    """Start telling; `terminate()` ends it, and it ends by itself with the desk."""
    return subprocess.Popen(  # our own module, with our own words
        [sys.executable, "-m", __name__, host, str(port)],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )


def tell(host: str, port: int) -> None:
    """Answer who asks for `host` with the addresses of now, until the desk is gone."""
    from zeroconf import ServiceInfo, Zeroconf

    def told(addresses: list[str]) -> ServiceInfo:
        name = host.removesuffix(".local")
        kind = "_https._tcp.local."
        return ServiceInfo(
            kind, f"{name}.{kind}", port=port, server=f"{host}.", parsed_addresses=addresses
        )

    desk, addresses = os.getppid(), own_addresses()
    with contextlib.closing(Zeroconf(interfaces=addresses)) as network:
        network.register_service(told(addresses))
        while os.getppid() == desk and own_addresses() == addresses:
            time.sleep(LOOK_EVERY_S)


def main() -> None:
    signal.signal(signal.SIGTERM, lambda *_: sys.exit())
    signal.signal(signal.SIGINT, lambda *_: sys.exit())
    host, port, desk = sys.argv[1], int(sys.argv[2]), os.getppid()
    while os.getppid() == desk:
        # No network just now, or none that lets itself be told: the address is on the code too.
        with contextlib.suppress(OSError):
            if own_addresses():
                tell(host, port)
        time.sleep(LOOK_EVERY_S)


if __name__ == "__main__":
    main()
